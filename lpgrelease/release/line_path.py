"""Adiabatic flow with friction along a line of one bore: real vapor, boiling liquid, liquid. Array-level.

Notes
-----
At constant mass flux G the states of the line lie on one curve (Fanno's, for a real fluid)

    h + G**2 v**2/2 = h0,   T ds = (G**2 v**2/2) dN,   N = f L/D + sum of K

so that the resistance used between two points is N = integral of T ds/(G**2 v**2/2) (shapiro1953dynamics for
the ideal gas). The path starts from rest by an isentropic inlet at s0 and ends where the outlet, an
opening of C_d times the bore, passes the flow from entropy s2: s2 is the largest entropy on the curve of
G/C_d at or above the ambient pressure, at that pressure if not choked, at its sonic point if choked. A rise
Z is taken at the inlet, where the fluid is densest: h0 less g Z at the same entropy.

States are evaluated at fixed pressures: wet ones (liquid and vapor at one velocity, in equilibrium) from the
saturation table, where the energy balance is a quadratic in the vapor fraction; superheated ones from
`SuperheatPatch`; compressed liquid with a constant volume.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray
from lpgrelease.release.friction import friction_factor
from lpgrelease.release.superheat import SuperheatPatch, superheat_patch
from lpgrelease.results import BoolArray

__all__ = ["LineEnd", "LineInlet", "solve_line"]

LIQUID_NODES = 17
"""Above the onset of boiling, and as many where it may begin."""
BOILING_NODES = 64
ROOT_STEPS = 10
"""Bracketed secant steps for the mass flux; it is then known to 1e-6."""
DRY_STEPS = 2
BLOCK = 256
"""Lines solved at once, so that their paths stay in the processor's cache."""


class LineInlet(NamedTuple):
    """From rest, the rise already taken; 1-d arrays of one length.

    `vapor_fraction` is that before the rise. `boiling_pressure` is where a liquid begins to boil at constant
    entropy, `throttled_pressure` where at constant enthalpy (both the inlet's pressure otherwise); in a line
    it boils between them. `liquid_volume` is the mean volume of the liquid, `nozzle_flux` the flux of an
    ideal nozzle from here to the ambient pressure.
    """

    pressure: FloatArray
    temperature: FloatArray
    vapor_fraction: FloatArray
    enthalpy: FloatArray
    entropy: FloatArray
    boiling_pressure: FloatArray
    throttled_pressure: FloatArray
    liquid_volume: FloatArray
    viscosity: FloatArray
    nozzle_flux: FloatArray
    ambient_pressure: FloatArray


class LineEnd(NamedTuple):
    """What a line passes: flux over its bore and the state of the outlet's throat."""

    flux: FloatArray
    choked: BoolArray
    pressure: FloatArray
    temperature: FloatArray
    vapor_fraction: FloatArray


class LineShape(NamedTuple):
    """L/D, D [m], roughness/D, sum of K and C_d of the outlet; 1-d arrays of the inlets' length."""

    slenderness: FloatArray
    diameter: FloatArray
    relative_roughness: FloatArray
    fittings: FloatArray
    coefficient: FloatArray


class _Outlet(NamedTuple):
    entropy: FloatArray
    pressure: FloatArray
    node: NDArray[np.intp]
    choked: BoolArray


