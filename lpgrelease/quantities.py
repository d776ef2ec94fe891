"""The boundary: numbers or pint quantities in, SI floats inside.

Public functions call :func:`to_si` once per argument. Plain numbers and arrays are SI already and
pass with a finiteness and range check; a quantity of any pint registry is converted by its own
registry, so pint is never imported here unless a caller asks for a quantity back.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lpgrelease.constants import STANDARD_ATMOSPHERE
from lpgrelease.errors import InputError, OutOfRangeError

__all__ = [
    "LARGEST",
    "MOST_POINTS",
    "SMALLEST",
    "FloatArray",
    "QuantityLike",
    "broadcast",
    "broadcast_shape",
    "exactly_one",
    "gauge",
    "require_flag",
    "require_kind",
    "require_whole",
    "require_word",
    "to_quantity",
    "to_si",
]

FloatArray: TypeAlias = NDArray[np.float64]
QuantityLike: TypeAlias = Any
"""A number, an array of numbers (SI), or a pint quantity of any registry."""

T = TypeVar("T")

LARGEST = 1e30
"""No magnitude of any argument is above it: fifth powers and products of a few stay finite floats."""
MOST_POINTS = 100_000
"""No history or outline has more points."""
SMALLEST = 1e-30
"""No argument that must be above zero is below it."""
UNCOMPUTABLE = "beyond what can be computed with"


def to_si(
    value: QuantityLike,
    unit: str,
    name: str,
    *,
    lower: float | None = None,
    upper: float | None = None,
    open_lower: bool = False,
    difference: bool = False,
    why: str = "",
) -> FloatArray:
    """Return `value` as SI floats after checking kind, dimension, finiteness and range.

    Parameters
    ----------
    value : number, array_like or pint quantity
        A plain number is taken to be in `unit`.
    unit : str
        SI unit in pint's spelling, "" for a pure number.
    name : str
        The argument's name, for error messages.
    lower, upper : float, optional
        Allowed range, ends included.
    open_lower : bool
        Exclude `lower` itself.
    difference : bool
        `value` is a temperature difference: units with an offset zero are refused.
    why : str
        What the range stands for, for the error message.

    Returns
    -------
    numpy.float64 or ndarray of float64
        SI values of the shape of `value`.

    Raises
    ------
    InputError
        Wrong kind or dimension, an offset unit for a difference (or the reverse), NaN or infinity.
    OutOfRangeError
        Outside the allowed range; a magnitude above 1e30, or below 1e-30 where zero is excluded, whose
        powers and ratios are no longer numbers.

    Examples
    --------
    >>> to_si(2, "m", "height")
    np.float64(2.0)
    >>> to_si([1.0, -1.0], "m", "height", lower=0.0)
    Traceback (most recent call last):
        ...
    lpgrelease.errors.OutOfRangeError: height = -1 m is outside the allowed range [0, inf) m
    """
    if isinstance(value, (float, int)) and not isinstance(value, bool):
        try:
            number = np.float64(value)
        except OverflowError:
            number = np.float64(math.inf)
        if not abs(number) <= LARGEST:
            _refuse_magnitude(number, unit, name, repr(value))
    else:
        number = _array(value, unit, name, difference)
        sound = np.abs(number) <= LARGEST
        if not sound.all():
            worst = np.ravel(number)[~np.ravel(sound)][0]
            _refuse_magnitude(worst, unit, name, f"{float(worst)!r} among its values")
    if lower is not None or upper is not None:
        _check_range(number, unit, name, lower, upper, open_lower, why)
    return number  # type: ignore[return-value]


def _array(value: Any, unit: str, name: str, difference: bool) -> Any:
    if hasattr(value, "m_as"):
        value = _from_pint(value, unit, name, difference)
    elif hasattr(value, "unit") or hasattr(value, "units"):
        raise InputError(
            f"{name}: {type(value).__name__} carries a unit but is no pint quantity; convert it first"
        )
    elif isinstance(value, (list, tuple)) and _holds_quantity(value):
        raise InputError(f"{name}: give one quantity that holds an array, not a list of quantities")
    if isinstance(value, np.ma.MaskedArray):
        raise InputError(f"{name}: masked arrays are not taken; fill or drop the masked values first")
    try:
        array = np.asarray(value)
    except ValueError as error:
        raise InputError(f"{name} must be a number or a regular array of numbers, got {value!r}") from error
    if array.dtype.kind not in "iuf":
        raise InputError(f"{name} must be a number [{unit or '-'}] or a quantity, got {value!r}")
    array = array.astype(np.float64)
    return array if array.ndim else np.float64(array)


def _holds_quantity(items: Any) -> bool:
    return any(
        _holds_quantity(item) if isinstance(item, (list, tuple)) else hasattr(item, "m_as") for item in items
    )


def _from_pint(quantity: Any, unit: str, name: str, difference: bool) -> Any:
    spelled = format(quantity.units, "D")  # in full, whatever format the registry prefers
    try:
        if unit == "K":
            is_offset = bool(type(quantity)(0.0, quantity.units).m_as("K") != 0.0)
            if "delta_" in spelled and not difference:
                raise InputError(
                    f"{name} is a temperature, got a difference in {spelled}; give degF, degC or K"
                )
            if is_offset and difference:
                raise InputError(
                    f"{name} is a temperature difference, got {quantity!s}; an offset unit has no "
                    "meaning here: write delta_degF or delta_degC"
                )
        return quantity.m_as(unit or "dimensionless")
    except (TypeError, AttributeError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{name} must have the dimension of [{unit or '-'}], got {quantity!s}") from error


def _refuse_magnitude(number: Any, unit: str, name: str, got: str) -> None:
    """Raise for a number that is not finite, or beyond what can be computed with."""
    if not math.isfinite(number):
        raise InputError(f"{name} must be finite, got {got}")
    raise OutOfRangeError(name, float(number), unit, -LARGEST, LARGEST, UNCOMPUTABLE)


def _check_range(
    array: Any, unit: str, name: str, lower: float | None, upper: float | None, open_lower: bool, why: str
) -> None:
    smallest = array if array.ndim == 0 else array.min(initial=np.inf)
    largest = array if array.ndim == 0 else array.max(initial=-np.inf)
    if open_lower and lower == 0.0 and 0.0 < smallest < SMALLEST:
        raise OutOfRangeError(name, float(smallest), unit, SMALLEST, upper, UNCOMPUTABLE)
    if lower is not None and (smallest < lower or (open_lower and smallest == lower)):
        reason = f"{why}, the lower end excluded".lstrip(", ") if open_lower else why
        raise OutOfRangeError(name, float(smallest), unit, lower, upper, reason)
    if upper is not None and largest > upper:
        raise OutOfRangeError(name, float(largest), unit, lower, upper, why)


def broadcast(**arrays: ArrayLike) -> tuple[FloatArray, ...]:
    """Broadcast named SI arrays against one another.

    Raises
    ------
    InputError
        Shapes do not broadcast; the message names every argument with its shape.

    Examples
    --------
    >>> [a.shape for a in broadcast(temperature=np.zeros(3), pressure=1e5)]
    [(3,), (3,)]
    """
    shape = broadcast_shape(**arrays)
    return tuple(
        np.asarray(array) if np.shape(array) == shape else np.broadcast_to(array, shape)
        for array in arrays.values()
    )


def broadcast_shape(**arrays: ArrayLike) -> tuple[int, ...]:
    """Return the shape to which named arrays broadcast.

    Raises
    ------
    InputError
        As `broadcast`.

    Examples
    --------
    >>> broadcast_shape(temperature=np.zeros((3, 1)), pressure=np.zeros(2))
    (3, 2)
    """
    distinct = {np.shape(array) for array in arrays.values()}
    try:
        return np.broadcast_shapes(*distinct)
    except ValueError as error:
        shapes = ", ".join(f"{name} {np.shape(array)}" for name, array in arrays.items())
        raise InputError(f"shapes do not broadcast: {shapes}") from error


def exactly_one(**arguments: Any) -> str:
    """Return the name of the only argument that is not None.

    Raises
    ------
    InputError
        None or more than one was given.
    """
    given = [name for name, value in arguments.items() if value is not None]
    if len(given) != 1:
        raise InputError(f"give exactly one of {', '.join(arguments)}; got {', '.join(given) or 'none'}")
    return given[0]


def require_kind(value: Any, kind: type, name: str) -> None:
    """Raise InputError unless `value` is a `kind`.

    Examples
    --------
    >>> require_kind(300.0, str, "name")
    Traceback (most recent call last):
        ...
    lpgrelease.errors.InputError: name must be a str, got 300.0
    """
    if not isinstance(value, kind):
        article = "an" if kind.__name__[0] in "AEIOU" else "a"
        raise InputError(f"{name} must be {article} {kind.__name__}, got {_briefly(value)}")


def require_flag(value: Any, name: str) -> None:
    """Raise InputError unless `value` is True or False.

    Examples
    --------
    >>> require_flag(1, "extrapolate")
    Traceback (most recent call last):
        ...
    lpgrelease.errors.InputError: extrapolate must be True or False, got 1
    """
    if not isinstance(value, bool | np.bool_):
        raise InputError(f"{name} must be True or False, got {_briefly(value)}")


def require_word(value: Any, words: Iterable[str], name: str) -> None:
    """Raise InputError unless `value` is one of `words`.

    Examples
    --------
    >>> require_word("solid", ("liquid", "vapor"), "phase")
    Traceback (most recent call last):
        ...
    lpgrelease.errors.InputError: phase must be one of liquid, vapor; got 'solid'
    """
    if not isinstance(value, str) or value not in words:
        raise InputError(f"{name} must be one of {', '.join(words)}; got {_briefly(value)}")


def require_whole(value: Any, lower: int, upper: int, name: str) -> None:
    """Raise InputError unless `value` is a whole number from `lower` to `upper`.

    Examples
    --------
    >>> require_whole(1, 2, 10, "points")
    Traceback (most recent call last):
        ...
    lpgrelease.errors.InputError: points must be a whole number of at least 2 and at most 10, got 1
    """
    if isinstance(value, bool) or not isinstance(value, int | np.integer) or not lower <= value <= upper:
        allowed = f"of at least {lower} and at most {upper}"
        raise InputError(f"{name} must be a whole number {allowed}, got {_briefly(value)}")


def _briefly(value: Any) -> str:
    """Return the first line of what `value` says of itself."""
    lines = repr(value).splitlines() or [""]
    return lines[0] if len(lines) == 1 else f"{lines[0]} ..."


def gauge(reading: QuantityLike, *, ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE) -> FloatArray:
    """Absolute pressure from a gauge reading.

    Parameters
    ----------
    reading : number, array or quantity
        Gauge pressure [Pa]; at or above a perfect vacuum.
    ambient_pressure : number, array or quantity
        Absolute pressure of the air around the gauge [Pa].

    Returns
    -------
    float or ndarray
        Absolute pressure [Pa].

    Raises
    ------
    InputError, OutOfRangeError
        Not a pressure, or below a perfect vacuum.

    Examples
    --------
    >>> float(gauge(200e3))
    301325.0
    """
    ambient = to_si(ambient_pressure, "Pa", "ambient_pressure", lower=0.0)
    read = to_si(reading, "Pa", "reading")
    read, ambient = broadcast(reading=read, ambient_pressure=ambient)
    return to_si(
        read + ambient, "Pa", "reading + ambient_pressure", lower=0.0, why="no pressure is below vacuum"
    )


def to_quantity(value: T, unit: str) -> Any:
    """`value` [unit] as a quantity of pint's application registry."""
    import pint

    registry: Any = pint.get_application_registry()  # type: ignore[no-untyped-call]
    return registry.Quantity(value, unit or "dimensionless")
