"""What many scenarios say: quantiles, probabilities of exceedance, convergence of the mean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, to_si

__all__ = ["exceedance", "mean_convergence", "quantiles"]

CONFIDENCE = 0.95


def quantiles(values: Any, probabilities: Sequence[float] = (0.05, 0.5, 0.95)) -> Any:
    """Values that given fractions of the scenarios do not exceed.

    Parameters
    ----------
    values : xarray.DataArray
        One output of a study; any axes besides `scenario` are kept. May be infinite ("never").
    probabilities : sequence of float
        Fractions [-], above 0 and up to 1.

    Returns
    -------
    xarray.DataArray
        With an axis `quantile` first [unit of `values`]. Each is a value that occurred: the smallest one that
        at least that fraction of the scenarios does not exceed.

    Raises
    ------
    InputError, OutOfRangeError
        Not an output of a study, or NaN among the values; a fraction out of range.

    Examples
    --------
    >>> import xarray as xr
    >>> quantiles(xr.DataArray([3.0, 1.0, 2.0, 9.0], dims="scenario"), [0.5, 1.0]).values
    array([2., 9.])
    """
    fractions = np.atleast_1d(
        to_si(probabilities, "", "probabilities", lower=0.0, upper=1.0, open_lower=True)
    )
    array, others = _scenarios_first(values)
    rising = np.sort(array, axis=0)
    rank = (
        np.ceil(fractions * rising.shape[0] * (1.0 - 1e-15)).astype(int) - 1
    )  # less the round-off of the product
    return _labelled(rising[rank], values, ("quantile", *others), {"quantile": fractions})


def exceedance(values: Any, thresholds: QuantityLike) -> Any:
    """Fraction of the scenarios whose value lies above each threshold, and how well it is known.

    Parameters
    ----------
    values : xarray.DataArray
        One output of a study with one number for each scenario.
    thresholds : number, array or quantity
        What is to be exceeded [unit of `values`].

    Returns
    -------
    xarray.Dataset
        `probability`, and `lower` and `upper`, the ends of its 95 % Wilson interval [-], along `threshold`.
        The interval is for independent scenarios; those of a Latin hypercube or a Sobol sequence are spread
        more evenly, which mostly makes it too wide.

    Raises
    ------
    InputError
        Not such an output, NaN among the values, or thresholds of another dimension.

    References
    ----------
    wilson1927inference.

    Examples
    --------
    >>> import xarray as xr
    >>> found = exceedance(xr.DataArray([3.0, 1.0, 2.0, 9.0], dims="scenario"), [2.0, 10.0])
    >>> found.probability.values
    array([0.5, 0. ])
    """
    import xarray as xr
    from scipy.stats import binomtest

    array, others = _scenarios_first(values)
    if others:
        raise InputError(f"values must have one number for each scenario, got the axes {others} besides")
    unit = values.attrs.get("units", "")
    limits = np.atleast_1d(to_si(thresholds, "" if unit == "1" else unit, "thresholds"))
    above = [int(np.count_nonzero(array > limit)) for limit in limits]
    ends = [binomtest(k, array.size).proportion_ci(CONFIDENCE, method="wilson") for k in above]
    found = {
        "probability": [k / array.size for k in above],
        "lower": [float(end.low) for end in ends],
        "upper": [float(end.high) for end in ends],
    }
    axis = ("threshold", limits, {"units": unit} if unit else {})
    return xr.Dataset(
        {name: ("threshold", np.array(numbers), {"units": "1"}) for name, numbers in found.items()},
        {"threshold": axis},
        attrs={"output": str(values.name), "scenarios": array.size},
    )


def mean_convergence(values: Any) -> Any:
    """Mean of the first scenarios, of ever more of them, with its standard error.

    Parameters
    ----------
    values : xarray.DataArray
        One output of a study with one finite number for each scenario.

    Returns
    -------
    xarray.Dataset
        `mean` and `standard_error` [unit of `values`] along `scenarios`, which doubles up to all. The
        error is that of independent scenarios; those of a Latin hypercube or a Sobol sequence do better.

    Raises
    ------
    InputError
        Not such an output, fewer than two scenarios, or values that are not finite.

    Examples
    --------
    >>> import xarray as xr
    >>> mean_convergence(xr.DataArray([3.0, 1.0, 2.0, 4.0], dims="scenario"))["mean"].values
    array([2. , 2.5])
    """
    import xarray as xr

    array, others = _scenarios_first(values)
    if others or array.size < 2:
        raise InputError(f"values must have one number for each of at least two scenarios, got {array.shape}")
    require_finite(array, str(values.name))
    counts = [1 << k for k in range(1, array.size.bit_length()) if 1 << k < array.size] + [array.size]
    means = np.array([array[:k].mean() for k in counts])
    errors = np.array([array[:k].std(ddof=1) / np.sqrt(k) for k in counts])
    units = {key: values.attrs[key] for key in ("units",) if key in values.attrs}
    found = {"mean": ("scenarios", means, units), "standard_error": ("scenarios", errors, units)}
    return xr.Dataset(found, {"scenarios": counts}, attrs={"output": str(values.name)})


def require_finite(array: FloatArray, name: str) -> None:
    """Raise InputError unless all values are finite."""
    bad = int(np.count_nonzero(~np.isfinite(array)))
    if bad:
        raise InputError(
            f"{bad} of {array.size} values of {name} are not finite; a mean or an index of such values says "
            "nothing: take quantiles, or an output that is finite"
        )


def _scenarios_first(values: Any) -> tuple[FloatArray, tuple[str, ...]]:
    if not hasattr(values, "dims") or "scenario" not in values.dims or hasattr(values, "data_vars"):
        raise InputError(f"values must be one output of a study with an axis scenario, got {values!r}")
    others = tuple(str(name) for name in values.dims if name != "scenario")
    array = np.asarray(values.transpose("scenario", *others).values)
    if array.dtype.kind not in "biuf" or not array.size:
        raise InputError(f"{values.name} must hold numbers, got {array.size} of type {array.dtype}")
    array = array.astype(np.float64)
    if np.isnan(array).any():
        raise InputError(
            f"{int(np.isnan(array).sum())} values of {values.name} are NaN; the model returned them"
        )
    return array, others


def _labelled(array: FloatArray, like: Any, dims: tuple[str, ...], coordinates: dict[str, Any]) -> Any:
    import xarray as xr

    return xr.DataArray(array, coordinates, dims, name=like.name, attrs=like.attrs)
