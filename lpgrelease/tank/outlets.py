"""Lines as openings of a tank: what they pass of vapor and of liquid, prepared for a whole history.

Notes
-----
Vapor: the flux of an ideal nozzle times the line's coefficient (`LineCoefficient`). Liquid: boiling at the
inlet's pressure, and subcooled by the head z of liquid above the inlet, whose pressure works against
friction alone,

    G**2/(2 rho) = C_l(p)**2 (p - p_amb + rho g F) + rho g z/(1 + N),   N = f L/D + sum of K

C_l is the flux of the line fed with saturated liquid (equilibrium) by that of `flux_driven_by` what is in
brackets, F the fall of a line that goes down, at `NODES` pressures; f of fully rough flow
(churchill1977friction). A line that goes up by R passes boiling liquid from some gauge pressure on; the
head drives it down to there, and below, evenly, ever less: at no pressure z - R does. The sum of squares is
the law of slightly subcooled liquids (fauske1985emergency); near zero gauge it passes more than
`line_release` does of liquid padded by its head: propane at 240 K through 10 mm, 6 % at 3 m, 20 % at 0.2 m,
where boiling lags behind equilibrium anyway.
"""

from __future__ import annotations

import dataclasses
from functools import lru_cache
from typing import Self

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.release.friction import friction_factor
from lpgrelease.release.line import flowing, line_inlet, line_shape
from lpgrelease.release.line_coefficient import LineCoefficient
from lpgrelease.release.superheat import HIGHEST_REDUCED_PRESSURE
from lpgrelease.results import IntArray, scenarios_of

__all__ = ["LINE_FIELDS", "PreparedLine", "prepare_line"]

