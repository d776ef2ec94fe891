"""The equations of a tank of a blend that leaks, vents and takes up heat, for many tanks at once.

Notes
-----
State: the moles n_i of every component in the tank and its energy U, wall included; V is fixed, and liquid,
vapor and wall share one temperature. What stands where follows from equilibrium
(`lpgrelease.tank.blend_state`):

    dn_i/dt = - sum of K_j m_ij,    dU/dt = Q'(T) - sum of K_j H_j                           (1)

m_ij and H_j are the moles and the enthalpy of the phase that stands at opening j, and K_j is the flow over
the mass of that phase: what leaves has the phase's composition and its enthalpy.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple, Self

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.elementwise import some
from lpgrelease.fluids.cubic import R
from lpgrelease.fluids.equilibrium import LIQUID, VAPOR
from lpgrelease.fluids.mixture import Mixture
from lpgrelease.quantities import FloatArray
from lpgrelease.release.blend_nozzle import HIGHEST_REDUCED_TEMPERATURE, BlendNozzle
from lpgrelease.results import BoolArray, IntArray, unchecked
from lpgrelease.summing import add_rows
from lpgrelease.tank.blend_state import Standing, diagonal, standing
from lpgrelease.tank.last_pascals import eased, eased_slope
from lpgrelease.tank.shapes import Tank
from lpgrelease.tank.venting import NEVER, TERMINAL, HeatFromOutside, take_tank

__all__ = ["LEAST_SHARE", "BlendVenting", "Rates"]

LEAST_SHARE = 1e-6
"""Liquid counts as gone, and vapor too, with this share of the tank's volume."""
SMALL = 0.01
"""Step [K] of the heat's slope by temperature."""


