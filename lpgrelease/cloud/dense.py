"""Heavy-gas plumes by the correlation of Britter and McQuaid: distance to a concentration."""

from __future__ import annotations

import csv
import warnings
from importlib import resources
from typing import Any, Final

import numpy as np

from lpgrelease.constants import STANDARD_GRAVITY
from lpgrelease.errors import OutOfRangeError, ValidityWarning
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import BoolArray, Provenance, Result, quantity, result

__all__ = [
    "DensePlume",
    "britter_mcquaid_plume",
    "plume_curve_britter_mcquaid",
    "undiluted_fraction",
]

ALPHA_LIMIT: Final = 1.0


def _read() -> tuple[FloatArray, FloatArray, FloatArray]:
    text = (resources.files("lpgrelease") / "data" / "dense_plume_curves.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#")))
    ratios = sorted({float(row["concentration_ratio"]) for row in rows}, reverse=True)
    by_ratio = {c: [r for r in rows if float(r["concentration_ratio"]) == c] for c in ratios}
    alpha = np.array([[float(r["alpha"]) for r in by_ratio[c]] for c in ratios])
    beta = np.array([[float(r["beta"]) for r in by_ratio[c]] for c in ratios])
    return np.array(ratios), alpha, beta


RATIOS, _ALPHA, _BETA = _read()


def plume_curve_britter_mcquaid(alpha: FloatArray) -> FloatArray:
    """Ordinates beta = log10(x / sqrt(q/u)) of the curves C/C0 = 0.1 to 0.002, on a new last axis.

    Constant below the first knot (passive), straight lines between the knots.

    Notes
    -----
    alpha = 0.2 log10(g'^2 q / u^5). References: britter1988workbook; crowl2019safety, Table 5-5; knots from
    memory.

    Examples
    --------
    >>> print(np.round(plume_curve_britter_mcquaid(np.float64(-0.435)), 3))
    [1.777 2.007 2.194 2.379 2.54  2.699]
    """
    a = np.asarray(alpha)[..., None]
    value = np.broadcast_to(_BETA[:, 0], (*a.shape[:-1], RATIOS.size))
    for i in range(_ALPHA.shape[1] - 1):
        low, high = _ALPHA[:, i], _ALPHA[:, i + 1]
        width = np.where(high > low, high - low, 1.0)
        line = _BETA[:, i] + (_BETA[:, i + 1] - _BETA[:, i]) * (a - low) / width
        value = np.where((a > low) & (high > low), line, value)
    return value


def undiluted_fraction(
    fraction: FloatArray, air_temperature: FloatArray, source_temperature: FloatArray
) -> FloatArray:
    """Mole fraction that a gas at the air's temperature would have where a cold gas has `fraction`.

    Notes
    -----
    C' = C / [C + (1 - C) T_a/T_0]: the correction for cold gas. References: britter1988workbook;
    crowl2019safety, Eq. 5-70.

    Examples
    --------
    >>> print(f"{undiluted_fraction(0.05, 298.0, 111.0):.4f}")
    0.0192
    """
    C = fraction
    return np.asarray(C / (C + (1.0 - C) * air_temperature / source_temperature))


@result
class DensePlume(Result):
    """Reach of a steady heavy-gas plume by the correlation."""

    distance: FloatArray = quantity("m", "downwind distance to the mole fraction")
    volume_flow: FloatArray = quantity("m**3/s", "initial volume flow of the gas q0")
    reduced_gravity: FloatArray = quantity("m/s**2", "initial reduced gravity g0'")
    source_length: FloatArray = quantity("m", "length (q0/u)^(1/2)")
    scaled_distance: FloatArray = quantity("", "distance over (q0/u)^(1/2)")
    corrected_fraction: FloatArray = quantity("", "mole fraction corrected for the gas's cold")
    width: FloatArray = quantity("m", "full width of the plume at the distance")
    dense: BoolArray = quantity("", "whether the criterion for a heavy plume is met")