LINE_FIELDS = ("diameter", "length", "roughness", "fittings", "rise", "discharge_coefficient")
"""Of a `Line`, in the order in which they are handed on."""
NODES = 17
LOWEST_EXCESS = 1e-3
"""Least ratio of gauge to ambient pressure at which a line of liquid is solved; level below it."""
ROUGH_REYNOLDS = 1e8
MOST_KEPT = 64
"""Lines kept for the next history; a larger batch is prepared anew."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class PreparedLine:
    """A line as an opening, per scenario.

    Parameters
    ----------
    vapor : LineCoefficient
    ambient_pressure, span : ndarray, shape (n,)
        p_amb [Pa], ln(p_max/p_amb).
    liquid : ndarray, shape (NODES, n)
        C_l at nodes even in ln(p/p_amb)**(1/2).
    head_share : ndarray, shape (n,)
        C_d**2/(1 + N): the part of the head that is left to drive the flow.
    rise : ndarray, shape (n,)
        Height of the outlet above the inlet [m].
    begins : ndarray, shape (n,)
        Gauge pressure [Pa] up to which boiling liquid does not climb it, or the least one solved.
    """

    vapor: LineCoefficient
    ambient_pressure: FloatArray
    span: FloatArray
    liquid: FloatArray
    head_share: FloatArray
    rise: FloatArray
    begins: FloatArray

    def liquid_drive(
        self,
        density: FloatArray,
        pressure: FloatArray,
        head: FloatArray,
        coefficient: FloatArray | None = None,
    ) -> FloatArray:
        """Pressure [Pa] whose root drives liquid, at inlet pressures (..., n) and heads [m]; 0 or less: none.

        `coefficient` is that of `liquid_coefficient`, where it is known.
        """
        excess = pressure - self.ambient_pressure
        over = np.maximum(excess, 0.0)
        coefficient = self.liquid_coefficient(pressure) if coefficient is None else coefficient
        weight, up = density * STANDARD_GRAVITY, np.maximum(self.rise, 0.0)
        boiling = coefficient * coefficient * (over + weight * (up - self.rise))
        # a rise is in the coefficient where boiling liquid climbs it; at no pressure the head alone must
        climbs = np.minimum(over / self.begins, 1.0)
        still = weight * (head - (1.0 - climbs) * up) + np.minimum(excess, 0.0)
        drive: FloatArray = boiling + self.head_share * still
        return drive

    def liquid_coefficient(self, pressure: FloatArray) -> FloatArray:
        """C_l at inlet pressures (..., n) [Pa]."""
        position = np.sqrt(
            np.minimum(np.log(np.maximum(pressure / self.ambient_pressure, 1.0)) / self.span, 1.0)
        )
        position = position * (NODES - 1)
        cell = np.minimum(np.floor(position), NODES - 2.0)
        w = position - cell
        index = cell.astype(np.intp)
        column = np.broadcast_to(np.arange(self.span.size), index.shape)
        coefficient: FloatArray = (1.0 - w) * self.liquid[index, column] + w * self.liquid[index + 1, column]
        return coefficient

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        return scenarios_of(self, index)


def prepare_line(table: FluidTable, given: FloatArray, ambient_pressure: FloatArray) -> PreparedLine:
    """Solve lines, `given` the rows of `LINE_FIELDS` (6, n); equal ones once, and few ones once for all."""
    stacked = np.concatenate([given, ambient_pressure[None]])
    if (stacked == stacked[:, :1]).all():
        kinds, which = stacked[:, :1], np.zeros(len(ambient_pressure), dtype=np.intp)
    else:
        kinds, which = np.unique(stacked, axis=1, return_inverse=True)
    if kinds.shape[1] <= MOST_KEPT:
        columns = tuple(tuple(column) for column in kinds.T.tolist())
        return _few(table, columns).take(np.ravel(which))
    return _solve(table, kinds).take(np.ravel(which))


@lru_cache(maxsize=256)
def _few(table: FluidTable, columns: tuple[tuple[float, ...], ...]) -> PreparedLine:
    return _solve(table, np.array(columns).reshape(len(columns), len(LINE_FIELDS) + 1).T)


def _solve(table: FluidTable, rows: FloatArray) -> PreparedLine:
    named = dict(zip((*LINE_FIELDS, "ambient_pressure"), rows, strict=True))
    vapor = LineCoefficient.prepare(table, **named)
    rough = friction_factor(np.full(rows.shape[1], ROUGH_REYNOLDS), named["roughness"] / named["diameter"])
    resistance = rough * named["length"] / named["diameter"] + named["fittings"]
    c_d = named["discharge_coefficient"]
    p_amb = named["ambient_pressure"]
    span = np.log(0.999 * HIGHEST_REDUCED_PRESSURE * table.critical_pressure / p_amb)
    liquid = _liquid_coefficients(table, named, span)
    none = np.logical_and.accumulate(liquid <= 0.0, axis=0).sum(axis=0)
    return PreparedLine(
        vapor=vapor,
        ambient_pressure=p_amb,
        span=span,
        liquid=liquid,
        begins=p_amb * np.expm1(_nodes(span)[np.maximum(none - 1, 0), np.arange(span.size)]),
        head_share=c_d * c_d / (1.0 + c_d * c_d * resistance),
        rise=named["rise"],
    )


def _nodes(span: FloatArray) -> FloatArray:
    """ln(p/p_amb) at which lines of liquid are solved, (NODES, n)."""
    w = np.linspace(0.0, 1.0, NODES)[:, None]
    return np.maximum(w * w * span, LOWEST_EXCESS)


def _liquid_coefficients(table: FluidTable, named: dict[str, FloatArray], span: FloatArray) -> FloatArray:
    size = span.size
    p_amb = np.broadcast_to(named["ambient_pressure"], (NODES, size)).reshape(-1)
    p = p_amb * np.exp(_nodes(span).reshape(-1))
    t = table.saturation_temperature(p)
    h, s, rho = table.saturated(t, "liquid_enthalpy", "liquid_entropy", "liquid_density")

    def rows(name: str) -> FloatArray:
        return np.broadcast_to(named[name], (NODES, size)).reshape(-1)

    inlet = line_inlet(table, t, p, np.zeros(p.size), h, s, p_amb, rows("rise"))
    bore = (rows(name) for name in ("diameter", "length", "roughness", "fittings", "discharge_coefficient"))
    flux = flowing(table, inlet, line_shape(*bore)).flux
    drive = p - p_amb + rho * STANDARD_GRAVITY * np.maximum(-rows("rise"), 0.0)
    return np.asarray((flux / np.sqrt(2.0 * rho * drive)).reshape(NODES, size))
