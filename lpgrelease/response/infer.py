"""Working backward: how full a tank is and how large its leak, from gauge readings."""

from __future__ import annotations

import dataclasses
from typing import Any, NamedTuple

import numpy as np

from lpgrelease.constants import ZERO_GAUGE_READING
from lpgrelease.errors import ConvergenceError, InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray, QuantityLike, to_si
from lpgrelease.release import Opening
from lpgrelease.results import Provenance, Result, plain, quantity, result
from lpgrelease.tank import Contents, tank_history
from lpgrelease.tank.shapes import Tank
from lpgrelease.weather import Weather

__all__ = ["InferredLeak", "infer_leak"]

REACH = 3.0
"""The search reaches this many spreads to either side of what was known before."""
ROWS, COLUMNS, STAGES = 21, 25, 3
"""Fills, and diameters for each, that are tried at once; how often the search closes in."""
FAR = 18.0
"""What is worse than the best by this in the sum of squares has a weight of 1e-4 and is left."""
ROUNDS = 20
STEP = 1e-3
"""Of the differences that stand for derivatives, in spreads."""
SETTLED = 1e-3
"""Step at which Gauss-Newton ends, in spreads."""
LEARNT = 0.5
"""A quantity counts as told by the readings where they shrink its spread below this part."""
UNSEEN = 0.1
"""Part of a reading's spread below which a gauge pressure is not followed further."""
FILLS = (0.02, 0.98)
"""Lowest and highest fill that is tried."""
POOR_FIT = 3.0
"""Misfit from which nothing fits, in spreads of a reading."""
NO_FIT = (
    "No fill and size that was tried explains these readings: something else is open, or was read wrong. Do "
    "not use what is told here."
)
CAUTIONS = (
    "Readings of a dial are coarse, and a tank that is not at one temperature misleads them: use this as a "
    "guess to plan with, and read again.",
)