def britter_mcquaid_plume(
    fraction: QuantityLike,
    *,
    volume_flow: QuantityLike,
    density: QuantityLike,
    wind_speed: QuantityLike,
    temperature: QuantityLike,
    air_temperature: QuantityLike = 293.15,
    air_density: QuantityLike = 1.204,
    source_diameter: QuantityLike | None = None,
    extrapolate: bool = False,
) -> DensePlume:
    """Distance to a mole fraction in a steady heavy-gas plume over flat ground, by the workbook's curves.

    Quick, and made from many trials; knows neither stability nor roughness.

    Parameters
    ----------
    fraction : number or array
        Mole fraction of gas to be reached.
    volume_flow : number, array or quantity
        Of the gas as it enters the air, q0 [m3/s].
    density, temperature : number, array or quantity
        Of the gas as it enters the air [kg/m3], [K].
    wind_speed : number, array or quantity
        At 10 m, u [m/s], above 0.
    air_temperature, air_density : number, array or quantity
        [K], [kg/m3].
    source_diameter : number, array or quantity, optional
        D [m], for the criterion and the width; None takes (q0/u)^(1/2).
    extrapolate : bool
        Allow fractions outside the curves and alpha above 1, with a warning.

    Returns
    -------
    DensePlume

    Raises
    ------
    InputError, OutOfRangeError
        The corrected fraction outside 0.002 to 0.1, or alpha above 1.

    Warns
    -----
    ValidityWarning
        The same, where `extrapolate` allows it; beyond 0.1 and 0.002 the last two curves are continued.

    Notes
    -----
    Between curves log10 x is interpolated in log10 C. The criterion (g0' q0/(u^3 D))^(1/3) >= 0.15 for a
    heavy plume. Width L = D + 8 l_b + 2.5 l_b^(1/3) x^(2/3), l_b = g0' q0/u^3 (from memory). Means over
    minutes; peaks of seconds reach about 1.4 to 2 times as high, so a factor of two lies in any answer.

    References: britter1988workbook; crowl2019safety, section 5.

    Examples
    --------
    >>> plume = britter_mcquaid_plume(0.05, volume_flow=55.6, density=1.76, wind_speed=10.9,
    ...     temperature=111.0, air_temperature=298.0, air_density=1.224)
    >>> print(f"{plume.distance:.0f} m")
    362 m
    """
    fields = _checked(
        fraction=fraction,
        volume_flow=volume_flow,
        density=density,
        wind_speed=wind_speed,
        temperature=temperature,
        air_temperature=air_temperature,
        air_density=air_density,
    )
    C, q, rho, u, T, Ta, rho_a = fields.values()
    g0 = STANDARD_GRAVITY * np.maximum(rho - rho_a, 0.0) / rho_a
    length = np.sqrt(q / u)
    D = length if source_diameter is None else to_si(source_diameter, "m", "source_diameter", lower=0.0)
    corrected = undiluted_fraction(C, Ta, T)
    group = g0 * g0 * q / (u * u * u * u * u)
    alpha = 0.2 * np.log10(np.maximum(group, 1e-30))
    outside = _outside(corrected, alpha, extrapolate)
    scaled = np.power(10.0, _between_curves(plume_curve_britter_mcquaid(alpha), corrected))
    x = scaled * length
    lb = g0 * q / (u * u * u)
    width = D + 8.0 * lb + 2.5 * np.cbrt(lb) * np.power(x, 2.0 / 3.0)
    dense = np.cbrt(lb / np.maximum(D, 1e-12)) >= 0.15
    named: dict[str, Any] = {
        "distance": x,
        "volume_flow": q,
        "reduced_gravity": g0,
        "source_length": length,
        "scaled_distance": scaled,
        "corrected_fraction": corrected,
        "width": width,
        "dense": dense,
    }
    shaped = zip(named, np.broadcast_arrays(*named.values()), strict=True)
    sources = ("britter1988workbook", "crowl2019safety")
    origin = Provenance("Britter and McQuaid's steady plume", sources, outside_validity=outside)
    return DensePlume(**{name: np.array(a)[()] for name, a in shaped}, provenance=origin)


def _checked(**given: QuantityLike) -> dict[str, FloatArray]:
    units = {
        "fraction": "",
        "volume_flow": "m**3/s",
        "density": "kg/m**3",
        "wind_speed": "m/s",
        "temperature": "K",
        "air_temperature": "K",
        "air_density": "kg/m**3",
    }
    upper = {"fraction": 1.0}
    values = {
        name: to_si(value, units[name], name, lower=0.0, open_lower=True, upper=upper.get(name))
        for name, value in given.items()
    }
    return dict(zip(values, broadcast(**values), strict=True))


def _between_curves(beta: FloatArray, corrected: FloatArray) -> FloatArray:
    """Ordinate at the corrected fraction, linear in log10 C between neighboring curves."""
    logs = np.log10(RATIOS)
    wanted = np.log10(corrected)
    value = np.zeros_like(wanted)
    for i in range(RATIOS.size - 1):
        inside = (wanted <= logs[i]) if i else np.ones_like(wanted, dtype=bool)
        line = beta[..., i] + (beta[..., i + 1] - beta[..., i]) * (wanted - logs[i]) / (logs[i + 1] - logs[i])
        value = np.where(inside, line, value)
    return value


def _outside(corrected: FloatArray, alpha: FloatArray, extrapolate: bool) -> tuple[str, ...]:
    low, high = float(RATIOS[-1]), float(RATIOS[0])
    found: list[tuple[str, FloatArray, float | None, float, str]] = []
    if np.any((corrected < low) | (corrected > high)):
        found.append(("corrected fraction", corrected, low, high, "concentrations of the curves"))
    if np.any(alpha > ALPHA_LIMIT):
        found.append(("alpha", alpha, None, ALPHA_LIMIT, "abscissa of the curves: more wind or less gas"))
    texts = []
    for name, values, lower, upper, why in found:
        if not extrapolate:
            flat = np.ravel(values)
            bad = (flat > upper) if lower is None else (flat < lower) | (flat > upper)
            raise OutOfRangeError(name, float(flat[bad][0]), "", lower, upper, why)
        texts.append(f"{name} outside the {why}")
    if texts:
        warnings.warn("; ".join(texts), ValidityWarning, stacklevel=3)
    return tuple(texts)