class _States(NamedTuple):
    volume: FloatArray
    temperature: FloatArray
    entropy: FloatArray
    vapor_fraction: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Path:
    """Properties at the pressures of a block of lines, shape (nodes, lines)."""

    inlet: LineInlet
    patch: SuperheatPatch
    pressure: FloatArray
    saturation_temperature: FloatArray
    liquid_enthalpy: FloatArray
    latent_heat: FloatArray
    liquid_volume: FloatArray
    volume_gain: FloatArray
    liquid_entropy: FloatArray
    vapor_entropy: FloatArray
    superheated: FloatArray

    @classmethod
    def prepare(cls, table: FluidTable, inlet: LineInlet) -> _Path:
        """Properties at the nodes of the whole path."""
        low = inlet.ambient_pressure
        below = np.linspace(0.0, 1.0, BOILING_NODES)[:, None] ** 2
        start = np.maximum(inlet.boiling_pressure, low)
        p = start * (low / start) ** below
        # equal pressures add nothing to a path, so that those of a liquid may be left out where there is none
        if (inlet.boiling_pressure < inlet.pressure).any():
            share = np.linspace(0.0, 1.0, LIQUID_NODES)[:-1, None]
            onset = np.maximum(inlet.throttled_pressure, start)
            p = np.concatenate(
                [inlet.pressure + share * (onset - inlet.pressure), onset + share * (start - onset), p]
            )
        return cls.at(table, inlet, np.minimum(p, inlet.pressure))

    @classmethod
    def at(cls, table: FluidTable, inlet: LineInlet, p: FloatArray) -> _Path:
        """Properties at given pressures, shape (any, lines)."""
        # liquid padded above the critical pressure is far too cold to boil there: any saturated state will do
        (highest,) = table.saturated(np.array(table.highest_temperature), "pressure")
        t_s = table.saturation_temperature(np.minimum(p, highest))
        h_l, latent, rho_l, rho_v, s_l = table.saturated(
            t_s, "liquid_enthalpy", "latent_heat", "liquid_density", "vapor_density", "liquid_entropy"
        )
        v_l, patch = 1.0 / rho_l, superheat_patch(table)
        gain = 1.0 / rho_v - v_l
        return cls(inlet, patch, p, t_s, h_l, latent, v_l, gain, s_l, s_l + latent / t_s, patch.at(t_s))

    def states(self, flux: FloatArray) -> _States:
        """States on the curve of `flux` (lines,)."""
        half = 0.5 * flux * flux
        a = half * self.volume_gain * self.volume_gain
        b = self.latent_heat + 2.0 * half * self.liquid_volume * self.volume_gain
        c = self.liquid_enthalpy + half * self.liquid_volume**2 - self.inlet.enthalpy
        x = -2.0 * c / (b + np.sqrt(np.maximum(b * b - 4.0 * a * c, 0.0)))
        volume = self.liquid_volume + x * self.volume_gain
        t, s = (
            self.saturation_temperature,
            self.liquid_entropy + x * self.latent_heat / self.saturation_temperature,
        )
        dry, cold = x > 1.0, x < 0.0
        if dry.any():
            v_dry, t_dry, s_dry = self._superheated(half)
            volume, t, s = np.where(dry, v_dry, volume), np.where(dry, t_dry, t), np.where(dry, s_dry, s)
        if cold.any():
            v = self.inlet.liquid_volume
            pushed = v * (self.inlet.pressure - self.pressure) - half * v * v
            s = np.where(cold, self.inlet.entropy + pushed / self.inlet.temperature, s)
            volume, t = np.where(cold, v, volume), np.where(cold, self.inlet.temperature, t)
        return _States(volume, t, s, np.clip(x, 0.0, 1.0))

    def _superheated(self, half: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Volume, temperature and entropy where dry.

        The volume is all but linear in enthalpy at one pressure: a quadratic from the tangent at the inlet's
        enthalpy, then Newton steps in the scaled superheat.
        """
        unit = self.patch.gas_constant * self.saturation_temperature / self.pressure
        scale = 0.5 * self.patch.largest
        available = self.inlet.enthalpy - self.liquid_enthalpy - self.latent_heat
        u = np.clip(self.patch.scaled(available), -1.0, 1.2)
        z, slope = _polynomial(self.superheated[0], u)
        v, steep = unit * z, unit * slope
        b = scale + 2.0 * half * v * steep
        c = half * v * v
        u = u - 2.0 * c / (b + np.sqrt(np.maximum(b * b - 4.0 * half * steep * steep * c, 0.0)))
        for _ in range(DRY_STEPS):
            u = np.clip(u, -1.5, 1.2)
            z, slope = _polynomial(self.superheated[0], u)
            v = unit * z
            gap = scale * (u + 1.0) + half * v * v - available
            u = u - gap / (scale + 2.0 * half * v * unit * slope)
        u = np.clip(u, -1.5, 1.2)
        v = unit * _polynomial(self.superheated[0], u)[0]
        t = self.saturation_temperature * _polynomial(self.superheated[1], u)[0]
        s = self.vapor_entropy + self.patch.gas_constant * _polynomial(self.superheated[2], u)[0]
        return v, t, s

    def outlet(self, state: _States) -> _Outlet:
        """Where a curve has its largest entropy, refined between nodes except across the onset of boiling."""
        s, x = state.entropy, state.vapor_fraction
        best = np.argmax(s, axis=0)
        inside = np.clip(best, 1, s.shape[0] - 2)[None]
        log_p = [np.log(np.take_along_axis(self.pressure, inside + k, axis=0)[0]) for k in (-1, 0, 1)]
        around = [np.take_along_axis(s, inside + k, axis=0)[0] for k in (-1, 0, 1)]
        step, height = _parabola_peak(log_p, around)
        smooth = np.take_along_axis(x, inside - 1, axis=0)[0] > 0.0
        interior = (best > 0) & (best < s.shape[0] - 1) & smooth
        top = np.take_along_axis(s, best[None], axis=0)[0]
        p = np.take_along_axis(self.pressure, best[None], axis=0)[0]
        return _Outlet(
            np.where(interior, np.maximum(height, top), top),
            np.where(interior, p * np.exp(step), p),
            best,
            p > self.inlet.ambient_pressure * (1.0 + 1e-9),
        )

    def resistance(self, flux: FloatArray, state: _States, outlet_entropy: FloatArray) -> FloatArray:
        """N used from the inlet's entropy to `outlet_entropy` on the curve of `flux`, first branch only."""
        per = state.temperature / (0.5 * flux * flux * state.volume * state.volume)
        s = np.maximum.accumulate(state.entropy, axis=0)
        s = np.clip(s, self.inlet.entropy, np.maximum(outlet_entropy, self.inlet.entropy))
        steps = (s[1:] - s[:-1]) * 0.5 * (per[1:] + per[:-1])
        used = np.add.accumulate(steps, axis=0)[-1]
        rest = np.maximum(outlet_entropy - s[-1], 0.0)
        at = np.take_along_axis(per, np.argmax(state.entropy, axis=0)[None], axis=0)[0]
        total: FloatArray = used + rest * at
        return total


def _polynomial(coefficients: FloatArray, u: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Value and slope."""
    value, slope = coefficients[-1], np.zeros_like(u)
    for power in range(len(coefficients) - 2, -1, -1):
        slope = slope * u + value
        value = value * u + coefficients[power]
    return value, slope


def _parabola_peak(x: list[FloatArray], y: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Shift from x[1], and height, of the parabola through three points with y[1] the largest."""
    left, right = x[0] - x[1], x[2] - x[1]
    a, b = y[0] - y[1], y[2] - y[1]
    down = left * right * (left - right)
    safe = np.where(down == 0.0, 1.0, down)
    curve, slope = (a * right - b * left) / safe, (b * left * left - a * right * right) / safe
    bent = (curve < 0.0) & (down != 0.0)
    step = np.where(bent, -0.5 * slope / np.where(bent, curve, -1.0), 0.0)
    return step, y[1] + 0.5 * slope * step


def solve_line(table: FluidTable, inlet: LineInlet, shape: LineShape) -> LineEnd:
    """Mass flux [kg/m2/s] over the bore, and the outlet's throat, of lines that flow outward."""
    size = inlet.pressure.size
    parts = []
    for begin in range(0, max(size, 1), BLOCK):
        block = slice(begin, begin + BLOCK)
        parts.append(
            _solve(table, LineInlet(*(a[block] for a in inlet)), LineShape(*(a[block] for a in shape)))
        )
    return LineEnd(*(np.concatenate(fields) for fields in zip(*parts, strict=True)))


def _solve(table: FluidTable, inlet: LineInlet, shape: LineShape) -> LineEnd:
    path = _Path.prepare(table, inlet)
    largest = shape.coefficient * inlet.nozzle_flux
    open_end = bool((shape.coefficient == 1.0).all())

    def needed(flux: FloatArray) -> FloatArray:
        re = flux * shape.diameter / inlet.viscosity
        n: FloatArray = friction_factor(re, shape.relative_roughness) * shape.slenderness + shape.fittings
        return n

    def excess(log_q: FloatArray) -> FloatArray:
        flux = largest * np.exp(log_q)
        state = path.states(flux)
        end = path.outlet(state if open_end else path.states(flux / shape.coefficient)).entropy
        over: FloatArray = np.log1p(path.resistance(flux, state, end)) - np.log1p(needed(flux))
        return over

    high = np.zeros_like(largest)
    low = -0.5 * np.log1p(needed(0.05 * largest)) - 3.0
    at_high, at_low = excess(high), excess(low)
    last = np.zeros(largest.shape)
    for _ in range(ROOT_STEPS):  # Illinois: a secant that keeps its bracket
        gap = np.where(at_high == at_low, 1.0, at_high - at_low)
        probe = np.clip((low * at_high - high * at_low) / gap, low, high)
        at_probe = excess(probe)
        side = np.where(at_probe > 0.0, 1.0, -1.0)
        again = side == last
        at_high = np.where(side > 0.0, np.where(again, 0.5 * at_high, at_high), at_probe)
        at_low = np.where(side > 0.0, at_probe, np.where(again, 0.5 * at_low, at_low))
        low, high = np.where(side > 0.0, probe, low), np.where(side > 0.0, high, probe)
        last = side
    free = excess(np.zeros_like(largest)) >= 0.0
    flux = np.where(free, largest, largest * np.exp(probe))
    outlet = path.outlet(path.states(flux / shape.coefficient))
    throat = _Path.at(table, inlet, outlet.pressure[None]).states(flux / shape.coefficient)
    return LineEnd(flux, outlet.choked, outlet.pressure, throat.temperature[0], throat.vapor_fraction[0])
