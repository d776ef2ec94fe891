"""What is known of an uncertain input: distributions, read by their quantiles."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.quantities import FloatArray, QuantityLike, to_si

__all__ = ["Distribution", "choice", "lognormal", "normal", "triangular", "uniform"]

BASE_UNITS = {
    "[mass]": "kg",
    "[length]": "m",
    "[time]": "s",
    "[temperature]": "K",
    "[substance]": "mol",
    "[current]": "A",
    "[luminosity]": "cd",
}
NAMED_UNITS = {
    "kg*m*s**-2": "N",
    "kg*m**-1*s**-2": "Pa",
    "kg*m**2*s**-2": "J",
    "kg*m**2*s**-3": "W",
    "kg*s**-1": "kg/s",
    "m*s**-1": "m/s",
}
"""Units whose names are shorter than their powers."""


@dataclasses.dataclass(frozen=True, slots=True)
class Distribution:
    """A distribution of one uncertain number [its SI unit], made by `uniform` and its like.

    Parameters
    ----------
    kind : str
        Name of the function that made it.
    numbers : tuple of (str, value)
        What it was given, in SI.
    unit : str
        SI unit; "" for a pure number and for plain numbers whose unit was not said.
    """

    kind: str
    numbers: tuple[tuple[str, Any], ...]
    unit: str = ""

    def quantile(self, probability: FloatArray) -> NDArray[Any]:
        """Values below which the fractions `probability` lie, each strictly between 0 and 1."""
        numbers = dict(self.numbers)
        found = QUANTILES[self.kind](probability, **numbers)
        if "lower" in numbers:  # round-off alone could pass an end
            found = np.clip(found, numbers["lower"], numbers["upper"])
        return found


def uniform(lower: QuantityLike, upper: QuantityLike, *, unit: str = "") -> Distribution:
    """Every value between two ends is as likely as any other.

    Parameters
    ----------
    lower, upper : number or quantity
        The ends, `lower` below `upper`.
    unit : str
        SI unit of plain numbers, for the record; a quantity brings its own.

    Returns
    -------
    Distribution
        For `lpgrelease.study`.

    Raises
    ------
    InputError
        Kinds, dimensions or order are wrong; `unit` is not coherent SI.

    Examples
    --------
    >>> import numpy as np
    >>> uniform(0.0, 4.0).quantile(np.array([0.25, 0.5]))
    array([1., 2.])
    """
    unit = _unit(unit, lower, upper)
    ends = {"lower": _one(lower, unit, "lower"), "upper": _one(upper, unit, "upper")}
    if not ends["lower"] < ends["upper"]:
        raise InputError(f"lower must be below upper, got {ends['lower']:.8g} and {ends['upper']:.8g}")
    return Distribution("uniform", tuple(ends.items()), unit)


def normal(
    mean: QuantityLike,
    standard_deviation: QuantityLike,
    *,
    lower: QuantityLike | None = None,
    upper: QuantityLike | None = None,
    unit: str = "",
) -> Distribution:
    """Gauss's bell, cut off at the ends where they are given.

    Parameters
    ----------
    mean : number or quantity
        Mean before it is cut off.
    standard_deviation : number or quantity
        Standard deviation before it is cut off, above zero; of a temperature a difference.
    lower, upper : number or quantity, optional
        Ends: what lies beyond is left out, and the rest scaled up.
    unit : str
        SI unit of plain numbers, for the record; a quantity brings its own.

    Returns
    -------
    Distribution
        For `lpgrelease.study`.

    Raises
    ------
    InputError, OutOfRangeError
        Kinds, dimensions or order are wrong; nothing lies between the ends; `unit` is not coherent SI.

    Examples
    --------
    >>> import numpy as np
    >>> normal(293.15, 5.0, unit="K").quantile(np.array([0.5, 0.975])).round(2)
    array([293.15, 302.95])
    """
    unit = _unit(unit, mean, standard_deviation, lower, upper)
    numbers = {
        "mean": _one(mean, unit, "mean"),
        "standard_deviation": _one(
            standard_deviation, unit, "standard_deviation", lower=0.0, open_lower=True, difference=True
        ),
    }
    return Distribution("normal", (*numbers.items(), *_ends(lower, upper, unit, numbers, "normal")), unit)


def lognormal(
    median: QuantityLike,
    geometric_deviation: float,
    *,
    lower: QuantityLike | None = None,
    upper: QuantityLike | None = None,
    unit: str = "",
) -> Distribution:
    """Lognormal distribution: the logarithm is normal. For what varies by a factor.

    Parameters
    ----------
    median : number or quantity
        Median before it is cut off, above zero.
    geometric_deviation : float
        Factor of one standard deviation, above 1 [-]: two thirds of all, about, lie between the median
        divided by it and the median times it.
    lower, upper : number or quantity, optional
        Ends: what lies beyond is left out, and the rest scaled up.
    unit : str
        SI unit of plain numbers, for the record; a quantity brings its own.

    Returns
    -------
    Distribution
        For `lpgrelease.study`.

    Raises
    ------
    InputError, OutOfRangeError
        Kinds, dimensions or order are wrong; nothing lies between the ends; `unit` is not coherent SI.

    Examples
    --------
    >>> import numpy as np
    >>> lognormal(2.0, 1.5, unit="m/s").quantile(np.array([0.5]))
    array([2.])
    """
    unit = _unit(unit, median, lower, upper)
    numbers = {
        "median": _one(median, unit, "median", lower=0.0, open_lower=True),
        "geometric_deviation": _one(
            geometric_deviation, "", "geometric_deviation", lower=1.0, open_lower=True
        ),
    }
    ends = _ends(lower, upper, unit, numbers, "lognormal")
    return Distribution("lognormal", (*numbers.items(), *ends), unit)


def triangular(
    lower: QuantityLike, mode: QuantityLike, *, upper: QuantityLike, unit: str = ""
) -> Distribution:
    """Likeliest at the mode, falling linearly to nothing at both ends.

    Parameters
    ----------
    lower : number or quantity
        Lower end.
    mode : number or quantity
        Likeliest value, between the ends or at one of them.
    upper : number or quantity
        Upper end.
    unit : str
        SI unit of plain numbers, for the record; a quantity brings its own.

    Returns
    -------
    Distribution
        For `lpgrelease.study`.

    Raises
    ------
    InputError
        Kinds, dimensions or order are wrong; `unit` is not coherent SI.

    Examples
    --------
    >>> import numpy as np
    >>> triangular(0.0, 1.0, upper=2.0).quantile(np.array([0.125, 0.5]))
    array([0.5, 1. ])
    """
    unit = _unit(unit, lower, mode, upper)
    named = {"lower": lower, "mode": mode, "upper": upper}
    numbers = {name: _one(value, unit, name) for name, value in named.items()}
    a, c, b = numbers.values()
    if not (a <= c <= b and a < b):
        raise InputError(f"lower, mode and upper must rise, got {a:.8g}, {c:.8g} and {b:.8g}")
    return Distribution("triangular", tuple(numbers.items()), unit)


def choice(
    values: Sequence[Any] | QuantityLike,
    *,
    probabilities: Sequence[float] | None = None,
    unit: str = "",
) -> Distribution:
    """One of several values: numbers, or names that the model knows.

    Parameters
    ----------
    values : sequence of numbers or of str, or quantity that holds an array
        What there is to choose from; each once.
    probabilities : sequence of float, optional
        How likely each is [-], together 1. None: all alike.
    unit : str
        SI unit of plain numbers, for the record; a quantity brings its own.

    Returns
    -------
    Distribution
        For `lpgrelease.study`.

    Raises
    ------
    InputError, OutOfRangeError
        No values, values of mixed kind or twice, probabilities that do not fit.

    Examples
    --------
    >>> import numpy as np
    >>> choice(["clay", "moist sand"], probabilities=[0.2, 0.8]).quantile(np.array([0.1, 0.5]))
    array(['clay', 'moist sand'], dtype='<U10')
    """
    names = isinstance(values, (list, tuple)) and len(values) and all(isinstance(v, str) for v in values)
    unit = "" if names else _unit(unit, values)
    chosen = list(values) if names else np.atleast_1d(to_si(values, unit, "values")).tolist()
    if np.ndim(chosen) != 1 or not 0 < len(chosen) == len(set(chosen)):
        raise InputError(f"values must be a row of different values, got {values!r}")
    if probabilities is None:
        weights = [1.0 / len(chosen)] * len(chosen)
    else:
        weights = np.atleast_1d(to_si(probabilities, "", "probabilities", lower=0.0, upper=1.0)).tolist()
    if len(weights) != len(chosen) or abs(sum(weights) - 1.0) > 1e-9:
        raise InputError(f"probabilities must be {len(chosen)} numbers whose sum is 1, got {probabilities!r}")
    return Distribution("choice", (("values", tuple(chosen)), ("probabilities", tuple(weights))), unit)


# -- quantile functions, by kind --------------------------------------------------------------------------


def _uniform(u: FloatArray, *, lower: float, upper: float) -> FloatArray:
    return lower + (upper - lower) * u


def _normal(
    u: FloatArray, *, mean: float, standard_deviation: float, lower: float, upper: float
) -> FloatArray:
    z = _standard_normal(u, (lower - mean) / standard_deviation, (upper - mean) / standard_deviation)
    return mean + standard_deviation * z


def _lognormal(
    u: FloatArray, *, median: float, geometric_deviation: float, lower: float, upper: float
) -> FloatArray:
    s = np.log(geometric_deviation)
    ends = [np.log(end / median) / s if end / median > 0.0 else -np.inf for end in (lower, upper)]
    found: FloatArray = median * np.exp(s * _standard_normal(u, *ends))
    return found


def _standard_normal(u: FloatArray, lower: float, upper: float) -> FloatArray:
    """Quantiles of the standard normal distribution between two ends, taken in the nearer tail."""
    from scipy.special import ndtr, ndtri

    if lower > 0.0:
        return -_standard_normal(1.0 - u, -upper, -lower)
    below = ndtr(lower)
    found: FloatArray = ndtri(below + u * (ndtr(upper) - below))
    return found


def _triangular(u: FloatArray, *, lower: float, mode: float, upper: float) -> FloatArray:
    a, c, b = lower, mode, upper
    rising = a + np.sqrt(u * (b - a) * (c - a))
    falling = b - np.sqrt((1.0 - u) * (b - a) * (b - c))
    return np.where(u * (b - a) < c - a, rising, falling)


def _choice(u: FloatArray, *, values: tuple[Any, ...], probabilities: tuple[float, ...]) -> NDArray[Any]:
    steps = np.cumsum(probabilities)[:-1]
    return np.array(values)[np.searchsorted(steps, u, side="right")]


QUANTILES: dict[str, Callable[..., NDArray[Any]]] = {
    "uniform": _uniform,
    "normal": _normal,
    "lognormal": _lognormal,
    "triangular": _triangular,
    "choice": _choice,
}


# -- the boundary -----------------------------------------------------------------------------------------


def si_unit(value: Any) -> str:
    """SI unit of a pint quantity, from its dimensions alone; "" for a plain number."""
    if not hasattr(value, "m_as"):
        return ""
    known = {name: power for name, power in value.dimensionality.items() if power}
    strange = sorted(set(known) - set(BASE_UNITS))
    if strange:
        raise InputError(f"{value!s} has a dimension without an SI unit: {', '.join(strange)}")
    powers = [(unit, known[name]) for name, unit in BASE_UNITS.items() if name in known]
    spelled = "*".join(unit if power == 1 else f"{unit}**{power:g}" for unit, power in powers)
    return NAMED_UNITS.get(spelled, spelled)


def _unit(said: str, *values: Any) -> str:
    """Return the unit said, once it is seen to be coherent SI, or that of the first quantity."""
    if not isinstance(said, str):
        raise InputError(f"unit must be a str, got {said!r}")
    if not said:
        return next(filter(None, map(si_unit, values)), "")
    import pint

    try:
        one = pint.get_application_registry().Quantity(1.0, said)  # type: ignore[no-untyped-call]
        scale = float(one.m_as(si_unit(one) or "dimensionless"))
    except Exception as error:  # pint has many of its own
        raise InputError(f"unit {said!r} is not known to pint") from error
    if scale != 1.0:
        raise InputError(f"unit says what plain numbers are in, and those are SI: got {said!r}")
    return said


def _one(value: QuantityLike, unit: str, name: str, **limits: Any) -> float:
    number = to_si(value, unit, name, **limits)
    if np.ndim(number):
        raise InputError(f"{name} must be one number, got {np.size(number)}")
    return float(number)


def _ends(
    lower: QuantityLike | None, upper: QuantityLike | None, unit: str, numbers: dict[str, float], kind: str
) -> tuple[tuple[str, float], ...]:
    low = -np.inf if lower is None else _one(lower, unit, "lower")
    high = np.inf if upper is None else _one(upper, unit, "upper")
    if not low < high:
        raise InputError(f"lower must be below upper, got {low:.8g} and {high:.8g}")
    found = QUANTILES[kind](np.array([0.25, 0.75]), **numbers, lower=low, upper=high)
    if not (np.isfinite(found).all() and found[0] < found[1]):
        raise OutOfRangeError("lower", low, unit, None, None, f"nothing of the {kind} lies between the ends")
    return ("lower", float(low)), ("upper", float(high))
