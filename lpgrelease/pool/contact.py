"""Ground under a boiling liquid is a few kelvins warmer than the liquid: plain functions of SI arrays.

A film of vapor where the ground is hot, bubbles, and the liquid's own convection each need a difference of
temperature to carry heat. Scenarios last.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lpgrelease.elementwise import larger, smaller, some, where
from lpgrelease.fluids import Fluid
from lpgrelease.ground.boiling import (
    BoilingLiquid,
    convection_flux,
    film_flux_berenson,
    least_film_difference_berenson,
    nucleate_flux_rohsenow,
)
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray

__all__ = ["CONTACTS", "BoilingContact", "Touch"]

CONTACTS: Final = ("boiling", "perfect")
LEAST_PASSES: Final = 4
"""The least difference depends on the film's temperature, which depends on it."""
FILM_SPAN: Final = 1.5
"""Between this many times the least difference and itself the film's flux gives its power."""
NEWTON_STEPS: Final = 3
LEAST_DIFFERENCE: Final = 0.02
"""Below it the curve is taken straight for columns [K]."""
FILM_STEPS: Final = 4
_TINY: Final = 1e-30
_FOUR_THIRDS: Final = 4.0 / 3.0


class Touch(NamedTuple):
    """Heat that reaches the liquid in a step."""

    heat: FloatArray
    """[J/m2]."""
    share: FloatArray
    """Rise of it by the heat that the ground would give with its surface at the liquid's temperature."""
    difference: FloatArray
    """Of the ground's surface above the liquid [K]."""
    film: BoolArray
    """Whether a film of vapor parts them."""


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class BoilingContact:
    """Boiling curve of the liquids of each scenario at their boiling points, in powers of the difference.

    Notes
    -----
    The larger of C_c d^(4/3) (convection) and C_n (d - d_b)^3 (bubbles; d_b what the liquid is below its
    boiling point), or C_f (d / d_f)^p where a film has not fallen below its least difference d_f yet.
    """

    boiling_point: FloatArray
    convection: FloatArray
    """C_c [W/m2/K^(4/3)]."""
    bubbles: FloatArray
    """C_n [W/m2/K3]."""
    least_film: FloatArray
    """d_f [K]."""
    film: FloatArray
    """C_f [W/m2]."""
    film_power: FloatArray
    """p."""

    @classmethod
    def prepare(
        cls, fluid: Fluid, boiling_point: FloatArray, ground_temperature: FloatArray
    ) -> BoilingContact:
        """Look up a fluid that boils at a temperature on ground at another [K].

        A blend takes the means of its components' curves by mass, each at the blend's boiling point: bubbles
        in blends carry less, which is left out.
        """
        if fluid.is_blend:
            curves = [
                cls.prepare(Fluid(name), boiling_point, ground_temperature) for name in fluid.components
            ]
            return cls._mean(curves, fluid.blend.mass_fractions)
        one = np.ones_like(boiling_point)
        near = BoilingLiquid.prepare(fluid, boiling_point, boiling_point + 5.0)
        least = np.maximum(ground_temperature - boiling_point, 1.0)
        for _ in range(LEAST_PASSES):
            film = near.on_surface(fluid, boiling_point, boiling_point + least)
            least = least_film_difference_berenson(film)
        at_least = film_flux_berenson(film, least)
        wide = FILM_SPAN * least
        hot = near.on_surface(fluid, boiling_point, boiling_point + wide)
        power = np.log(film_flux_berenson(hot, wide) / at_least) / math.log(FILM_SPAN)
        return cls(
            boiling_point=boiling_point,
            convection=convection_flux(near, one),
            bubbles=nucleate_flux_rohsenow(near, one),
            least_film=least,
            film=at_least,
            film_power=power,
        )

    @classmethod
    def _mean(cls, curves: Sequence[BoilingContact], weights: Iterable[float]) -> BoilingContact:
        total: dict[str, FloatArray] = {}
        for curve, weight in zip(curves, weights, strict=True):
            for field in dataclasses.fields(cls):
                part = weight * getattr(curve, field.name)
                total[field.name] = total[field.name] + part if field.name in total else part
        return cls(**total | {"boiling_point": curves[0].boiling_point})

    def select(self, which: NDArray[np.intp], boiling_point: FloatArray) -> BoilingContact:
        """Return some of the scenarios, with boiling points of their own [K]."""
        rows = {f.name: getattr(self, f.name)[which] for f in dataclasses.fields(self)}
        return BoilingContact(**rows | {"boiling_point": boiling_point})

    def reshape(self, shape: tuple[int, ...]) -> BoilingContact:
        """Return the same scenarios in another shape."""
        return BoilingContact(*(np.reshape(getattr(self, f.name), shape) for f in dataclasses.fields(self)))

    def bubbling_difference(self, flux: FloatArray, below: FloatArray | float = 0.0) -> FloatArray:
        """Return the difference at which liquid `below` its boiling point takes a flux without a film [K]."""
        root = np.sqrt(flux / self.convection)
        difference: FloatArray = smaller(root * np.sqrt(root), below + np.cbrt(flux / self.bubbles))
        return difference

    def may_film(self, difference: FloatArray) -> BoolArray:
        """Return where ground so much warmer than the liquid is parted from it by a film at first touch."""
        film: BoolArray = difference > self.least_film
        return film

    def touch(
        self,
        perfect: FloatArray,
        kept: FloatArray,
        length: FloatArray,
        temperature: FloatArray,
        difference: FloatArray,
        film: BoolArray,
    ) -> Touch:
        """Heat in a step over rings first, scenarios last, or of one ring of one scenario.

        Parameters
        ----------
        perfect : ndarray
            Heat that the ground would give with its surface at the liquid's temperature [J/m2].
        kept : ndarray
            Fall of the ground's heat by the difference [J/m2/K].
        length : ndarray
            Of the step [s].
        temperature : ndarray
            Of the liquid [K].
        difference : ndarray
            Where the search begins: that of the last step [K].
        film : ndarray of bool
            Where a film parted them so far.

        Notes
        -----
        perfect - kept d = length q(d), by Newton's method; what the last iteration leaves over stays in the
        ground.
        """
        wanted, keeps = larger(perfect, 0.0) / length, kept / length
        below = larger(self.boiling_point - temperature, 0.0)
        most = smaller(self.bubbling_difference(wanted, below), wanted / larger(keeps, _TINY))
        d = smaller(larger(difference, 0.5 * most), most)
        for _ in range(NEWTON_STEPS):
            q, slope = self._without_film(d, below)
            all_slope = larger(slope + keeps, _TINY)
            d = smaller(larger(d - (q + keeps * d - wanted) / all_slope, 0.0), most)
        share = where(wanted > 0.0, slope / all_slope, 1.0)
        wet = Touch(perfect - kept * d, share, d, d < 0.0)
        return self._with_film(wet, perfect, kept, length, film) if some(film) else wet

    def _without_film(self, d: FloatArray, below: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Flux at a difference and its rise by it, of a liquid some kelvins below its boiling point."""
        rise, over = self.convection * np.cbrt(d), larger(d - below, 0.0)
        calm, square = rise * d, self.bubbles * (over * over)
        stormy = square * over
        slope = where(stormy > calm, 3.0 * square, _FOUR_THIRDS * rise)
        return larger(stormy, calm), slope

    def tangent(
        self, difference: FloatArray, temperature: FloatArray, film: BoolArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return conductance [W/m2/K] and temperature [K] that stand for boiling near a difference.

        What meets the ground's surface at that temperature through that conductance takes as much heat from
        it, to first order, as the liquid does: Newton's method.
        """
        d = larger(difference, LEAST_DIFFERENCE)
        q, slope = self._without_film(d, larger(self.boiling_point - temperature, 0.0))
        if some(film):
            through = self.film * np.power(d / self.least_film, self.film_power)
            q = where(film, through, q)
            slope = where(film, self.film_power * through / d, slope)
        return slope, temperature + d - q / slope

    def _with_film(
        self, wet: Touch, perfect: FloatArray, kept: FloatArray, length: FloatArray, film: BoolArray
    ) -> Touch:
        """Replace `wet` where a film of vapor still parts liquid and ground."""
        least, p = self.least_film, self.film_power
        still = film & (perfect > length * self.film + kept * least)
        if not some(still):
            return wet
        d = least
        for _ in range(FILM_STEPS):
            q = length * self.film * np.power(d / least, p)
            slope = p * q / d
            d = where(still, d - (q + kept * d - perfect) / (slope + kept), d)
        return Touch(
            heat=where(still, perfect - kept * d, wet.heat),
            share=where(still, slope / (slope + kept), wet.share),
            difference=where(still, d, wet.difference),
            film=still,
        )
