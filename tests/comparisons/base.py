"""Comparisons with outside values: points of one table, in their printed unit, and what is allowed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

from published_tables import PublishedTable, read_table


@dataclass(frozen=True)
class Point:
    """One outside value and what the library gives for it.

    Parameters
    ----------
    label : str
        What it is of: a substance, a test, a quantity. Points of one label belong to one line of a page.
    published, ours : float
        In the unit of the comparison.
    allowed : float
        Largest difference that counts as agreement; NaN where only bias and scatter are judged.
    at : str
        Where on the label's curve: a temperature, a distance.
    upper : float, optional
        The other end of a published range; `published` is then its lower end.
    disagrees : bool
        Known to lie outside; the table's header says why.
    """

    label: str
    published: float
    ours: float
    allowed: float
    at: str = ""
    upper: float | None = None
    disagrees: bool = False

    @property
    def nearest(self) -> float:
        """The published value, or the end of the published range that is nearer to ours, or ours inside."""
        if self.upper is None:
            return self.published
        return min(max(self.ours, self.published), self.upper)

    @property
    def difference(self) -> float:
        """Ours less the published."""
        return self.ours - self.nearest

    @property
    def agrees(self) -> bool:
        """Whether the difference is allowed; true where nothing is asked."""
        return math.isnan(self.allowed) or abs(self.difference) <= self.allowed

    @property
    def share(self) -> float:
        """Difference as a share of what is allowed; NaN where nothing is asked."""
        if self.difference == 0.0:
            return 0.0
        return abs(self.difference) / self.allowed if self.allowed != 0.0 else math.inf


@dataclass(frozen=True)
class Comparison:
    """The values of one quantity in one table of ``tests/published``, and how the library finds them.

    Parameters
    ----------
    table : str
        Name of the table.
    topic, quantity, unit : str
        Chapter of the documentation; what is compared; the printed unit.
    served_by : str
        The function that answers, as one would import it below ``lpgrelease``.
    find : callable
        Returns the points of the table's rows.
    kind : str
        ``printed``, ``measured``, ``computed`` by another program, or ``repeated``: the library holds
        the table itself, and all that is judged is that it was copied and is read right.
    """

    table: str
    topic: str
    quantity: str
    unit: str
    served_by: str
    find: Callable[[PublishedTable], Iterable[Point]]
    kind: str = "printed"

    @cached_property
    def source(self) -> PublishedTable:
        """The table as printed."""
        return read_table(self.table)

    @cached_property
    def points(self) -> tuple[Point, ...]:
        """The points, computed once."""
        return tuple(self.find(self.source))

    @property
    def name(self) -> str:
        """Table and quantity."""
        return f"{self.table}: {self.quantity}"


def bias_and_scatter(points: Iterable[Point]) -> tuple[float, float, float]:
    """Geometric mean of ours over published, its scatter as a factor, the share within a factor of two."""
    logs = [math.log(p.ours / p.published) for p in points]
    mean = math.fsum(logs) / len(logs)
    spread = math.sqrt(math.fsum((x - mean) ** 2 for x in logs) / len(logs))
    near = sum(abs(x) <= math.log(2.0) for x in logs) / len(logs)
    return math.exp(mean), math.exp(spread), near
