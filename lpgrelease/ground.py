"""Grounds, and the heat they give to something cold laid on them.

A half-space suddenly held at a constant contact temperature gives the flux A / sqrt(t). Pore water
that freezes changes A and nothing else (Neumann's similarity solution), and it raises A: moist ground
gives several times the heat of dry ground. The functions below :class:`Ground` are plain, elementwise
functions of SI arrays.
"""

from __future__ import annotations

import csv
import dataclasses
import difflib
import math
from collections.abc import Mapping
from importlib import resources
from typing import Any, Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER, Constant
from lpgrelease.errors import ConvergenceError, InputError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = [
    "Contact",
    "Ground",
    "conduction_properties",
    "frozen_conductivity_johansen",
    "half_space_coefficient",
    "neumann_coefficient",
]

WATER_DENSITY: Final = Constant(
    999.8, "density of water at 0 degC", "kg/m**3", "haynes2014handbook, from memory", 0.1
)
WATER_HEAT_CAPACITY: Final = Constant(
    4200.0, "heat capacity of water, mean of 0 to 30 degC", "J/kg/K", "haynes2014handbook, from memory", 20.0
)
ICE_HEAT_CAPACITY: Final = Constant(
    2050.0, "isobaric heat capacity of ice at -10 degC", "J/kg/K", "haynes2014handbook, from memory", 60.0
)
ICE_LATENT_HEAT: Final = Constant(
    333.4e3, "latent heat of melting of ice at 0 degC", "J/kg", "haynes2014handbook, from memory", 0.3e3
)
ICE_CONDUCTIVITY: Final = Constant(
    2.2,
    "conductivity of ice at 0 degC; tables give 1.9 to 2.3",
    "W/m/K",
    "haynes2014handbook, from memory",
    0.2,
)
WATER_CONDUCTIVITY: Final = Constant(
    0.57, "thermal conductivity of water near 0 degC", "W/m/K", "from memory", 0.01
)

_NEWTON_STEPS = 12
_LARGEST_ROOT = 6.0
_ROOT_TOLERANCE = 1e-10
_TABLE_BELOW, _TABLE_ABOVE = (160.0, 48), (64.0, 16)
_NODES, _WEIGHTS = (x.tolist() for x in np.polynomial.legendre.leggauss(40))


