"""Typed errors and the validity warning.

Every error derives from :class:`LpgReleaseError` and from the built-in that a caller would
expect, so both ``except lpgrelease.LpgReleaseError`` and ``except ValueError`` work.
"""

from __future__ import annotations

from typing import Any

__all__ = [
    "ConvergenceError",
    "FailedScenarioWarning",
    "InputError",
    "LpgReleaseError",
    "OutOfRangeError",
    "StoreMismatchError",
    "StudyError",
    "ValidityWarning",
]


class LpgReleaseError(Exception):
    """Base class of every error this library raises on purpose."""


class InputError(LpgReleaseError, ValueError, TypeError):
    """An argument of the wrong kind, unit, dimension or shape, or not a finite number."""


class OutOfRangeError(LpgReleaseError, ValueError):
    """A number outside the range in which the model or the physics holds.

    Parameters
    ----------
    argument : str
        Name of the argument.
    value : float
        The offending value, in SI units (the worst one of an array).
    unit : str
        SI unit of the value, "" if it has none.
    lower, upper : float or None
        Allowed range in the same unit; None where there is no bound.
    why : str
        What the bound stands for.

    Examples
    --------
    >>> raise OutOfRangeError("fill", 1.2, "", 0.0, 1.0, "a volume fraction")
    Traceback (most recent call last):
        ...
    lpgrelease.errors.OutOfRangeError: fill = 1.2 is outside the allowed range [0, 1]: a volume fraction
    """

    argument: str
    value: float
    unit: str
    lower: float | None
    upper: float | None
    why: str

    def __init__(
        self, argument: str, value: float, unit: str, lower: float | None, upper: float | None, why: str = ""
    ) -> None:
        self.argument, self.value, self.unit = argument, value, unit
        self.lower, self.upper, self.why = lower, upper, why
        allowed = (
            f"{'(-inf' if lower is None else f'[{lower:.8g}'}, {'inf)' if upper is None else f'{upper:.8g}]'}"
        )
        unit_text = f" {unit}" if unit else ""
        reason = f": {why}" if why else ""
        super().__init__(
            f"{argument} = {value:.8g}{unit_text} is outside the allowed range {allowed}{unit_text}{reason}"
        )

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.argument, self.value, self.unit, self.lower, self.upper, self.why)


class ConvergenceError(LpgReleaseError, ArithmeticError):
    """A solver did not reach its answer.

    Parameters
    ----------
    message : str
        What was being solved.
    residual : float
        The residual where the solver gave up (the worst scenario).
    last_state : dict of str to float
        The state of the worst scenario, in SI units.
    """

    message: str
    residual: float
    last_state: dict[str, float]

    def __init__(self, message: str, residual: float, last_state: dict[str, float] | None = None) -> None:
        self.message, self.residual, self.last_state = message, residual, dict(last_state or {})
        state = ", ".join(f"{name} = {value:.8g}" for name, value in self.last_state.items())
        super().__init__(f"{message}: residual {residual:.3g}" + (f" at {state}" if state else ""))

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.message, self.residual, self.last_state)


class StudyError(LpgReleaseError, RuntimeError):
    """A study of many scenarios has no answer: all of them failed, or their outputs do not fit together."""


class StoreMismatchError(LpgReleaseError, ValueError):
    """A store holds a study of other inputs than those asked for.

    Parameters
    ----------
    path : str
        The store.
    differences : tuple of str
        What differs, with both values.
    """

    path: str
    differences: tuple[str, ...]

    def __init__(self, path: str, differences: tuple[str, ...]) -> None:
        self.path, self.differences = path, tuple(differences)
        listed = "; ".join(self.differences)
        super().__init__(f"the store {path} was made with other inputs ({listed}); give another place")

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.path, self.differences)


class FailedScenarioWarning(UserWarning):
    """Some scenarios of a study failed and are left out of its answers, which are biased by that."""


class ValidityWarning(UserWarning):
    """A model was used outside its published range because ``extrapolate=True`` was given, or ends there.

    An answer that can only be a bound, since the model's range ends on the way to it, comes with one too.
    """
