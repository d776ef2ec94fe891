"""The base of every result: SI fields with units, provenance, and a quantity view.

A result class is written as::

    @result
    class Flow(Result):
        mass_flow: FloatArray = quantity("kg/s", "mass flow")
        choked: BoolArray = quantity("", "whether the throat is choked")

and gets frozen slots, equality to the bit, pickling, a readable table as ``repr``, ``result.q``,
``to_dataframe`` and ``to_dataset``. Methods and tuples are ordinary fields: ``plain(...)``.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from html import escape
from typing import Any, TypeAlias, TypeVar, dataclass_transform

import numpy as np
from numpy.typing import NDArray

from lpgrelease.quantities import to_quantity

__all__ = [
    "BoolArray",
    "IntArray",
    "Provenance",
    "QuantityView",
    "Result",
    "StringArray",
    "in_unit",
    "plain",
    "quantity",
    "result",
    "scenarios_of",
    "unchecked",
]

BoolArray: TypeAlias = NDArray[np.bool_]
IntArray: TypeAlias = NDArray[np.intp]
StringArray: TypeAlias = NDArray[np.str_]
C = TypeVar("C", bound="type[Result]")
F = TypeVar("F", bound=Callable[..., Any])
R = TypeVar("R")


@dataclasses.dataclass(frozen=True, slots=True)
class Provenance:
    """Where a result's numbers come from.

    Parameters
    ----------
    model : str
        Name of the model that ran.
    sources : tuple of str
        Keys of the bibliography.
    properties : str
        What served the fluid properties.
    outside_validity : tuple of str
        Published ranges that were left because ``extrapolate=True`` was given.
    """

    model: str
    sources: tuple[str, ...] = ()
    properties: str = ""
    outside_validity: tuple[str, ...] = ()


def quantity(
    unit: str, description: str, *, dims: tuple[str, ...] = (), default: Any = dataclasses.MISSING
) -> Any:
    """Declare a numeric field: its SI unit, what it is, and its trailing axes beyond the scenarios."""
    return dataclasses.field(
        default=default, metadata={"unit": unit, "description": description, "dims": dims}
    )


def in_unit(unit: str) -> Callable[[F], F]:
    """Declare the SI unit of what a property returns, to stand below ``@property``."""

    def marked(getter: F) -> F:
        getter.__dict__["unit"] = unit
        return getter

    return marked


def plain(description: str, *, default: Any = dataclasses.MISSING) -> Any:
    """Declare a field that is not a plain array of numbers."""
    return dataclasses.field(default=default, metadata={"description": description})


@dataclass_transform(
    frozen_default=True, kw_only_default=True, eq_default=False, field_specifiers=(quantity, plain)
)
def result(cls: C) -> C:
    """Make a :class:`Result` subclass a frozen, slotted, keyword-only dataclass."""
    return dataclasses.dataclass(frozen=True, slots=True, eq=False, repr=False, kw_only=True)(cls)  # type: ignore[return-value]


def unchecked(kind: type[R], fields: Mapping[str, Any]) -> R:
    """Return an object of a frozen class, its fields known to be good: nothing is checked or converted."""
    made = object.__new__(kind)
    for name, value in fields.items():
        object.__setattr__(made, name, value)
    return made


def scenarios_of(source: R, index: Any) -> R:
    """Return a frozen dataclass of the scenarios `index` alone.

    Of arrays the last axis is taken, of tuples every part, of parts that have a `take` of their own what that
    gives; all else stays.
    """
    fields = dataclasses.fields(source)  # type: ignore[arg-type]
    return unchecked(type(source), {f.name: _taken(getattr(source, f.name), index) for f in fields})


def _taken(value: Any, index: Any) -> Any:
    if isinstance(value, np.ndarray):
        return value[..., index]
    if isinstance(value, tuple):
        return tuple(_taken(part, index) for part in value)
    return value.take(index) if hasattr(value, "take") and not isinstance(value, np.generic) else value


@dataclasses.dataclass(frozen=True, slots=True, eq=False, repr=False, kw_only=True)
class Result:  # noqa: PLW1641 equal, but without a hash: arrays have none
    """Base of all results; see the module's docstring."""

    provenance: Provenance = plain("where the numbers come from", default=Provenance("unspecified"))

    @property
    def q(self) -> QuantityView:
        """The same fields as quantities of pint's application registry."""
        return QuantityView(self)

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return all(_same(getattr(self, f.name), getattr(other, f.name)) for f in dataclasses.fields(self))

    def __repr__(self) -> str:
        rows = self._rows()
        wide = [max((len(row[i]) for row in rows), default=0) for i in (0, 1)]
        lines = [f"{name:<{wide[0]}}  {value:<{wide[1]}}  {unit}".rstrip() for name, value, unit in rows]
        return "\n".join([type(self).__name__, *(f"  {line}" for line in (*lines, *self._texts()))])

    def _repr_html_(self) -> str:
        cells = "".join(
            f"<tr><th>{escape(name)}</th><td>{escape(value)}</td><td>{escape(unit)}</td></tr>"
            for name, value, unit in self._rows()
        )
        items = "".join(f"<li>{escape(text)}</li>" for text in self._texts())
        listed = f"<ul>{items}</ul>" if items else ""
        return f"<table><caption>{escape(type(self).__name__)}</caption>{cells}</table>{listed}"

    def _texts(self) -> list[str]:
        """Lines printed below the table: the cautions, where a result carries them."""
        return [f"! {text}" for text in getattr(self, "cautions", ())]

    def _rows(self) -> list[tuple[str, str, str]]:
        rows = []
        for field in dataclasses.fields(self):
            if field.name not in {"provenance", "cautions"}:
                rows.append((field.name, _summary(getattr(self, field.name)), field.metadata.get("unit", "")))
        rows.append(("model", self.provenance.model, ""))
        rows.extend(("outside validity", text, "") for text in self.provenance.outside_validity)
        return rows

    def to_dataframe(self) -> Any:
        """Return the numeric fields as a pandas DataFrame, one row per scenario (and time).

        Column names carry the unit; fields with an axis of openings become one column each.
        """
        import pandas as pd

        fields = {f: np.asarray(getattr(self, f.name)) for f in _numeric_fields(self)}
        scenarios = np.broadcast_shapes(*(_scenarios(field, values) for field, values in fields.items()))
        steps = [values.shape[-1] for field, values in fields.items() if "time" in field.metadata["dims"]]
        grid = (*scenarios, *steps[:1])
        columns: dict[str, Any] = {}
        for field, values in fields.items():
            columns |= _columns(field, values, grid, timed=bool(steps))
        index = None
        if len(grid) > 1:
            names = [*_scenario_names(len(scenarios)), *(["step"] if steps else [])]
            index = pd.MultiIndex.from_product([range(size) for size in grid], names=names)
        return pd.DataFrame(columns, index=index)

    def to_dataset(self) -> Any:
        """Return the numeric fields as an xarray Dataset with units and provenance as attributes."""
        import xarray as xr

        data = {}
        for field in _numeric_fields(self):
            values, dims = np.asarray(getattr(self, field.name)), field.metadata["dims"]
            names = _scenario_names(values.ndim - len(dims))
            attributes = {
                "units": field.metadata["unit"] or "1",
                "description": field.metadata["description"],
            }
            data[field.name] = ((*names, *dims), values, attributes)
        origin = self.provenance
        attributes = {
            "model": origin.model,
            "sources": ", ".join(origin.sources),
            "properties": origin.properties,
            "outside_validity": "; ".join(origin.outside_validity),
        }
        return xr.Dataset(data, attrs=attributes)


