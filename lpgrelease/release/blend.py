"""Blends through an ideal nozzle: equilibrium along the isentrope, each phase with its own composition.

Array-level, unchecked; arrays (n,). Notes as in `lpgrelease.release.nozzle`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lpgrelease.fluids import Fluid
from lpgrelease.fluids.blend_isentrope import choking_point, flux_at, vapor_mass_fraction
from lpgrelease.fluids.equilibrium import VAPOR, flash_entropy
from lpgrelease.quantities import FloatArray, broadcast
from lpgrelease.release.inlet import TwoPhaseInlet
from lpgrelease.release.nozzle import NozzleFlow

__all__ = [
    "BlendVapor",
    "blend_equilibrium",
    "blend_nozzle",
    "saturated_blend_vapor",
    "superheated_blend",
]


class BlendVapor(NamedTuple):
    """Flow of a blend's vapor, density in the throat, enthalpy at rest, mole fractions (..., nc)."""

    flow: NozzleFlow
    density: FloatArray
    enthalpy: FloatArray
    composition: FloatArray


def blend_nozzle(
    fluid: Fluid,
    z: FloatArray,
    *,
    enthalpy: FloatArray,
    entropy: FloatArray,
    temperature: FloatArray,
    pressure: FloatArray,
    density: FloatArray,
    back_pressure: FloatArray,
) -> tuple[NozzleFlow, FloatArray]:
    """Flow of mole fractions z (nc, n) from rest at (h0, s0, T0, p0), per mole, to `back_pressure`.

    With it the density in the throat [kg/m3]: that at rest, `density`, where nothing flows.
    """
    mixture, require = fluid.blend.mixture, fluid.blend.require
    count = pressure.size
    flow = NozzleFlow(
        np.zeros(count),
        np.zeros(count, dtype=np.bool_),
        np.array(back_pressure),
        temperature,
        np.zeros(count),
    )
    runs = np.flatnonzero(back_pressure < pressure)
    z, h, s, back = z[:, runs], enthalpy[runs], entropy[runs], back_pressure[runs]
    throat = choking_point(mixture, z, enthalpy=h, entropy=s, pressure=pressure[runs])
    require(throat.state)
    outside = require(flash_entropy(mixture, z, back, s))
    choked = back <= throat.state.pressure
    t = np.array(temperature)
    t[runs] = np.where(choked, throat.state.temperature, outside.temperature)
    flow.flux[runs] = np.where(choked, throat.flux, flux_at(mixture, z, h, outside))
    flow.choked[runs] = choked
    flow.pressure[runs] = np.where(choked, throat.state.pressure, back)
    flow.vapor_fraction[runs] = np.where(
        choked, vapor_mass_fraction(mixture, z, throat.state), vapor_mass_fraction(mixture, z, outside)
    )
    rho = np.array(density)
    rho[runs] = mixture.mass(z) / np.where(choked, throat.state.volume, outside.volume)
    return flow._replace(temperature=t), rho


def saturated_blend_vapor(fluid: Fluid, temperature: FloatArray, back_pressure: FloatArray) -> BlendVapor:
    """Flow of the vapor in equilibrium with liquid of the fluid's composition at `temperature`."""
    t, back = broadcast(temperature=temperature, ambient_pressure=back_pressure)
    shape = t.shape
    t, back = np.ravel(t), np.ravel(back)
    point = fluid.blend.bubble(temperature=t)
    mixture, y = fluid.blend.mixture, point.incipient
    state, m = mixture.phase(t, point.pressure, y, VAPOR)[1], mixture.mass(y)
    flow, density = blend_nozzle(
        fluid,
        y,
        enthalpy=state.enthalpy,
        entropy=state.entropy,
        temperature=t,
        pressure=point.pressure,
        density=m / state.volume,
        back_pressure=back,
    )
    return BlendVapor(
        flow.reshaped(shape),
        density.reshape(shape),
        (state.enthalpy / m).reshape(shape),
        y.T.reshape(*shape, y.shape[0]),
    )


def superheated_blend(
    fluid: Fluid,
    h: FloatArray,
    s: FloatArray,
    t: FloatArray,
    p: FloatArray,
    rho: FloatArray,
    back: FloatArray,
) -> tuple[NozzleFlow, FloatArray]:
    """Flow of gas of the blend's composition from rest at (h0, s0, T0, p0, rho0), per mass."""
    m = fluid.molar_mass
    z = feed(fluid.fractions, t.size)
    return blend_nozzle(
        fluid,
        z,
        enthalpy=h * m,
        entropy=s * m,
        temperature=t,
        pressure=p,
        density=rho,
        back_pressure=back,
    )


def blend_equilibrium(fluid: Fluid, inlet: TwoPhaseInlet) -> tuple[NozzleFlow, FloatArray]:
    """Homogeneous equilibrium flow of the blend as a whole, from a saturated or a padded inlet."""
    m = fluid.molar_mass
    return blend_nozzle(
        fluid,
        feed(fluid.fractions, inlet.temperature.size),
        enthalpy=inlet.enthalpy * m,
        entropy=inlet.entropy * m,
        temperature=inlet.temperature,
        pressure=inlet.pressure,
        density=inlet.density,
        back_pressure=inlet.back_pressure,
    )


def feed(fractions: tuple[float, ...], count: int) -> FloatArray:
    """Mole fractions of a blend, repeated for `count` states."""
    return np.repeat(np.array(fractions)[:, None], count, axis=1)