@result
class Ground(Result):
    """A ground that warms what lies on it: its thermal properties unfrozen, its water, its relief.

    Every number may be an array or a pint quantity of any registry; the shapes must broadcast.

    Parameters
    ----------
    conductivity : number, array or quantity
        Thermal conductivity of the ground as it lies, unfrozen [W/m/K].
    density : number, array or quantity
        Of the ground as it lies, its water included [kg/m3].
    heat_capacity : number, array or quantity
        Of the ground as it lies, unfrozen, its water included [J/kg/K].
    water_mass_fraction : number or array
        Water that can freeze, per mass of ground as it lies, 0 to 0.9. It matters most.
    frozen_conductivity : number, array or quantity, optional
        [W/m/K]; None takes :func:`frozen_conductivity_johansen`.
    temperature : number, array or quantity, optional
        Of the undisturbed ground [K]; None takes the air's.
    minimum_depth : number, array or quantity
        Depth of liquid that the micro-relief holds back from spreading [m]; 5 to 20 mm is usual, and
        it governs how wide a pool becomes.
    name : str
        What to call it.

    Raises
    ------
    InputError
        Wrong kind or dimension, not finite, shapes that do not broadcast.
    OutOfRangeError
        A property that is not positive, or water outside its range.

    Notes
    -----
    One layer, uniform and isotropic; all of its water freezes at 273.15 K (in clays a part stays
    liquid well below that, so their extra heat is overstated). Perfect contact is assumed: film boiling
    makes the true flux smaller for the first seconds to two minutes.

    Examples
    --------
    >>> sand = Ground.named("dry sand")
    >>> f"{sand.heat_flux(231.0, age=60.0, ground_temperature=293.15):.0f}"
    '2509'
    """

    conductivity: QuantityLike = quantity("W/m/K", "conductivity, unfrozen")
    density: QuantityLike = quantity("kg/m**3", "density, water included")
    heat_capacity: QuantityLike = quantity("J/kg/K", "heat capacity, unfrozen, water included")
    water_mass_fraction: QuantityLike = quantity("", "water per mass of moist ground", default=0.0)
    frozen_conductivity: QuantityLike = quantity("W/m/K", "conductivity, frozen", default=None)
    temperature: QuantityLike = quantity("K", "undisturbed temperature", default=None)
    minimum_depth: QuantityLike = quantity("m", "depth held back by the relief", default=0.010)
    name: str = plain("what it is called", default="ground as given")
    provenance: Provenance = plain("where the numbers come from", default=Provenance("ground as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        checked = {}
        for name, (unit, lower, upper, open_lower) in _RANGES.items():
            value = getattr(self, name)
            if value is None and name in ("frozen_conductivity", "temperature"):
                continue
            checked[name] = to_si(value, unit, name, lower=lower, upper=upper, open_lower=open_lower)
            object.__setattr__(self, name, checked[name])
        broadcast(**checked)
        if self.frozen_conductivity is None:
            frozen = frozen_conductivity_johansen(self.conductivity, self.water_volume_fraction)
            object.__setattr__(self, "frozen_conductivity", frozen)
        _check_water(self)

    @classmethod
    def named(
        cls, name: str, *, temperature: QuantityLike | None = None, minimum_depth: QuantityLike | None = None
    ) -> Ground:
        """Return a ground of the table in ``data/grounds.csv``.

        Parameters
        ----------
        name : str
            "dry sand", "moist sand", "clay", "gravel", "concrete", "asphalt", ... in any case.
        temperature, minimum_depth : number, array or quantity, optional
            As in the constructor; None takes the air's temperature and the table's depth.

        Raises
        ------
        InputError
            No such ground; the message gives the nearest names and all that are known.

        Examples
        --------
        >>> Ground.named("moist sand").conductivity
        np.float64(2.1)
        """
        row = _find(name)
        depth = float(row["minimum_pool_depth"]) if minimum_depth is None else minimum_depth
        keys = [row[column].split(",", maxsplit=1)[0] for column in ("source", "minimum_pool_depth_source")]
        sources = tuple(dict.fromkeys(key for key in keys if key != "common practice"))
        return cls(
            conductivity=float(row["conductivity"]),
            density=float(row["density"]),
            heat_capacity=float(row["heat_capacity"]),
            water_mass_fraction=float(row["water_mass_fraction"]),
            temperature=temperature,
            minimum_depth=depth,
            name=row["name"],
            provenance=Provenance("table of grounds, " + row["how_known"], sources),
        )

    @property
    def water_volume_fraction(self) -> FloatArray:
        """Volume of liquid water per volume of ground."""
        return self.density * self.water_mass_fraction / float(WATER_DENSITY)  # type: ignore[no-any-return]

    @property
    def latent_heat(self) -> FloatArray:
        """Heat given up when the water in the ground freezes [J/m3]."""
        return self.density * self.water_mass_fraction * float(ICE_LATENT_HEAT)  # type: ignore[no-any-return]

    @property
    def volumetric_heat_capacity(self) -> FloatArray:
        """Heat capacity of unfrozen ground [J/m3/K]."""
        return self.density * self.heat_capacity  # type: ignore[no-any-return]

    @property
    def frozen_volumetric_heat_capacity(self) -> FloatArray:
        """Heat capacity of frozen ground [J/m3/K]."""
        water = self.density * self.water_mass_fraction
        return self.volumetric_heat_capacity - water * float(WATER_HEAT_CAPACITY - ICE_HEAT_CAPACITY)  # type: ignore[no-any-return]

    def heat_coefficient(
        self, contact_temperature: QuantityLike, *, ground_temperature: QuantityLike | None = None
    ) -> FloatArray:
        """Coefficient A of the heat flux A / sqrt(age) out of the ground [W s^0.5/m2].

        Parameters
        ----------
        contact_temperature : number, array or quantity
            Constant temperature at the surface [K].
        ground_temperature : number, array or quantity, optional
            Of the undisturbed ground [K]; needed where the ground has none of its own.

        Returns
        -------
        float or ndarray
            Positive where the ground is warmer than its surface.

        Raises
        ------
        InputError, OutOfRangeError
            Not a temperature, none given for the ground, shapes that do not broadcast.

        Notes
        -----
        References: carslaw1959conduction, section 11.2 (Neumann's solution) and section 2.4.

        Examples
        --------
        >>> wet = Ground.named("wet sand", temperature=300.15)
        >>> dry = Ground.named("dry sand", temperature=300.15)
        >>> f"{wet.heat_coefficient(231.0) / dry.heat_coefficient(231.0):.1f}"
        '7.9'
        """
        given = self.temperature if ground_temperature is None else ground_temperature
        if given is None:
            raise InputError("ground_temperature: this ground has no temperature of its own; give one")
        start = to_si(given, "K", "ground_temperature", lower=0.0, open_lower=True)
        contact = to_si(contact_temperature, "K", "contact_temperature", lower=0.0, open_lower=True)
        arrays = broadcast(
            contact_temperature=contact, ground_temperature=start, **conduction_properties(self)
        )
        flat = [np.atleast_1d(array).ravel() for array in arrays]
        coefficient = _coefficient(*flat)
        return coefficient.reshape(arrays[0].shape)[()]

    def heat_flux(
        self,
        contact_temperature: QuantityLike,
        *,
        age: QuantityLike,
        ground_temperature: QuantityLike | None = None,
    ) -> FloatArray:
        """Heat flux out of the ground [W/m2] after a time of constant contact temperature.

        Parameters
        ----------
        contact_temperature, ground_temperature
            As for :meth:`heat_coefficient`.
        age : number, array or quantity
            Time since the contact began [s], positive.

        Raises
        ------
        InputError, OutOfRangeError
            As :meth:`heat_coefficient`, or an age that is not positive.
        """
        t = to_si(age, "s", "age", lower=0.0, open_lower=True)
        return self.heat_coefficient(contact_temperature, ground_temperature=ground_temperature) / np.sqrt(t)


_RANGES: dict[str, tuple[str, float, float | None, bool]] = {
    "conductivity": ("W/m/K", 0.0, None, True),
    "density": ("kg/m**3", 0.0, None, True),
    "heat_capacity": ("J/kg/K", 0.0, None, True),
    "water_mass_fraction": ("", 0.0, 0.9, False),
    "frozen_conductivity": ("W/m/K", 0.0, None, True),
    "temperature": ("K", 150.0, 350.0, False),
    "minimum_depth": ("m", 0.0, 0.5, True),
}


def frozen_conductivity_johansen(conductivity: FloatArray, water_volume_fraction: FloatArray) -> FloatArray:
    """Conductivity of frozen ground from that of the unfrozen one [W/m/K].

    Notes
    -----
    k_frozen = k (k_ice / k_water)^theta: the geometric mean that Johansen uses for saturated soil, with
    its water turned to ice. For part-saturated soil a rough guess (theirs has no simple form).
    References: johansen1975soils, from memory.

    Examples
    --------
    >>> f"{frozen_conductivity_johansen(2.1, 0.2):.2f}"
    '2.75'
    """
    ratio = math.log(ICE_CONDUCTIVITY / WATER_CONDUCTIVITY)
    return conductivity * np.exp(ratio * water_volume_fraction)


def half_space_coefficient(
    conductivity: FloatArray, volumetric_heat_capacity: FloatArray, temperature_difference: FloatArray
) -> FloatArray:
    """Coefficient A of the flux A / sqrt(t) into the surface of a half-space [W s^0.5/m2].

    Notes
    -----
    A = k dT / sqrt(pi alpha) = dT sqrt(k C / pi). References: carslaw1959conduction, section 2.4.

    Examples
    --------
    >>> f"{half_space_coefficient(0.92, 0.92 / 4.16e-7, 184.0) / 10**0.5 / 1e3:.1f} kW/m2"
    '46.8 kW/m2'
    """
    return temperature_difference * np.sqrt(conductivity * volumetric_heat_capacity / math.pi)


def neumann_coefficient(
    near_difference: FloatArray,
    far_difference: FloatArray,
    *,
    near_conductivity: FloatArray,
    near_heat_capacity: FloatArray,
    far_conductivity: FloatArray,
    far_heat_capacity: FloatArray,
    latent_heat: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Flux coefficient and front of a half-space that changes phase behind a moving front.

    "Near" is the phase between the surface and the front (frozen ground under a cold pool), "far" the
    phase beyond it.

    Parameters
    ----------
    near_difference, far_difference : float or ndarray
        From the surface to the melting point, and from there to the undisturbed ground [K], 0 or more.
    near_conductivity, far_conductivity : float or ndarray
        [W/m/K].
    near_heat_capacity, far_heat_capacity : float or ndarray
        Per volume [J/m3/K].
    latent_heat : float or ndarray
        Per volume [J/m3], 0 or more.

    Returns
    -------
    coefficient, root : ndarray
        A of the surface flux A / sqrt(t) [W s^0.5/m2], and lambda: the front is at
        2 lambda sqrt(alpha_near t).

    Raises
    ------
    ConvergenceError
        The transcendental equation was not solved.

    Notes
    -----
    l sqrt(alpha_n) lambda = a exp(-lambda^2) / erf(lambda) - b / erfcx(lambda sqrt(alpha_n / alpha_f)),
    A = a / erf(lambda), a = dT_n sqrt(k_n C_n / pi), b = dT_f sqrt(k_f C_f / pi). Newton's method, a
    fixed number of steps. The volume change of freezing water is left out.
    References: carslaw1959conduction, section 11.2 (Neumann's solution).

    Examples
    --------
    >>> A, root = neumann_coefficient(42.0, 27.0, near_conductivity=2.7811, near_heat_capacity=1.936e6,
    ...     far_conductivity=1.8694, far_heat_capacity=2.6195e6, latent_heat=106.75e6)
    >>> f"{A:.0f} {root:.6f}"
    '128164 0.400644'
    """
    a = half_space_coefficient(near_conductivity, near_heat_capacity, near_difference)
    b = half_space_coefficient(far_conductivity, far_heat_capacity, far_difference)
    alpha = near_conductivity / near_heat_capacity
    c = latent_heat * np.sqrt(alpha)
    ratio = np.sqrt(alpha * far_heat_capacity / far_conductivity)
    root = _neumann_root(a, b, c, ratio)
    with_front = a > 0.0
    return np.where(with_front, a / np.where(with_front, _erf(root), 1.0), b)[()], root[()]


def _neumann_root(a: FloatArray, b: FloatArray, c: FloatArray, ratio: FloatArray) -> FloatArray:
    still, a = a <= 0.0, np.where(a > 0.0, a, 1.0)
    q = a * (math.sqrt(math.pi) / 2.0)
    x = 2.0 * q / np.maximum(b + np.sqrt(b * b + 4.0 * c * q), np.finfo(float).tiny)
    x = np.clip(x, np.finfo(float).tiny, _LARGEST_ROOT)
    step = np.zeros_like(x)
    for _ in range(_NEWTON_STEPS):
        erf, gauss, scaled = _erf(x), np.exp(-x * x), _erfcx(ratio * x)
        front = gauss / erf
        value = c * x - a * front + b / scaled
        slope = c + a * front * (2.0 * x + (2.0 / math.sqrt(math.pi)) * front)
        slope = slope + b * ratio * (2.0 / math.sqrt(math.pi) - 2.0 * ratio * x * scaled) / (scaled * scaled)
        new = np.clip(x - value / np.maximum(slope, np.finfo(float).tiny), 0.25 * x, 4.0 * x)
        new = np.minimum(new, _LARGEST_ROOT)
        step, x = np.abs(new - x) / x, new
    worst = np.where(~still & (x < 0.9 * _LARGEST_ROOT), step, 0.0)
    if worst.size and worst.max() > _ROOT_TOLERANCE:
        raise ConvergenceError("front of freezing ground", float(worst.max()))
    return np.where(still, 0.0, x)


def _erf(x: FloatArray) -> FloatArray:
    """Error function for 0 <= x <= 6, good to rounding also near 0."""
    total = np.zeros_like(x)
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        u = x * (0.5 + 0.5 * node)
        total = total + weight * np.exp(-u * u)
    return total * x / math.sqrt(math.pi)


def _erfcx(x: FloatArray) -> FloatArray:
    """exp(x^2) erfc(x) for 0 <= x <= 12, as an integral over [0, 6], good to 1e-12."""
    total = np.zeros_like(x)
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        s = 3.0 + 3.0 * node
        total = total + (weight * math.exp(-s * s)) * np.exp((-2.0 * s) * x)
    return total * (6.0 / math.sqrt(math.pi))


def _coefficient(
    contact: FloatArray,
    start: FloatArray,
    conductivity: FloatArray,
    capacity: FloatArray,
    frozen_conductivity: FloatArray,
    frozen_capacity: FloatArray,
    latent: FloatArray,
) -> FloatArray:
    """Return A of A / sqrt(t), with or without a front; arguments of one dimension or more."""
    melting = float(FREEZING_POINT_OF_WATER)
    cold_side = contact < melting
    cold_start = start < melting
    moving = (latent > 0.0) & (cold_side != cold_start)
    frozen = (latent > 0.0) & cold_side & cold_start
    plain_flux = half_space_coefficient(
        np.where(frozen, frozen_conductivity, conductivity),
        np.where(frozen, frozen_capacity, capacity),
        start - contact,
    )
    near_k = np.where(cold_side, frozen_conductivity, conductivity)
    near_c = np.where(cold_side, frozen_capacity, capacity)
    far_k = np.where(cold_side, conductivity, frozen_conductivity)
    far_c = np.where(cold_side, capacity, frozen_capacity)
    front_flux, _ = neumann_coefficient(
        np.where(moving, np.abs(melting - contact), 1.0),
        np.where(moving, np.abs(start - melting), 1.0),
        near_conductivity=near_k,
        near_heat_capacity=near_c,
        far_conductivity=far_k,
        far_heat_capacity=far_c,
        latent_heat=np.where(moving, latent, 1.0),
    )
    return np.where(moving, np.where(cold_side, front_flux, -front_flux), plain_flux)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Contact:
    """The coefficient A of many scenarios as a function of contact temperature, tabulated once.

    Straight lines between values that lie close together near the freezing point, where A bends, and
    3 to 7 K apart far from it; exact for ground that does not freeze. Make it with :meth:`prepare`.
    """

    values: FloatArray
    """A [W s^0.5/m2]: table axis first, scenarios last."""

    @classmethod
    def prepare(cls, ground_temperature: FloatArray, properties: Mapping[str, FloatArray]) -> Contact:
        """Tabulate for `conduction_properties` and a ground temperature [K], all of shape (scenarios,)."""
        axis = _table_axis()
        grid = np.broadcast_to(axis[:, None], (axis.size, *ground_temperature.shape))
        full = [np.broadcast_to(value, grid.shape) for value in (ground_temperature, *properties.values())]
        return cls(_coefficient(grid, *full))

    def line(self, contact_temperature: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return A and its slope dA/dT at temperatures of shape (scenarios,)."""
        axis = _table_axis()
        cell = np.clip(np.searchsorted(axis, contact_temperature, side="right") - 1, 0, axis.size - 2)
        scenario = np.arange(self.values.shape[1])
        low, high = self.values[cell, scenario], self.values[cell + 1, scenario]
        slope = (high - low) / (axis[cell + 1] - axis[cell])
        return low + slope * (contact_temperature - axis[cell]), slope


def _table_axis() -> FloatArray:
    (below, rows_below), (above, rows_above) = _TABLE_BELOW, _TABLE_ABOVE
    down = below * (np.arange(rows_below, 0, -1) / rows_below) ** 2
    up = above * (np.arange(rows_above + 1) / rows_above) ** 2
    return float(FREEZING_POINT_OF_WATER) + np.concatenate([-down, up])


def conduction_properties(ground: Ground) -> dict[str, FloatArray]:
    """Properties that :func:`_coefficient` takes, in its order, named after the arguments they come from."""
    return {
        "conductivity": ground.conductivity,
        "heat_capacity": ground.volumetric_heat_capacity,
        "frozen_conductivity": ground.frozen_conductivity,
        "frozen_heat_capacity": ground.frozen_volumetric_heat_capacity,
        "water_mass_fraction": ground.latent_heat,
    }


def _check_water(ground: Ground) -> None:
    if np.any(ground.frozen_volumetric_heat_capacity <= 0.0):
        raise InputError("heat_capacity is too small for ground that holds this water_mass_fraction")


def _read_table() -> dict[str, dict[str, str]]:
    text = (resources.files("lpgrelease") / "data" / "grounds.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return {row["name"]: row for row in csv.DictReader(lines)}


def _find(name: Any) -> dict[str, str]:
    if not isinstance(name, str):
        raise InputError(f"a ground is named by a string, got {name!r}")
    table = _read_table()
    alias = {a: row for row in table.values() for a in (row["name"], *row["aliases"].split(";")) if a}
    wanted = " ".join(name.casefold().split())
    if wanted not in alias:
        near = difflib.get_close_matches(wanted, alias, n=3, cutoff=0.4)
        nearest = ", ".join(near) or "none is near"
        raise InputError(f"unknown ground {name!r}; nearest: {nearest}; known: {', '.join(table)}")
    return alias[wanted]
