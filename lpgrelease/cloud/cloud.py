"""`CloudReach`, the result of `flammable_reach`, and what can be read from it."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lpgrelease.cloud.monitor import MonitorReading, sensor_correction_factor
from lpgrelease.cloud.section import crosswind_profile
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import (
    MOST_POINTS,
    FloatArray,
    QuantityLike,
    broadcast,
    require_kind,
    require_whole,
    to_si,
)
from lpgrelease.results import BoolArray, Result, StringArray, plain, quantity, result

__all__ = ["BROAD", "CAUTIONS", "LEVELS", "CloudPlanes", "CloudReach"]

LEVELS: Final = (1.0, 0.5, 0.25, 0.1)
"""Fractions of the lower flammable limit for which every cloud is measured."""
_SPREAD_OF_DEPTH: Final = math.sqrt(2.0 / math.pi)

BROAD: Final = (
    "Heavy gas goes farther aside or upwind than downwind here: the wind is too light for its source. Stay "
    "away on every side, and do not trust the distance downwind, which is short where gas lies thin and wide."
)
CAUTIONS: Final = (
    "An estimate, not an instruction: in trials over flat open ground it misses by more than a factor of two "
    "in concentration in a third of the points; hollows, buildings and slopes are not described.",
    "Gas can lie where a monitor held at the chest reads nothing: cold vapor hugs the ground. Probe low, "
    "approach from uphill and upwind, and turn back at a tenth of the lower limit.",
    "In a calm, vapor runs downhill and to all sides: no distance here holds then.",
    "The authority in charge, local codes and licensed practice decide.",
)


@result
class CloudPlanes(Result):
    """Planes across the cloud, from the source downwind."""

    distance: FloatArray = quantity("m", "downwind from the source", dims=("plane",))
    time: FloatArray = quantity("s", "since the gas left the source, with the mean flow", dims=("plane",))
    speed: FloatArray = quantity("m/s", "of the layer", dims=("plane",))
    half_width: FloatArray = quantity("m", "half the width of the core", dims=("plane",))
    edge_spread: FloatArray = quantity("m", "lateral spread of the core's edges", dims=("plane",))
    depth: FloatArray = quantity("m", "of a layer of the same gas at ground-level density", dims=("plane",))
    mole_fraction: FloatArray = quantity("", "of the gas, in the core at the ground", dims=("plane",))
    temperature: FloatArray = quantity("K", "in the core", dims=("plane",))
    density: FloatArray = quantity("kg/m**3", "in the core", dims=("plane",))
    drops: FloatArray = quantity("", "mass of drops over mass of gas", dims=("plane",))
    served_by: StringArray = quantity("", "which part of the model served", dims=("plane",))


@result
class CloudReach(Result):
    """How far, wide and high a cloud reaches; ``level_...`` has an axis of 1, 1/2, 1/4, 1/10 of the limit.

    Distances run downwind from the middle of the source. distance_low and distance_high allow for a factor of
    two in concentration. In light wind heavy gas spreads to all sides: `radius` holds on every side.
    """

    distance: FloatArray = quantity("m", "to the fraction of the lower limit")
    distance_low: FloatArray = quantity("m", "the same if the true concentration is half the computed one")
    distance_high: FloatArray = quantity("m", "the same if the true concentration is twice the computed one")
    radius: FloatArray = quantity("m", "from the source to the farthest point of that contour, on any side")
    radius_high: FloatArray = quantity("m", "the same if the true concentration is twice the computed one")
    upwind: FloatArray = quantity("m", "how far a source without momentum spreads upwind from its middle")
    width: FloatArray = quantity("m", "greatest full width of that contour at the ground")
    height: FloatArray = quantity("m", "greatest height of that contour")
    flammable_mass: FloatArray = quantity("kg", "gas between its lower and upper limit")
    arrival_time: FloatArray = quantity("s", "until the gas is at that distance")
    clearing_time: FloatArray = quantity("s", "after the leak stops, until that contour is empty")
    served_by: StringArray = quantity("", "which part of the model served at that distance")
    level_distance: FloatArray = quantity("m", "to 1, 1/2, 1/4, 1/10 of the lower limit", dims=("level",))
    level_width: FloatArray = quantity("m", "full width at these levels", dims=("level",))
    level_height: FloatArray = quantity("m", "height at these levels", dims=("level",))
    fraction: FloatArray = quantity("", "of the lower limit, as asked")
    lower_flammable_limit: FloatArray = quantity("", "mole fraction in air")
    stability: StringArray = quantity("", "Pasquill's class")
    wind_speed: FloatArray = quantity("m/s", "wind at 10 m that was used")
    calm: BoolArray = quantity("", "wind below the model's range: distances are those at its edge")
    broad: BoolArray = quantity("", "whether the contour goes farther aside or upwind than downwind")
    steady: BoolArray = quantity("", "whether the leak lasts long enough to fill the cloud")
    planes: CloudPlanes = plain("planes across the cloud")
    fluid: str = plain("name of the gas")
    cautions: tuple[str, ...] = plain("what to keep in mind before acting on it", default=CAUTIONS)

    def mole_fraction(
        self, distance: QuantityLike, *, crosswind: QuantityLike = 0.0, height: QuantityLike = 0.0
    ) -> FloatArray:
        """Mole fraction of the gas at a point.

        Parameters
        ----------
        distance, crosswind, height : number, array or quantity
            Downwind from the source, aside of the axis, above the ground [m]; they broadcast with the
            scenarios. Not farther than the cloud was followed, a twentieth of the lower limit or less.

        Raises
        ------
        InputError, OutOfRangeError
        """
        x = to_si(distance, "m", "distance", lower=0.0, why="downwind of the source")
        y = to_si(crosswind, "m", "crosswind")
        z = to_si(height, "m", "height", lower=0.0)
        x, y, z, _ = broadcast(distance=x, crosswind=y, height=z, scenarios=self.distance)
        farthest = np.broadcast_to(self.planes.distance[..., -1], x.shape)
        beyond = x > farthest
        if np.any(beyond):
            at = np.flatnonzero(beyond)[0]
            raise OutOfRangeError(
                "distance", float(np.ravel(x)[at]), "m", 0.0, float(np.ravel(farthest)[at]), "planes followed"
            )
        b, s, h, core = self._planes_at(x)
        spread = h * _SPREAD_OF_DEPTH
        return np.asarray(core * crosswind_profile(y, b, s) * np.exp(-0.5 * (z / spread) * (z / spread)))[()]

    def monitor(
        self,
        distance: QuantityLike,
        *,
        crosswind: QuantityLike = 0.0,
        height: QuantityLike = 0.3,
        calibration_gas: str = "methane",
        correction_factor: QuantityLike | None = None,
    ) -> MonitorReading:
        """Give what a combustible-gas monitor shows at a point.

        Parameters
        ----------
        distance, crosswind, height : number, array or quantity
            As for `mole_fraction` [m].
        calibration_gas : str
            On which the monitor was calibrated; see `sensor_correction_factor`.
        correction_factor : number or array, optional
            From the monitor's own list, instead; 0.2 to 5.

        Returns
        -------
        MonitorReading
            Readings above 100 are off the display. Catalytic sensors need air: in gas far above its limits
            they can fall back to nothing.
        """
        require_kind(calibration_gas, str, "calibration_gas")
        y = self.mole_fraction(distance, crosswind=crosswind, height=height)
        if correction_factor is None:
            correction_factor = sensor_correction_factor(Fluid(self.fluid), calibration_gas)
        factor = to_si(correction_factor, "", "correction_factor", lower=0.2, upper=5.0)
        truth = 100.0 * y / self.lower_flammable_limit
        percent, factor = broadcast(percent=truth, correction_factor=factor)
        return MonitorReading(
            mole_fraction=np.broadcast_to(y, percent.shape)[()],
            percent_of_limit=percent[()],
            reading=(percent / factor)[()],
            correction_factor=factor[()],
            cautions=self.cautions,
            provenance=self.provenance,
        )

    def contour(self, fraction: float = 1.0, *, points: int = 200) -> tuple[FloatArray, FloatArray]:
        """Outline at the ground of one scenario's cloud at a fraction of the lower limit.

        Parameters
        ----------
        fraction : float
            Of the lower flammable limit.
        points : int
            Along the axis.

        Returns
        -------
        tuple of ndarray
            Distance downwind and half-width [m].

        Raises
        ------
        InputError
            Of several scenarios.
        """
        if np.ndim(self.distance):
            raise InputError("contour: take the cloud of one scenario")
        require_whole(points, 2, MOST_POINTS, "points")
        wanted = to_si(fraction, "", "fraction", lower=0.01, upper=10.0)
        if np.ndim(wanted):
            raise InputError("contour: give one fraction")
        wanted = wanted * self.lower_flammable_limit
        x = np.linspace(0.0, float(self.planes.distance[-1]), points)
        b, s, _, core = self._planes_at(x)
        inner, outer = np.zeros_like(x), b + 6.0 * s + 1e-9
        for _ in range(40):
            middle = 0.5 * (inner + outer)
            inside = core * crosswind_profile(middle, b, s) >= wanted
            inner, outer = np.where(inside, middle, inner), np.where(inside, outer, middle)
        return x, inner

    def _planes_at(self, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Half-width, edge spread, depth and core fraction at distances, linear between planes."""
        planes = self.planes.distance
        count = planes.shape[-1]
        after: NDArray[np.intp] = np.ones(x.shape, dtype=np.intp)
        for i in range(1, count - 1):
            after = after + (x > planes[..., i])
        values: list[FloatArray] = []
        low_x, high_x = _pick(planes, after - 1, x.shape), _pick(planes, after, x.shape)
        gap = high_x - low_x
        share = np.clip((x - low_x) / np.where(gap > 0.0, gap, 1.0), 0.0, 1.0)
        fields = (self.planes.half_width, self.planes.edge_spread, self.planes.depth)
        for field in (*fields, np.log(self.planes.mole_fraction)):
            low = _pick(field, after - 1, x.shape)
            values.append(low + share * (_pick(field, after, x.shape) - low))
        return values[0], values[1], values[2], np.exp(values[3])


def _pick(field: FloatArray, plane: NDArray[np.intp], shape: tuple[int, ...]) -> FloatArray:
    wide = np.broadcast_to(field, (*shape, field.shape[-1]))
    return np.asarray(np.take_along_axis(wide, plane[..., None], axis=-1)[..., 0])