class Rates(NamedTuple):
    """What leaves and comes in, and how that changes with the unknowns.

    Rows: mass flow of each opening [kg/s], moles of each component that leave over those that are there
    [1/s], heat and enthalpy over R [K mol/s].
    """

    now: Standing
    rows: FloatArray
    slopes: FloatArray
    drives: FloatArray
    """What drives the flow through each opening, over p; the flow goes like its root. (J, n)."""
    rises: FloatArray
    """Slope of each drive by the liquid's share of the volume, beyond that of ln p."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class BlendVenting:
    """Tanks of one blend and one kind of shape, n of them, each with J openings.

    Parameters
    ----------
    mixture : Mixture
    nozzle : BlendNozzle
    lowest_temperature : float
        [K].
    tank, heat, volume, wall_capacity, duration, stops_settled, area, height, empties_at, fills_at, wet
        As in `lpgrelease.tank.venting.Venting`.
    air_pressure, stop_pressure, stop_sign : ndarray, shape (n,)
        [Pa]; the sign is +1 where the stop is reached from above, -1 from below, 0 where there is none.
    """

    mixture: Mixture
    nozzle: BlendNozzle
    lowest_temperature: float
    tank: Tank
    heat: HeatFromOutside
    air_pressure: FloatArray
    volume: FloatArray
    wall_capacity: FloatArray
    stop_pressure: FloatArray
    stop_sign: FloatArray
    duration: FloatArray
    stops_settled: BoolArray
    area: FloatArray
    height: FloatArray
    empties_at: FloatArray
    fills_at: FloatArray
    wet: BoolArray

    @property
    def components(self) -> int:
        """Number nc of components."""
        return len(self.mixture.names)

    def standing(self, w: FloatArray) -> Standing:
        """Tell what stands in the tanks at unknowns w (2 nc + 2, n)."""
        return standing(self.mixture, w, self.volume, self.wall_capacity)

    def rates(self, w: FloatArray) -> Rates:
        """Tell what happens at unknowns w (2 nc + 2, n)."""
        count, openings = self.components, self.area.shape[0]
        now = self.standing(w)
        t, moles = w[-2], w[:-2].reshape(2, count, -1)
        rows = np.zeros((openings + count + 2, t.size))
        slopes = np.zeros((openings + count + 2, *w.shape))
        shares, mass = moles / (moles[0] + moles[1]), self.mixture.molar_mass * moles
        drive = np.log(now.pressure / self.air_pressure)
        drives, rises = np.empty((openings, t.size)), np.zeros((openings, t.size))
        drives[:] = drive
        vapor = liquid = self._vapor(now, t, moles[VAPOR], mass[VAPOR], drive)
        if some(self.wet):
            k_l, slope_l, heads, rise = self._liquid(now, mass[LIQUID])
            liquid = k_l, slope_l
            drives, rises = np.where(self.wet, heads, drives), np.where(self.wet, rise, 0.0)
        for j, wet in enumerate(self.wet):
            for side, here in ((LIQUID, wet), (VAPOR, ~wet)):
                if not some(here):
                    continue
                k, slope = (liquid[0][j], liquid[1][j]) if side == LIQUID else vapor
                own = np.where(here, self.area[j] * k, 0.0)
                first = side * count
                whole, moved = add_rows(mass[side]), own * shares[side]
                flow = own * whole
                rows[j] += flow
                slopes[j] += flow * slope
                slopes[j, first : first + count] += own * mass[side]
                rows[openings:-2] += moved
                slopes[openings:-2] += moved[:, None] * slope
                # of a component's moles in this phase over all it has
                exchanged = moved * shares[1 - side]
                diagonal(slopes, openings, first, count)[:] += exchanged
                diagonal(slopes, openings, count - first, count)[:] -= exchanged
                lost = own * now.enthalpy[side] / R
                rows[-1] += lost
                slopes[-1] += lost * slope + (own / R) * now.enthalpy_slope[side]
        rows[-2] = self.heat.rate(t) / R
        slopes[-2, -2] = (self.heat.rate(t + SMALL) / R - rows[-2]) / SMALL * t
        return Rates(now, rows, slopes, drives, rises)

    def _vapor(
        self, now: Standing, t: FloatArray, moles: FloatArray, mass: FloatArray, drive: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """K_j over the area where vapor leaves [1/s/m2], and the slope of its logarithm."""
        count = self.components
        p, space, whole = now.pressure, now.volume[VAPOR], add_rows(mass)
        psi, by_pressure = self.nozzle.flux_number(t, moles / add_rows(moles), drive)
        excess = p - self.air_pressure
        psi, by_pressure = psi * eased(excess), by_pressure + p * eased_slope(excess)
        slope = (0.5 + by_pressure) * now.log_pressure_slope
        slope[count:-2] -= 0.5 * mass / whole
        slope[-1] += 0.5 * self.volume / space
        return np.sqrt(p / (whole * space)) * psi, slope

    def _liquid(
        self, now: Standing, mass: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """K_j over the area where liquid leaves, and its slope; the drive over p, and its slope by V_l/V."""
        count = self.components
        p, space, whole = now.pressure, now.volume[LIQUID], add_rows(mass)
        level = self.tank.level_at(np.minimum(space, self.volume))
        surface = self.tank.free_surface_at(np.minimum(level, self.tank.height))
        weight = whole / space * STANDARD_GRAVITY
        head = np.where(self.wet, level - self.height, 0.0)
        drive = (p - self.air_pressure + weight * head) / p
        flows = drive > 0.0
        safe = np.where(flows, drive, 1.0)
        half = np.where(flows, 0.5 / safe, 0.0) + p * eased_slope(p * drive)
        rise = weight / p * self.volume / np.maximum(surface, 1e-6 * self.volume)
        slopes = half[:, None] * now.log_pressure_slope
        slopes[:, :count] -= 0.5 * mass / whole
        slopes[:, -1] += half * rise - 0.5 * self.volume / space
        rate = np.where(flows, np.sqrt(2.0 * safe * p / (whole * space)), 0.0) * eased(p * drive)
        return rate, slopes, drive, np.broadcast_to(rise, drive.shape)

    def signals(self, left: FloatArray, w: FloatArray, log_pressure: FloatArray) -> FloatArray:
        """Positive until the event: stop, duration, dry, full, cold, hot, then openings; (events, ...)."""
        count = self.components
        v_i, t, share = w[count:-2], w[-2], w[-1]
        hot = HIGHEST_REDUCED_TEMPERATURE * self.nozzle.kay(v_i / add_rows(v_i)) - t
        toward = self.stop_sign * (log_pressure - np.log(self.stop_pressure))
        liquid = share * self.volume
        out = np.empty((len(TERMINAL) + self.wet.shape[0], *t.shape))
        out[0] = np.where(self.stop_sign == 0.0, NEVER, toward)
        out[1] = left
        out[2] = share - LEAST_SHARE
        out[3] = 1.0 - LEAST_SHARE - share
        out[4], out[5] = t - self.lowest_temperature, hot
        for j, wet in enumerate(self.wet):
            out[6 + j] = np.where(wet, liquid - self.empties_at[j], self.fills_at[j] - liquid)
        return out

    def landed(self, events: BoolArray) -> tuple[Self, IntArray]:
        """End the scenarios whose first six events came; turn over the phase at the other openings."""
        codes = np.zeros(events.shape[1], dtype=np.intp)
        for code, event in zip(reversed(TERMINAL), events[len(TERMINAL) - 1 :: -1], strict=True):
            codes = np.where(event, code, codes)
        return dataclasses.replace(self, wet=self.wet ^ events[len(TERMINAL) :]), codes

    def take(self, index: IntArray) -> Self:
        """Return the scenarios `index` alone."""
        fields = {f.name: getattr(self, f.name) for f in dataclasses.fields(self)}
        taken = {k: each[..., index] if isinstance(each, np.ndarray) else each for k, each in fields.items()}
        taken |= {"tank": take_tank(self.tank, index), "heat": self.heat.take(index)}
        return unchecked(type(self), taken)
