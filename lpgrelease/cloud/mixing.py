"""Cold vapor and drops mixed with moist air without heat from outside: temperature, drops, density.

Each mixture is one of `r` kg of air to 1 kg of gas. Everything is a function of that dilution, so a plume
marched in dilution needs its mixtures only once.
"""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER, GAS_CONSTANT
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray
from lpgrelease.weather import AIR_HEAT_CAPACITY, AIR_MOLAR_MASS, water_vapor_pressure

__all__ = ["Mixer", "Mixture"]

WATER_MOLAR_MASS: Final = 0.018015
WATER_LATENT_HEAT: Final = 2.50e6
"""Of condensing moisture [J/kg]; that some of it freezes is left out, which keeps the cloud heavier."""
COLDEST: Final = 80.0
"""Where the search for a temperature without drops is given up [K]: drops then keep the mixture warmer."""
DRY_STEPS: Final = 9
WET_STEPS: Final = 5
_ZERO: Final = float(FREEZING_POINT_OF_WATER)
_CP_AIR: Final = float(AIR_HEAT_CAPACITY)
_M_AIR: Final = float(AIR_MOLAR_MASS)
_R: Final = float(GAS_CONSTANT)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """State of mixtures of gas and air.

    Parameters
    ----------
    temperature, density : ndarray
        [K], [kg/m3].
    drops : ndarray
        Mass of the gas's drops over the mass of the gas.
    condensed : ndarray
        Water condensed, over the mass of the air.
    """

    temperature: FloatArray
    density: FloatArray
    drops: FloatArray
    condensed: FloatArray


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Mixer:
    """A gas at its source and the air it mixes with; arrays of one shape.

    Parameters
    ----------
    fluid : Fluid or None
        Whose drops evaporate; None for a gas without drops.
    molar_mass, heat_capacity : float or ndarray
        Of the gas [kg/mol]; of its vapor, isobaric [J/kg/K].
    temperature : ndarray
        Of the source [K]; its boiling point where it carries drops.
    liquid_fraction : ndarray
        Mass of drops over mass of gas at the source.
    air_temperature, relative_humidity, pressure : ndarray
        [K], [-], [Pa].

    Notes
    -----
    Enthalpy per kg of gas, gas and air at the air's temperature being zero,
    H = c_p (T - T_a) - l L(T) + r [c_pa (T - T_a) - w L_w], is that of the source in every mixture:
    l the drops, w the water condensed. Drops are in equilibrium with the vapor around them, which is taken
    as an ideal gas; the water's own partial pressure is left out where it concerns the drops.
    """

    fluid: Fluid | None
    molar_mass: FloatArray | float
    heat_capacity: FloatArray | float
    temperature: FloatArray
    liquid_fraction: FloatArray
    air_temperature: FloatArray
    relative_humidity: FloatArray
    pressure: FloatArray

    @property
    def air_density(self) -> FloatArray:
        """Of the air alone [kg/m3]."""
        return self.pressure * _M_AIR / (_R * self.air_temperature)

    def source_enthalpy(self) -> FloatArray:
        """Of the source, vapor at air temperature being zero [J/kg]."""
        warm = self.heat_capacity * (self.temperature - self.air_temperature)
        return warm - self.liquid_fraction * self._latent(self.temperature)

    def enthalpy(self, air_ratio: FloatArray, mixture: Mixture) -> FloatArray:
        """Of a mixture [J per kg of gas], on the same zero."""
        heat = mixture.temperature - self.air_temperature
        gas = self.heat_capacity * heat - mixture.drops * self._latent(mixture.temperature)
        return gas + air_ratio * (_CP_AIR * heat - mixture.condensed * WATER_LATENT_HEAT)

    def mix(self, air_ratio: FloatArray, drops: FloatArray) -> Mixture:
        """Mixture of `air_ratio` kg of air to 1 kg of gas.

        Parameters
        ----------
        air_ratio : ndarray
            r [-].
        drops : ndarray
            Drops left in a slightly richer mixture, where the search starts.
        """
        r, E = air_ratio, self.source_enthalpy()
        T = self._dry(r, E)
        left = np.zeros_like(T)
        if self.fluid is not None and np.any(self.liquid_fraction > 0.0):
            moles = 1.0 / self.molar_mass
            dew = self._boiling(moles / (moles + r / _M_AIR))
            wet = (self.liquid_fraction > 0.0) & (dew > T)
            if wet.any():
                cold, drops_left = self._wet(r, E, drops)
                T, left = np.where(wet, cold, T), np.where(wet, drops_left, 0.0)
        w = self._condensed(T, r)
        return Mixture(T, self._density(T, r, left, w), left, w)

    # -- parts ---------------------------------------------------------------------------------------

    def _latent(self, temperature: FloatArray) -> FloatArray:
        if self.fluid is None:
            return np.zeros_like(temperature)
        top = self.fluid.highest_temperature
        return self.fluid.saturated(np.minimum(temperature, top), "latent_heat")[0]

    def _boiling(self, fraction: FloatArray) -> FloatArray:
        """Saturation temperature at the vapor's partial pressure."""
        assert self.fluid is not None  # only fluids have drops
        return self.fluid.saturation_temperature(self.pressure * np.maximum(fraction, 1e-4))

    def _saturated_humidity(self, T: FloatArray, r: FloatArray) -> FloatArray:
        """Water vapor per kg of air that saturates the mixture."""
        e = water_vapor_pressure(T, np.array(1.0))
        carriers = 1.0 / _M_AIR + 1.0 / (self.molar_mass * np.maximum(r, 1e-12))
        return WATER_MOLAR_MASS * carriers * e / (self.pressure - e)

    def _humidity(self) -> FloatArray:
        e = water_vapor_pressure(self.air_temperature, self.relative_humidity)
        return WATER_MOLAR_MASS / _M_AIR * e / (self.pressure - e)

    def _condensed(self, T: FloatArray, r: FloatArray) -> FloatArray:
        return np.maximum(self._humidity() - self._saturated_humidity(T, r), 0.0)

    def _dry(self, r: FloatArray, E: FloatArray) -> FloatArray:
        """Temperature without drops: Newton from the dew point downward, on a convex function."""
        Ta = self.air_temperature
        capacity = self.heat_capacity + r * _CP_AIR
        bare = np.maximum(Ta + E / capacity, COLDEST)
        T = np.maximum(np.minimum(self._dew_point(r), Ta), bare)
        humidity = self._humidity()
        for _ in range(DRY_STEPS):
            w = self._saturated_humidity(T, r)
            residual = capacity * (T - Ta) - E - r * WATER_LATENT_HEAT * (humidity - w)
            slope = capacity + r * WATER_LATENT_HEAT * w * (17.625 * 243.04) / np.square(T - _ZERO + 243.04)
            T = np.maximum(T - residual / slope, bare)
        return np.where(self._condensed(bare, r) > 0.0, T, bare)

    def _dew_point(self, r: FloatArray) -> FloatArray:
        """Where the moisture of the entrained air begins to condense: the inverse of Magnus' formula."""
        carriers = 1.0 / _M_AIR + 1.0 / (self.molar_mass * np.maximum(r, 1e-12))
        x = self._humidity() / (WATER_MOLAR_MASS * carriers)
        e = np.maximum(self.pressure * x / (1.0 + x), 1e-9)
        log = np.log(e / 610.94)
        return _ZERO + 243.04 * log / (17.625 - log)

    def _wet(self, r: FloatArray, E: FloatArray, drops: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Temperature and drops left: Newton in the mass of vapor, from that of a richer mixture."""
        M, cp = self.molar_mass, self.heat_capacity
        vapor = np.clip(1.0 - drops, 1e-6, 1.0)
        T = self.temperature
        for _ in range(WET_STEPS):
            y = (vapor / M) / (vapor / M + r / _M_AIR)
            T = self._boiling(y)
            L = self._latent(T)
            rise = _R * T * T / (L * M) * (1.0 - y) / vapor  # dT / dvapor, Clapeyron
            w = self._condensed(T, r)
            residual = (cp + r * _CP_AIR) * (T - self.air_temperature) - (1.0 - vapor) * L - E
            residual = residual - r * WATER_LATENT_HEAT * w
            vapor = np.clip(vapor - residual / (L + (cp + r * _CP_AIR) * rise), 1e-6, 1.0)
        y = (vapor / M) / (vapor / M + r / _M_AIR)
        return self._boiling(y), 1.0 - vapor

    def _density(self, T: FloatArray, r: FloatArray, drops: FloatArray, w: FloatArray) -> FloatArray:
        moles = (1.0 - drops) / self.molar_mass + r / _M_AIR - r * w / WATER_MOLAR_MASS
        volume = moles * _R * T / self.pressure
        if self.fluid is not None:
            top = self.fluid.highest_temperature
            volume = volume + drops / self.fluid.saturated(np.minimum(T, top), "liquid_density")[0]
        return (1.0 + r) / volume
