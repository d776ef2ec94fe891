"""Numbers as responders read them, with their units."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

__all__ = [
    "about",
    "area",
    "both",
    "distance",
    "duration",
    "flow",
    "heat",
    "length",
    "liquid",
    "mass",
    "pressure",
    "speed",
    "temperature",
]

PSI: Final = 6894.757293168361
GALLON: Final = 3.785411784e-3
POUND: Final = 0.45359237
FOOT: Final = 0.3048
BTU: Final = 1055.05585262
ZERO_CELSIUS: Final = 273.15


def duration(seconds: float) -> str:
    """Length of time, to the second, minute or day that matters.

    Examples
    --------
    >>> duration(42.0), duration(930.0), duration(7500.0), duration(3.0e5), duration(float("inf"))
    ('42 s', '15.5 min', '2 h 05 min', '3.5 d', 'never')
    """
    if not math.isfinite(seconds):
        return "never"
    if seconds < 119.5:
        return f"{seconds:.0f} s"
    if seconds < 3597.0:
        return f"{seconds / 60.0:.1f} min"
    minutes = round(seconds / 60.0)
    if minutes < 48 * 60:
        return f"{minutes // 60} h {minutes % 60:02d} min"
    return f"{seconds / 86400.0:.1f} d"


def about(seconds: float) -> str:
    """Length of time that is only roughly known, to two figures.

    Examples
    --------
    >>> about(42.0), about(372.0), about(1428.0), about(15360.0), about(3.0e5), about(float("inf"))
    ('42 s', '6.2 min', '24 min', '4.3 h', '3.5 d', 'never')
    """
    if not math.isfinite(seconds):
        return "never"
    for unit, name, least in ((86400.0, "d", 2.0), (3600.0, "h", 0.995), (60.0, "min", 1.99)):
        if seconds >= least * unit:
            return f"{_grouped(seconds / unit, 2)} {name}"
    return f"{seconds:.0f} s"


def pressure(gauge_pressure: float) -> tuple[str, str]:
    """Gauge pressure [Pa] in psi and bar.

    Examples
    --------
    >>> pressure(735136.0), pressure(-2.5)
    (('106.6 psi', '7.35 bar'), ('0.00 psi', '0.000 bar'))
    """
    psi, bar = gauge_pressure / PSI, gauge_pressure / 1e5
    return (
        f"{_signed(psi, 1 if abs(psi) >= 0.995 else 2)} psi",
        f"{_signed(bar, 2 if abs(bar) >= 0.1 else 3)} bar",
    )


def temperature(kelvin: float) -> tuple[str, str]:
    """Temperature [K] in degF and degC.

    Examples
    --------
    >>> temperature(231.04)
    ('-44 degF', '-42 degC')
    """
    celsius = kelvin - ZERO_CELSIUS
    return f"{_signed(celsius * 1.8 + 32.0, 0)} degF", f"{_signed(celsius, 0)} degC"


def liquid(cubic_meters: float, kilograms: float) -> tuple[str, str]:
    """Liquid by volume [m3] in US gallons and by mass [kg]."""
    return f"{_grouped(cubic_meters / GALLON)} gal", f"{_grouped(kilograms)} kg"


def mass(kilograms: float) -> tuple[str, str]:
    """Mass [kg] in lb and kg.

    Examples
    --------
    >>> mass(1538.3), mass(0.02)
    (('3,391 lb', '1,538 kg'), ('0.04 lb', '0.02 kg'))
    """
    return f"{_grouped(kilograms / POUND)} lb", f"{_grouped(kilograms)} kg"


def flow(kilograms_per_second: float, figures: int = 3) -> tuple[str, str]:
    """Mass flow [kg/s] in lb/min and kg/min, to two or three figures.

    Examples
    --------
    >>> flow(0.04533), flow(0.04533, 2)
    (('6.00 lb/min', '2.72 kg/min'), ('6.0 lb/min', '2.7 kg/min'))
    """
    per_minute = 60.0 * kilograms_per_second
    return f"{_grouped(per_minute / POUND, figures)} lb/min", f"{_grouped(per_minute, figures)} kg/min"


def heat(joules: float) -> tuple[str, str]:
    """Heat [J] in thousands of BTU and MJ.

    Examples
    --------
    >>> heat(5.0e8)
    ('474 kBTU', '500 MJ')
    """
    return f"{_grouped(joules / BTU / 1e3)} kBTU", f"{_grouped(joules / 1e6)} MJ"


def length(meters: float) -> tuple[str, str]:
    """Length [m] in ft and m."""
    return f"{_grouped(meters / FOOT)} ft", f"{_grouped(meters)} m"


def distance(meters: float) -> tuple[str, str]:
    """Distance to keep [m] in ft and m, rounded up to two figures or so: more of them are not known.

    Examples
    --------
    >>> distance(211.3), distance(8.53), distance(0.0)
    (('700 ft', '215 m'), ('28 ft', '8.6 m'), ('0 ft', '0 m'))
    """
    return f"{_upward(meters / FOOT)} ft", f"{_upward(meters)} m"


def speed(meters_per_second: float) -> tuple[str, str]:
    """Speed [m/s] in mph and m/s."""
    return (
        f"{_grouped(meters_per_second * 3600.0 / (5280.0 * FOOT))} mph",
        f"{_grouped(meters_per_second)} m/s",
    )


def area(square_meters: float) -> tuple[str, str]:
    """Area [m2] in ft2 and m2."""
    return f"{_grouped(square_meters / FOOT**2)} ft2", f"{_grouped(square_meters)} m2"


def _grouped(value: float, figures: int = 3) -> str:
    """Three figures or so, thousands set apart; what rounds to nothing is 0."""
    if abs(value) < 0.005:
        return "0"
    size = abs(value) * 10.0 ** (3 - figures)
    digits = 0 if size >= 99.5 else 1 if size >= 9.95 else 2
    return f"{value:,.{digits}f}"


def _upward(value: float) -> str:
    """Two figures or so, rounded up by 5 % at most: tenths, ones, fives, tens, and so on."""
    if value <= 0.0:
        return "0"
    power = max(math.floor(math.log10(value)) - 1, -1)
    step = 10.0**power * (0.5 if value >= 100.0 and value < 30.0 * 10.0**power else 1.0)
    up = math.ceil(value / step * (1.0 - 1e-9)) * step
    return f"{up:,.{1 if power < 0 and up < 9.95 else 0}f}"


def _signed(value: float, digits: int) -> str:
    """Return fixed digits, without a minus in front of zero."""
    return f"{np.round(value, digits) + 0.0:.{digits}f}"


def both(pair: tuple[str, str]) -> str:
    """Return a number in both systems of units, the metric one in brackets.

    Examples
    --------
    >>> both(pressure(735136.0))
    '106.6 psi (7.35 bar)'
    """
    return f"{pair[0]} ({pair[1]})"
