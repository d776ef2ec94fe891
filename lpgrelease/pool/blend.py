"""Pools of blends: light ends leave first, and the rest grows warmer. Components first, scenarios last.

Raoult's law with the saturation pressures of the pure components, enthalpies that mix ideally.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Final

import numpy as np

from lpgrelease.elementwise import every, larger, smaller, some, where
from lpgrelease.errors import ConvergenceError
from lpgrelease.fluids import Fluid
from lpgrelease.pool.liquid import FIELDS, NEAR, LiquidState, add_parts
from lpgrelease.quantities import FloatArray

if TYPE_CHECKING:
    from lpgrelease.pool.trial import Trial

__all__ = ["BlendLiquid", "distilled", "share_out"]

ROUNDS: Final = 40
LAST_STEP, LAST_BOILING_STEP = 1e-8, 1e-5
"""Newton's method ends with a step this small, of the whole: what it then misses is of its square."""
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
    n_i' = n_i exp(-K_i s); s from the sum by Newton's method, which rises to it without passing it from what
    it would be if all K were their mean: less, since exp is convex.

    Examples
    --------
    >>> two = np.ones((2, 1))
    >>> distilled(two, np.array([[4.0], [1.0]]), two, np.array([1.0])).ravel().round(3)
    array([0.724, 0.276])
    """
    parts = moles * masses
    whole = add_parts(parts)
    there = whole > 0.0
    whole = where(there, whole, 1.0)
    share = where(there, smaller(evaporated / whole, 1.0), 1.0)
    mean = add_parts(ratios * parts) / whole
    K = ratios / where(there, mean, 1.0)
    inside = share < 1.0
    s = -np.log1p(-where(inside, share, 0.0))
    done = ~inside
    for _ in range(ROUNDS):
        left = parts * np.exp(-K * s)
        miss = add_parts(left) / whole - (1.0 - share)
        slope = add_parts(K * left) / whole
        step = where(done, 0.0, miss / larger(slope, _TINY))
        s = s + step
        done = done | (step <= LAST_STEP * s)
        if every(done):
            break
    gone: FloatArray = where(inside, -parts * np.expm1(-K * s), parts)
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
        mass = np.array([part.molar_mass for part in parts]).reshape(-1, *[1] * pressure.ndim)
        pure = np.stack([part.saturation_temperature(pressure) for part in parts])
        liquid = cls(fluid, parts, mass, pressure, pressure)
        x = liquid.mole_fractions(landed)
        return dataclasses.replace(liquid, boiling_point=liquid.boil(x, 1.0 / add_parts(x / pure))[0])

    @property
    def lowest_temperature(self) -> float:
        """Lowest temperature that the tables of all components hold [K]."""
        return max(part.lowest_temperature for part in self.parts)

    def mole_fractions(self, parts: FloatArray) -> FloatArray:
        """Of masses of components; of equal moles where there is nothing."""
        moles = parts / self.molar_mass
        total = add_parts(moles)
        return np.where(total > 0.0, moles / where(total > 0.0, total, 1.0), 1.0 / len(self.parts))

    def boil(self, x: FloatArray, near: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Temperature at which sum x_i p_i(T) is the ambient pressure, and T^2 d ln p / dT there [K].

        By Newton's method on ln p from a temperature that is `near`.
        """
        T = steepness = near
        done = T <= 0.0
        for _ in range(ROUNDS):
            pressure, slope = self._bubble(T, x)
            steepness = where(done, steepness, T * slope / pressure)
            step = np.log(pressure / self.pressure) * pressure / slope * T
            T = where(done, T, T - step)
            done = done | (np.abs(step) <= LAST_BOILING_STEP * T)
            if every(done):
                return T, steepness
        raise ConvergenceError("boiling point of a blend", float(np.max(np.abs(step))))

    def _bubble(self, T: FloatArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Pressure of the liquid, and T dp/dT [Pa]."""
        both = [part.saturated(T, "pressure", "clapeyron") for part in self.parts]
        return add_parts(x * np.stack([b[0] for b in both])), add_parts(x * np.stack([b[1] for b in both]))

    def at(
        self,
        temperature: FloatArray,
        parts: FloatArray | None,
        evaporated: FloatArray | float = 0.0,
        *,
        like: LiquidState | None = None,
        same: bool = False,
    ) -> LiquidState:
        """Properties of masses `parts` at a temperature [K], and of the vapor of the next `evaporated` kg.

        `like` is a liquid whose boiling point is near, or the `same` where its composition is.
        """
        assert parts is not None
        T, x = temperature, self.mole_fractions(parts)
        rows = [np.stack(row) for row in zip(*(f.saturated(T, *FIELDS) for f in self.parts), strict=True)]
        p, h, latent, c, c_vapor, density = rows
        total = add_parts(parts)
        w = x * self.molar_mass / add_parts(x * self.molar_mass)
        first = x * p * self.molar_mass
        first = first / add_parts(first)
        vapor, amount = first, smaller(evaporated, total)
        leaves = amount > 1e-9 * total
        if some(leaves):
            gone = distilled(parts / self.molar_mass, p, self.molar_mass, where(leaves, amount, 0.0))
            vapor = where(leaves, gone / where(leaves, amount, 1.0), first)
        bubble = add_parts(x * p)
        if same and like is not None and like.steepness is not None:
            boiling, steepness = like.boiling_point, like.steepness
        else:
            boiling, steepness = self.boil(x, self.boiling_point if like is None else like.boiling_point)
        far = boiling - T > NEAR
        gap = where(far, 1.0 / where(far, T, 1.0) - 1.0 / boiling, 1.0)
        return LiquidState(
            temperature=T,
            enthalpy=add_parts(w * h),
            latent=add_parts(vapor * latent),
            heat_capacity=add_parts(w * c),
            vapor_heat_capacity=add_parts(vapor * c_vapor),
            density=1.0 / add_parts(w / density),
            boiling_point=boiling,
            clapeyron=where(far, np.log(self.pressure / bubble) / gap, steepness),
            vapor_molar_mass=1.0 / add_parts(vapor / self.molar_mass),
            vapor_share=vapor,
            part_enthalpy=h,
            part_latent=latent,
            steepness=steepness,
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
    gone = where(before <= 0.0, supply, np.minimum(moved["evaporated"] * liquid.vapor_share, supply))
    latent = add_parts(gone * liquid.part_latent)
    heats = [name for name in HEATS if name in moved]
    heat = moved[heats[0]]
    for name in heats[1:]:
        heat = heat + moved[name]
    evaporated = add_parts(gone)
    bound = np.abs(latent - trial.warmed - heat) > 1e-12 * latent
    scale = where(bound & (heat != 0.0), (latent - trial.warmed) / where(heat != 0.0, heat, 1.0), 1.0)
    for name in (*heats, "ice"):
        moved[name] = scale * moved[name]
    left = supply - gone
    over = left * (moved["overflow"] / where(before > 0.0, before, 1.0))
    moved["parts"], moved["parts_evaporated"], moved["parts_overflow"] = left - over, gone, over
    moved["mass"] = where(before > 0.0, add_parts(left - over), 0.0)
    moved["evaporated"], moved["overflow"] = evaporated, add_parts(over)
    moved["energy_error"] = where(latent > 0.0, scale * heat + trial.warmed - latent, 0.0)
