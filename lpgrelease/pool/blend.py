"""Pools of blends: light ends leave first, and the rest grows warmer. Components first, scenarios last.

Raoult's law with the saturation pressures of the pure components, enthalpies that mix ideally.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Final

import numpy as np

from lpgrelease.errors import ConvergenceError
from lpgrelease.fluids import Fluid
from lpgrelease.pool.liquid import FIELDS, NEAR, LiquidState, add_parts
from lpgrelease.quantities import FloatArray

if TYPE_CHECKING:
    from lpgrelease.pool.trial import Trial

__all__ = ["BlendLiquid", "distilled", "share_out"]

ROUNDS: Final = 40
BOILING_TOLERANCE: Final = 1e-12
_TINY: Final = float(np.finfo(float).tiny)


def distilled(
    moles: FloatArray, ratios: FloatArray, masses: FloatArray, evaporated: FloatArray
) -> FloatArray:
    """Mass of each component in vapor that leaves a liquid bit by bit [kg].

    Parameters
    ----------
    moles, ratios, masses : ndarray, shape (components, scenarios)
        Moles in the liquid [mol], equilibrium ratios K, molar masses [kg/mol].
    evaporated : ndarray, shape (scenarios,)
        [kg], not negative; all of the liquid where it is more.

    Notes
    -----
    Rayleigh's distillation with constant ratios: d ln n_i is proportional to K_i, so
    n_i' = n_i exp(-K_i s); s from the sum by Newton's method, which rises to it from 0 without passing it.

    Examples
    --------
    >>> two = np.ones((2, 1))
    >>> distilled(two, np.array([[4.0], [1.0]]), two, np.array([1.0])).ravel().round(3)
    array([0.724, 0.276])
    """
    parts = moles * masses
    whole = add_parts(parts)
    some = whole > 0.0
    whole = np.where(some, whole, 1.0)
    share = np.where(some, np.minimum(evaporated / whole, 1.0), 1.0)
    mean = add_parts(ratios * parts) / whole
    K = ratios / np.where(some, mean, 1.0)
    s = np.zeros_like(share)
    inside = share < 1.0
    done = ~inside
    for _ in range(ROUNDS):
        left = parts * np.exp(-K * s)
        miss = add_parts(left) / whole - (1.0 - share)
        slope = add_parts(K * left) / whole
        step = np.where(done, 0.0, miss / np.maximum(slope, _TINY))
        s = s + step
        done = done | (step <= 1e-14 * s)
        if done.all():
            break
    gone: FloatArray = np.where(inside, -parts * np.expm1(-K * s), parts)
    return gone


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class BlendLiquid:
    """A blend under the ambient pressure of each scenario."""

    fluid: Fluid
    parts: tuple[Fluid, ...]
    molar_mass: FloatArray
    """Of the components, (components, 1) [kg/mol]."""
    pressure: FloatArray
    boiling_point: FloatArray
    """Of the liquid that lands first [K]."""

    @classmethod
    def prepare(cls, fluid: Fluid, pressure: FloatArray, landed: FloatArray) -> BlendLiquid:
        """Find the boiling points of liquids of mass shares `landed`."""
        parts = tuple(Fluid(name) for name in fluid.components)
        mass = np.array([part.molar_mass for part in parts])[:, None]
        liquid = cls(fluid, parts, mass, pressure, pressure)
        return dataclasses.replace(liquid, boiling_point=liquid.boil(liquid.mole_fractions(landed)))

    @property
    def lowest_temperature(self) -> float:
        """Lowest temperature that the tables of all components hold [K]."""
        return max(part.lowest_temperature for part in self.parts)

    def mole_fractions(self, parts: FloatArray) -> FloatArray:
        """Of masses of components; of equal moles where there is nothing."""
        moles = parts / self.molar_mass
        total = add_parts(moles)
        return np.where(total > 0.0, moles / np.where(total > 0.0, total, 1.0), 1.0 / len(self.parts))

    def boil(self, x: FloatArray) -> FloatArray:
        """Temperature at which sum x_i p_i(T) is the ambient pressure [K], by Newton's method on ln p."""
        pure = np.stack([part.saturation_temperature(self.pressure) for part in self.parts])
        T = 1.0 / add_parts(x / pure)
        done = np.zeros(T.shape, dtype=bool)
        for _ in range(ROUNDS):
            pressure, slope = self._bubble(T, x)
            step = np.log(pressure / self.pressure) * pressure / slope * T
            T = np.where(done, T, T - step)
            done = done | (np.abs(step) <= BOILING_TOLERANCE * T)
            if done.all():
                return T
        raise ConvergenceError("boiling point of a blend", float(np.max(np.abs(step))))

    def _bubble(self, T: FloatArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Pressure of the liquid, and T dp/dT [Pa]."""
        both = [part.saturated(T, "pressure", "clapeyron") for part in self.parts]
        return add_parts(x * np.stack([b[0] for b in both])), add_parts(x * np.stack([b[1] for b in both]))

    def at(
        self, temperature: FloatArray, parts: FloatArray | None, evaporated: FloatArray | float = 0.0
    ) -> LiquidState:
        """Properties of masses `parts` at a temperature [K], and of the vapor of the next `evaporated` kg."""
        assert parts is not None
        T, x = temperature, self.mole_fractions(parts)
        rows = [np.stack(row) for row in zip(*(f.saturated(T, *FIELDS) for f in self.parts), strict=True)]
        p, h, latent, c, c_vapor, density = rows
        total = add_parts(parts)
        w = x * self.molar_mass / add_parts(x * self.molar_mass)
        first = x * p * self.molar_mass
        first = first / add_parts(first)
        amount = np.minimum(np.broadcast_to(evaporated, T.shape), total)
        some = amount > 1e-9 * total
        gone = distilled(parts / self.molar_mass, p, self.molar_mass, np.where(some, amount, 0.0))
        vapor = np.where(some, gone / np.where(some, amount, 1.0), first)
        boiling, bubble = self.boil(x), add_parts(x * p)
        far = boiling - T > NEAR
        gap = np.where(far, 1.0 / np.where(far, T, 1.0) - 1.0 / boiling, 1.0)
        near = boiling * self._bubble(boiling, x)[1] / self.pressure
        return LiquidState(
            temperature=T,
            enthalpy=add_parts(w * h),
            latent=add_parts(vapor * latent),
            heat_capacity=add_parts(w * c),
            vapor_heat_capacity=add_parts(vapor * c_vapor),
            density=1.0 / add_parts(w / density),
            boiling_point=boiling,
            clapeyron=np.where(far, np.log(self.pressure / bubble) / gap, near),
            vapor_molar_mass=1.0 / add_parts(vapor / self.molar_mass),
            vapor_share=vapor,
            part_enthalpy=h,
            part_latent=latent,
        )


HEATS: Final[tuple[str, ...]] = (
    "heat_ground",
    "heat_beside",
    "heat_air",
    "heat_longwave",
    "heat_sun",
    "heat_frost",
    "heat_flame",
)


def share_out(moved: dict[str, FloatArray], supply: FloatArray, trial: Trial) -> None:
    """Divide what a step evaporated and spilled over among the components; `moved` changes.

    No component gives more than there is; where that binds, less evaporates and less heat is taken, in
    proportion, so that mass and energy still close.
    """
    liquid = trial.liquid
    assert liquid.vapor_share is not None
    assert liquid.part_latent is not None
    before = moved["mass"] + moved["overflow"]
    gone = np.where(before <= 0.0, supply, np.minimum(moved["evaporated"] * liquid.vapor_share, supply))
    latent = add_parts(gone * liquid.part_latent)
    heats = [name for name in HEATS if name in moved]
    heat = moved[heats[0]]
    for name in heats[1:]:
        heat = heat + moved[name]
    evaporated = add_parts(gone)
    bound = np.abs(latent - trial.warmed - heat) > 1e-12 * latent
    scale = np.where(bound & (heat != 0.0), (latent - trial.warmed) / np.where(heat != 0.0, heat, 1.0), 1.0)
    for name in (*heats, "ice"):
        moved[name] = scale * moved[name]
    left = supply - gone
    over = left * (moved["overflow"] / np.where(before > 0.0, before, 1.0))
    moved["parts"], moved["parts_evaporated"], moved["parts_overflow"] = left - over, gone, over
    moved["mass"] = np.where(before > 0.0, add_parts(left - over), 0.0)
    moved["evaporated"], moved["overflow"] = evaporated, add_parts(over)
    moved["energy_error"] = np.where(latent > 0.0, scale * heat + trial.warmed - latent, 0.0)