@result
class InferredLeak(Result):
    """What the readings say together with what was known before; spreads are standard deviations."""

    fill: FloatArray = quantity("", "liquid volume fraction at the first reading")
    fill_spread: FloatArray = quantity("", "its spread")
    diameter: FloatArray = quantity("m", "of the leak")
    diameter_spread: FloatArray = quantity("m", "its spread")
    correlation: FloatArray = quantity("", "of fill and ln(diameter), -1 to 1")
    misfit: FloatArray = quantity("Pa", "root mean square of readings less model")
    fits: bool = plain("whether any fill and size explain the readings; do not use the rest where not")
    tells_fill: bool = plain("whether the readings say more of the fill than was known before")
    tells_diameter: bool = plain("whether they say more of the leak's size than was known before")
    contents: Contents = plain("the tank at the first reading, as inferred")
    leak: Opening = plain("the leak, as inferred")
    cautions: tuple[str, ...] = plain("read before acting")


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """Readings and what is known before; unknowns are offsets in spreads of (fill, ln diameter)."""

    tank: Tank
    fluid: Fluid
    leak: Opening
    others: tuple[Opening, ...]
    weather: Weather
    temperature: float
    times: FloatArray
    readings: FloatArray
    reading_spread: float
    lowest: float | None
    """Gauge pressure below which the model need not follow [Pa]; None: it is there from the start."""
    fill: tuple[float, float]
    log_diameter: tuple[float, float]

    def natural(self, offset: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Fill and diameter of offsets (..., 2)."""
        fill = np.clip(self.fill[0] + self.fill[1] * offset[..., 0], *FILLS)
        return fill, np.exp(self.log_diameter[0] + self.log_diameter[1] * offset[..., 1])

    def residual(self, offset: FloatArray) -> FloatArray:
        """Return model less readings, and offsets, in spreads, (..., readings + 2) of offsets (..., 2)."""
        fill, diameter = self.natural(offset)
        hole = dataclasses.replace(self.leak, diameter=diameter[..., None])
        contents = Contents(self.tank, self.fluid, fill=fill[..., None], temperature=self.temperature)
        run = tank_history(
            contents,
            openings=[hole, *self.others],
            weather=self.weather,
            duration=self.times,
            stop_at_gauge_pressure=self.lowest,
            points=2,
        )
        gauge = run.pressure[..., -1] - np.asarray(self.weather.ambient_pressure)
        return np.concatenate([(gauge - self.readings) / self.reading_spread, offset], axis=-1)


def infer_leak(
    tank: Tank,
    fluid: Fluid,
    *,
    times: QuantityLike,
    gauge_pressures: QuantityLike,
    leak: Opening,
    openings: tuple[Opening, ...] | list[Opening] = (),
    weather: Weather | None = None,
    fill: QuantityLike = 0.5,
    fill_spread: QuantityLike = 0.25,
    diameter_factor: QuantityLike = 3.0,
    reading_spread: QuantityLike = 7e3,
) -> InferredLeak:
    """Fill of a tank and size of its leak from one gauge reading now and others later.

    Parameters
    ----------
    tank : HorizontalTank, VerticalTank or SphericalTank
    fluid : Fluid
    times : array or quantity
        Of the readings [s]; the first is where the history starts.
    gauge_pressures : array or quantity
        The readings [Pa], as many. The first gives the temperature, as that of saturation.
    leak : Opening
        Where the leak is; its diameter is the best guess.
    openings : sequence of Opening
        Others that are open meanwhile and known: a vent.
    weather : Weather, optional
    fill, fill_spread : number
        What is known of the fill before: best guess and standard deviation.
    diameter_factor : number
        What is known of the diameter: the guess may be off by this factor either way (one standard deviation
        of its logarithm), above 1.
    reading_spread : number or quantity
        Standard deviation of a reading [Pa]; the default is one psi, a common dial's.

    Returns
    -------
    InferredLeak

    Raises
    ------
    InputError, OutOfRangeError
        Fewer than two readings, times that do not rise, wrong kinds.
    ConvergenceError
        The search does not settle.

    Notes
    -----
    Weighted least squares of readings and of what was known before (the most likely values for normal
    errors), by Gauss-Newton steps from the best of a search. The spread is the root mean square of the error
    over all fills and sizes, each weighted by exp(-squares/2) as the search finds them: valleys may be
    bent, and there may be two. Fills from 2 to 98 % are tried. With vapor alone fill and size move the
    pressure alike: a fuller tank with a larger leak reads the same, `correlation` nears 1, and the fill stays
    about as vague as it was, which `tells_fill` and `tells_diameter` say. A gauge at zero tells nothing more.

    References
    ----------
    aster2018inverse, chapters 9 and 11 (from memory).

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0, heat_transfer=170.0)
    >>> found = lr.infer_leak(
    ...     tank,
    ...     lr.Fluid("propane"),
    ...     times=[0.0, 600.0, 1200.0],
    ...     gauge_pressures=[7.35e5, 6.0e5, 4.9e5],
    ...     leak=lr.Opening(diameter=0.02, height=1.04),
    ... )
    >>> print(f"{found.fill:.2f} +- {found.fill_spread:.2f}, {found.diameter * 1e3:.0f} mm")
    0.53 +- 0.21, 10 mm
    """
    problem = _problem(
        tank, fluid, times, gauge_pressures, leak, openings, weather, fill, fill_spread, diameter_factor,
        reading_spread,
    )  # fmt: skip
    posterior = _search(problem)
    best = np.unravel_index(np.argmin(posterior.squares), posterior.squares.shape)
    offset, rest = _solve(problem, posterior.offsets[best])
    covariance = posterior.moments(offset)
    spread = np.sqrt(np.diag(covariance))
    found_fill, diameter = (float(value) for value in problem.natural(offset))
    later = rest[: problem.readings.size] * problem.reading_spread
    misfit = float(np.sqrt(np.mean(later * later)))
    fits = misfit < POOR_FIT * problem.reading_spread
    return InferredLeak(
        fill=np.asarray(found_fill),
        fill_spread=np.asarray(spread[0] * problem.fill[1]),
        diameter=np.asarray(diameter),
        diameter_spread=np.asarray(diameter * spread[1] * problem.log_diameter[1]),
        correlation=np.asarray(covariance[0, 1] / (spread[0] * spread[1])),
        misfit=np.asarray(misfit),
        fits=fits,
        tells_fill=bool(spread[0] < LEARNT),
        tells_diameter=bool(spread[1] < LEARNT),
        contents=Contents(tank, fluid, fill=found_fill, temperature=problem.temperature),
        leak=dataclasses.replace(problem.leak, diameter=diameter),
        cautions=CAUTIONS if fits else (NO_FIT, *CAUTIONS),
        provenance=Provenance("least squares of gauge readings", ("aster2018inverse",), fluid.credit),
    )


def _problem(
    tank: Any, fluid: Any, times: Any, gauge_pressures: Any, leak: Any, openings: Any, weather: Any,
    fill: Any, fill_spread: Any, diameter_factor: Any, reading_spread: Any,
) -> _Problem:  # fmt: skip
    """Check every argument."""
    weather = Weather() if weather is None else weather
    for name, value, kind in (
        ("tank", tank, Tank),
        ("fluid", fluid, Fluid),
        ("leak", leak, Opening),
        ("weather", weather, Weather),
    ):
        if not isinstance(value, kind):
            raise InputError(f"{name} must be {kind.__name__}, got {value!r}")
    if not all(isinstance(item, Opening) for item in openings):
        raise InputError(f"openings must be a sequence of Opening, got {openings!r}")
    t = np.atleast_1d(to_si(times, "s", "times"))
    p = np.atleast_1d(to_si(gauge_pressures, "Pa", "gauge_pressures", lower=0.0))
    if t.ndim != 1 or t.shape != p.shape or t.size < 2 or not np.all(np.diff(t) > 0.0):
        raise InputError("times and gauge_pressures must be rows of one length, two or more, times rising")
    start = fluid.pressure_range(p[0] + weather.ambient_pressure, "first gauge pressure + ambient_pressure")
    guess = _one(to_si(fill, "", "fill", lower=FILLS[0], upper=FILLS[1]), "fill")
    wide = _one(to_si(fill_spread, "", "fill_spread", lower=0.0, upper=1.0, open_lower=True), "fill_spread")
    within = to_si(diameter_factor, "", "diameter_factor", lower=1.0, upper=100.0, open_lower=True)
    factor = _one(within, "diameter_factor")
    coarse = _one(to_si(reading_spread, "Pa", "reading_spread", lower=0.0, open_lower=True), "reading_spread")
    lowest = min(ZERO_GAUGE_READING, UNSEEN * coarse)
    return _Problem(
        tank=tank,
        fluid=fluid,
        leak=leak,
        others=tuple(openings),
        weather=weather,
        temperature=float(fluid.saturation_temperature(start)),
        times=t[1:] - t[0],
        readings=p[1:],
        reading_spread=coarse,
        lowest=lowest if p[0] > lowest else None,
        fill=(guess, wide),
        log_diameter=(float(np.log(leak.diameter)), float(np.log(factor))),
    )


def _one(number: FloatArray, name: str) -> float:
    if np.size(number) != 1:
        raise InputError(f"{name} must be one number, got shape {np.shape(number)}")
    return float(np.ravel(number)[0])


class _Posterior(NamedTuple):
    """Offsets (fills, diameters, 2) that matter, their squares, and the width of each row of diameters."""

    offsets: FloatArray
    squares: FloatArray
    width: FloatArray

    def moments(self, around: FloatArray) -> FloatArray:
        """Return the mean of the products of errors around a solution, (2, 2)."""
        weight = np.exp(-0.5 * (self.squares - self.squares.min())) * self.width[:, None]
        error = self.offsets - around
        products = error[..., :, None] * error[..., None, :] * weight[..., None, None]
        total: FloatArray = products.sum(axis=(0, 1)) / weight.sum()
        return total


def _search(problem: _Problem) -> _Posterior:
    """Close in on the offsets that matter: a band of diameters for each fill, ever narrower."""
    fills = np.linspace(-REACH, REACH, ROWS)
    low, high = np.full(ROWS, -REACH), np.full(ROWS, REACH)
    steps = np.linspace(0.0, 1.0, COLUMNS)
    for stage in range(STAGES):
        sizes = low[:, None] + (high - low)[:, None] * steps
        offsets = np.stack([np.broadcast_to(fills[:, None], sizes.shape), sizes], axis=-1)
        squares = _squares(problem.residual(offsets))
        if stage < STAGES - 1:
            fills, low, high = _narrowed(fills, sizes, squares)
    return _Posterior(offsets, squares, high - low)


def _narrowed(
    fills: FloatArray, sizes: FloatArray, squares: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return fills and bands of diameters around what is not far worse than the best, one cell to spare."""
    best, cell = squares.min(axis=-1), sizes[:, 1] - sizes[:, 0]
    kept = squares < best[:, None] + FAR
    rows = np.arange(ROWS)
    low = sizes[rows, np.argmax(kept, axis=-1)] - cell
    high = sizes[rows, COLUMNS - 1 - np.argmax(kept[:, ::-1], axis=-1)] + cell
    near = np.flatnonzero(best < best.min() + FAR)
    finer = np.linspace(fills[max(near[0] - 1, 0)], fills[min(near[-1] + 1, ROWS - 1)], ROWS)
    return finer, np.interp(finer, fills, low), np.interp(finer, fills, high)


def _solve(problem: _Problem, start: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Offsets of least squares and the residual there, by Gauss-Newton steps from `start`."""
    offset = start
    shifts = np.array([[0.0, 0.0], [STEP, 0.0], [-STEP, 0.0], [0.0, STEP], [0.0, -STEP]])
    lengths = np.array([1.0, 0.5, 0.25, 0.1, 0.03, 0.0])[:, None]
    for _ in range(ROUNDS):
        around = problem.residual(offset + shifts)
        rest = around[0]
        jacobian = np.stack([around[1] - around[2], around[3] - around[4]], axis=-1) / (2.0 * STEP)
        step = -np.linalg.solve(jacobian.T @ jacobian, jacobian.T @ rest)
        tried = offset + lengths * step
        best = int(np.argmin(_squares(problem.residual(tried))))
        if lengths[best, 0] == 0.0 or float(np.max(np.abs(step))) < SETTLED:
            return offset, rest
        offset = tried[best]
    raise ConvergenceError("least squares of gauge readings", float(np.max(np.abs(step))), {})


def _squares(residual: FloatArray) -> FloatArray:
    total: FloatArray = (residual * residual).sum(axis=-1)
    return total
