"""Which uncertain input matters most."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, require_word
from lpgrelease.studies.sampling import entropy_of
from lpgrelease.studies.statistics import require_finite

__all__ = ["sensitivity"]

METHODS = ("rbd_fast", "delta", "sobol")


def sensitivity(values: Any, method: str = "rbd_fast", *, rng: Any = 0, resamples: int = 100) -> Any:
    """Share of each uncertain input in the spread of an output, by SALib.

    Parameters
    ----------
    values : xarray.DataArray
        One output of a study, one finite number for each scenario.
    method : {"rbd_fast", "delta", "sobol"}
        "rbd_fast": first-order index, from any scenarios. "delta": moment-independent importance besides,
        from any scenarios; slow, seconds for thousands of them. "sobol": first-order and total index, from a
        study whose sampler was "saltelli" and of which no scenario failed.
    rng : int, Generator, SeedSequence or None
        For the intervals, which come from drawing scenarios again.
    resamples : int
        How often.

    Returns
    -------
    xarray.Dataset
        Along `parameter`: `first_order` [-], the share of the output's variance that would go if that input
        were known, `delta` or `total_order` where the method gives them, and the half widths of their
        95 % intervals as ``..._interval``.

    Raises
    ------
    InputError
        Not such an output, a design that does not fit the method, values that are not finite or all alike.

    Notes
    -----
    First-order index S_i = Var(E[Y | X_i]) / Var(Y); total index 1 - Var(E[Y | all but X_i]) / Var(Y);
    delta_i is half the mean area between the density of Y and that of Y given X_i. For inputs that are
    independent, as those of a study are. Names drawn by `choice` enter as their places in the alphabet.

    References
    ----------
    plischke2013density (delta from given scenarios), tarantola2006rbd (rbd_fast), saltelli2010variance
    (sobol).

    Examples
    --------
    >>> import lpgrelease as lr
    >>> def both(strong, weak):
    ...     return {"total": 10.0 * strong + weak}
    >>> many = lr.study(both, {"strong": lr.uniform(0, 1), "weak": lr.uniform(0, 1)}, n=1000, rng=1)
    >>> found = sensitivity(many.total)
    >>> bool(found.first_order.sel(parameter="strong") > 0.9)
    True
    """
    import xarray as xr

    require_word(method, METHODS, "method")
    names, X, Y = _given(values)
    # SALib reads bounds only to sample, and refuses some endings of names
    problem = {
        "num_vars": len(names),
        "names": [f"x{i}" for i in range(len(names))],
        "bounds": [[0, 1]] * len(names),
    }
    seed = entropy_of(rng)[0] + 1
    with _global_generator_kept():
        found = _indices(method, problem, X, Y, {"seed": seed, "num_resamples": resamples}, values)
    bad = [name for name, numbers in found.items() if not np.isfinite(numbers).all()]
    if bad:
        raise InputError(f"{method} found no {', '.join(bad)} from {Y.size} scenarios; draw more of them")
    variables = {name: ("parameter", numbers, {"units": "1"}) for name, numbers in found.items()}
    about = {"output": str(values.name), "method": method, "scenarios": Y.size}
    return xr.Dataset(variables, {"parameter": names}, attrs=about)


def _given(values: Any) -> tuple[list[str], FloatArray, FloatArray]:
    """Names and values of the inputs, and the output's values."""
    if getattr(values, "dims", None) != ("scenario",) or hasattr(values, "data_vars"):
        raise InputError(
            f"values must be one output of a study, one number for each scenario; got {values!r}"
        )
    inputs = {
        str(name): coordinate.values
        for name, coordinate in values.coords.items()
        if coordinate.attrs.get("role") == "parameter"
    }
    if not inputs:
        raise InputError(f"{values.name} carries no inputs of a study")
    if values.dtype.kind not in "biuf":
        raise InputError(f"{values.name} must hold numbers, got {values.dtype}")
    Y = np.asarray(values.values, dtype=np.float64)
    require_finite(Y, str(values.name))
    if not np.ptp(Y) > 0.0:
        raise InputError(f"{values.name} is the same in all scenarios; nothing can be told apart")
    return list(inputs), np.stack([_numbers(x) for x in inputs.values()], axis=1), Y


def _numbers(inputs: Any) -> FloatArray:
    if inputs.dtype.kind in "UO":
        inputs = np.unique(inputs.astype(str), return_inverse=True)[1]
    return np.asarray(inputs, dtype=np.float64)


def _indices(
    method: str, problem: dict[str, Any], X: FloatArray, Y: FloatArray, options: dict[str, Any], values: Any
) -> dict[str, FloatArray]:
    if method == "sobol":
        from SALib.analyze import sobol

        _require_crossed(X, values)
        found = sobol.analyze(problem, Y, calc_second_order=False, **options)
        keys = {"first_order": "S1", "total_order": "ST"}
    elif method == "rbd_fast":
        from SALib.analyze import rbd_fast

        found = rbd_fast.analyze(problem, X, Y, **options)
        keys = {"first_order": "S1"}
    else:
        from SALib.analyze import delta

        # it also computes variants for samples of other kinds, and warns where those differ
        with warnings.catch_warnings(record=True):
            found = delta.analyze(problem, X, Y, **options)
        keys = {"first_order": "S1", "delta": "delta_raw"}
    pairs = {name: (found[key], found[f"{key}_conf"]) for name, key in keys.items()}
    return {
        name + ending: np.array(numbers, dtype=np.float64)
        for name, both in pairs.items()
        for ending, numbers in zip(("", "_interval"), both, strict=True)
    }


def _require_crossed(X: FloatArray, values: Any) -> None:
    """Raise unless the inputs are those of the crossed design, all of it, in order."""
    group = X.shape[1] + 2
    crossed = X.shape[0] % group == 0 and X.shape[0] > 0
    if crossed:
        rows = X.reshape(-1, group, X.shape[1])
        expected = np.repeat(rows[:, :1], group, axis=1)
        for i in range(X.shape[1]):
            expected[:, i + 1, i] = rows[:, -1, i]
        expected[:, -1] = rows[:, -1]
        crossed = bool(np.array_equal(rows, expected))
    if not crossed:
        raise InputError(
            f'{values.name}: Sobol indices need all scenarios of a study with sampler="saltelli", in order; '
            'use method="delta" or "rbd_fast" with others, or where scenarios failed'
        )


@contextmanager
def _global_generator_kept() -> Iterator[None]:
    """Give NumPy's global generator back as it was: delta seeds and uses it."""
    state = np.random.get_state()  # noqa: NPY002
    try:
        yield
    finally:
        np.random.set_state(state)  # noqa: NPY002