class QuantityView:
    """Reads numeric fields and properties as pint quantities; yes-or-no and text fields come as they are."""

    __slots__ = ("_result",)

    def __init__(self, source: Result) -> None:
        self._result = source

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        value = getattr(self._result, name)
        unit = self._units().get(name)
        if unit is None:
            raise AttributeError(f"{name} of {type(self._result).__name__} has no unit")
        return to_quantity(value, unit) if np.asarray(value).dtype.kind in "iuf" else value

    def __dir__(self) -> list[str]:
        return list(self._units())

    def _units(self) -> dict[str, str]:
        fields = {f.name: str(f.metadata["unit"]) for f in _numeric_fields(self._result)}
        return fields | _units_of_properties(type(self._result))

    def __repr__(self) -> str:
        return f"quantities of {self._result!r}"


def _numeric_fields(source: Result) -> list[dataclasses.Field[Any]]:
    return [
        f for f in dataclasses.fields(source) if "unit" in f.metadata and getattr(source, f.name) is not None
    ]


def _units_of_properties(kind: type[Result]) -> dict[str, str]:
    """Units of the properties that `in_unit` marks."""
    getters = {name: getattr(getattr(kind, name), "fget", None) for name in dir(kind)}
    units = {name: getattr(getter, "unit", None) for name, getter in getters.items()}
    return {name: unit for name, unit in units.items() if unit is not None}


def _scenarios(field: dataclasses.Field[Any], values: NDArray[Any]) -> tuple[int, ...]:
    return values.shape[: values.ndim - len(field.metadata["dims"])]


def _scenario_names(number: int) -> tuple[str, ...]:
    return ("scenario",) if number == 1 else tuple(f"scenario_{i}" for i in range(number))


def _columns(
    field: dataclasses.Field[Any], values: NDArray[Any], grid: tuple[int, ...], *, timed: bool
) -> dict[str, Any]:
    """Columns of one field over the flattened `grid`; one for each entry of an axis that is not time."""
    dims, unit = field.metadata["dims"], f"[{field.metadata['unit'] or '-'}]"
    if timed and "time" not in dims:
        values, dims = values[..., None], (*dims, "time")
    others = [axis - len(dims) for axis, name in enumerate(dims) if name != "time"]
    parts = {f"{field.name} {unit}": values}
    if others:
        parts = {f"{field.name}_{i} {unit}": part for i, part in enumerate(np.moveaxis(values, others[0], 0))}
    return {label: np.broadcast_to(part, grid).ravel() for label, part in parts.items()}


def _same(left: Any, right: Any) -> bool:
    if isinstance(left, (np.ndarray, np.generic, float)) and isinstance(
        right, (np.ndarray, np.generic, float)
    ):
        a, b = np.asarray(left), np.asarray(right)
        return (
            a.shape == b.shape
            and a.dtype == b.dtype
            and bool(np.array_equal(a, b, equal_nan=a.dtype.kind == "f"))
        )
    if isinstance(left, (tuple, list)) and type(left) is type(right):
        return len(left) == len(right) and all(map(_same, left, right))
    return bool(left == right)


def _summary(value: Any) -> str:
    if isinstance(value, (np.ndarray, np.generic, float)):
        array = np.asarray(value)
        if array.ndim == 0:
            return f"{array[()]:.6g}" if array.dtype.kind == "f" else str(array[()])
        if array.dtype.kind == "f" and array.size:
            return f"{array.flat[0]:.6g} ... {array.flat[-1]:.6g}  {array.shape}"
        return f"array {array.shape}"
    text = repr(value).splitlines()
    return text[0] if len(text) == 1 else f"{type(value).__name__}"
