"""Grounds, and the heat they give to something cold laid on them.

A half-space suddenly held at a constant contact temperature gives the flux A / sqrt(t). Pore water
that freezes changes A and nothing else (Neumann's similarity solution), and it raises A: moist ground
gives several times the heat of dry ground. The functions below :class:`Ground` are plain, elementwise
functions of SI arrays.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from lpgrelease.conduction import contact_coefficient
from lpgrelease.constants import (
    ICE_CONDUCTIVITY,
    ICE_HEAT_CAPACITY,
    ICE_LATENT_HEAT,
    WATER_DENSITY,
    WATER_HEAT_CAPACITY,
    Constant,
)
from lpgrelease.errors import InputError
from lpgrelease.ground.table import find_ground
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, require_kind, to_si
from lpgrelease.results import Provenance, Result, in_unit, plain, quantity, result

__all__ = ["Ground", "conduction_properties", "frozen_conductivity_johansen"]

WATER_CONDUCTIVITY: Final = Constant(
    0.57, "thermal conductivity of water near 0 degC", "W/m/K", "from memory", 0.01
)


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
        Water that can freeze, per mass of ground as it lies, 0 to 1 (water alone). It matters most.
    frozen_conductivity : number, array or quantity, optional
        [W/m/K]; None takes :func:`frozen_conductivity_johansen`.
    temperature : number, array or quantity, optional
        Of the undisturbed ground [K]; None takes the air's.
    minimum_depth : number, array or quantity
        Depth of liquid that the micro-relief holds back from spreading [m]; 5 to 20 mm is usual, and
        it governs how wide a pool becomes.
    conductivity_slope, heat_capacity_slope : number, array or quantity
        Relative rise of conductivity and heat capacity, frozen and not, per kelvin above 273.15 K [1/K]:
        k (1 + slope (T - 273.15 K)). Used by columns, not by the coefficient of the half-space.
    thickness : number, array or quantity, optional
        Of this layer [m]; with `below`.
    below : Ground, optional
        What this layer lies on. None: it reaches down without end.
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
    Each layer is uniform and isotropic. `heat_flux` and `heat_coefficient` are those of the uppermost one,
    right until the cold has reached its foot. All water freezes at 273.15 K (in clays a part stays liquid
    well below that, so their extra heat is overstated). Perfect contact is assumed: film boiling
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
    conductivity_slope: QuantityLike = quantity("1/K", "relative rise of the conductivity", default=0.0)
    heat_capacity_slope: QuantityLike = quantity("1/K", "relative rise of the heat capacity", default=0.0)
    thickness: QuantityLike = quantity("m", "thickness of this layer", default=None)
    below: Ground | None = plain("what it lies on", default=None)
    name: str = plain("what it is called", default="ground as given")
    provenance: Provenance = plain("where the numbers come from", default=Provenance("ground as given"))

    def __post_init__(self) -> None:
        """Turn every number into SI arrays and check it."""
        require_kind(self.name, str, "name")
        checked = {}
        for name, (unit, lower, upper, open_lower) in _RANGES.items():
            value = getattr(self, name)
            if value is None and name in ("frozen_conductivity", "temperature", "thickness"):
                continue
            checked[name] = to_si(value, unit, name, lower=lower, upper=upper, open_lower=open_lower)
            object.__setattr__(self, name, checked[name])
        broadcast(**checked)
        if self.frozen_conductivity is None:
            frozen = frozen_conductivity_johansen(self.conductivity, self.water_volume_fraction)
            object.__setattr__(self, "frozen_conductivity", frozen)
        _check_water(self)
        _check_layers(self)

    @classmethod
    def named(
        cls,
        name: str,
        *,
        temperature: QuantityLike | None = None,
        minimum_depth: QuantityLike | None = None,
        thickness: QuantityLike | None = None,
        below: Ground | None = None,
    ) -> Ground:
        """Return a ground of the table in ``data/grounds.csv``.

        Parameters
        ----------
        name : str
            "dry sand", "moist sand", "clay", "gravel", "concrete", "asphalt", ... in any case.
        temperature, minimum_depth : number, array or quantity, optional
            As in the constructor; None takes the air's temperature and the table's depth.
        thickness, below : optional
            As in the constructor.

        Raises
        ------
        InputError
            No such ground; the message gives the nearest names and all that are known.

        Examples
        --------
        >>> Ground.named("moist sand").conductivity
        np.float64(2.1)
        """
        row = find_ground(name)
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
            thickness=thickness,
            below=below,
            name=row["name"],
            provenance=Provenance("table of grounds, " + row["how_known"], sources),
        )

    @staticmethod
    def named_range(name: str) -> dict[str, tuple[float, float]]:
        """Return what sources give for the words of a named ground: lowest and highest.

        Parameters
        ----------
        name : str
            As for :meth:`named`.

        Returns
        -------
        dict
            "conductivity" [W/m/K] and "water_mass_fraction".

        Raises
        ------
        InputError
            No such ground.

        Examples
        --------
        >>> Ground.named_range("moist sand")
        {'conductivity': (1.4, 3.5), 'water_mass_fraction': (0.048, 0.13)}
        """
        row = find_ground(name)
        return {
            "conductivity": (float(row["conductivity_low"]), float(row["conductivity_high"])),
            "water_mass_fraction": (float(row["water_low"]), float(row["water_high"])),
        }

    @property
    @in_unit("")
    def water_volume_fraction(self) -> FloatArray:
        """Volume of liquid water per volume of ground."""
        return self.density * self.water_mass_fraction / float(WATER_DENSITY)  # type: ignore[no-any-return]

    @property
    @in_unit("J/m**3")
    def latent_heat(self) -> FloatArray:
        """Heat given up when the water in the ground freezes [J/m3]."""
        return self.density * self.water_mass_fraction * float(ICE_LATENT_HEAT)  # type: ignore[no-any-return]

    @property
    @in_unit("J/m**3/K")
    def volumetric_heat_capacity(self) -> FloatArray:
        """Heat capacity of unfrozen ground [J/m3/K]."""
        return self.density * self.heat_capacity  # type: ignore[no-any-return]

    @property
    @in_unit("J/m**3/K")
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
        coefficient = contact_coefficient(*flat)
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
    "density": ("kg/m**3", 0.0, 3e4, True),
    "heat_capacity": ("J/kg/K", 0.0, None, True),
    "water_mass_fraction": ("", 0.0, 1.0, False),
    "frozen_conductivity": ("W/m/K", 0.0, None, True),
    "temperature": ("K", 150.0, 350.0, False),
    "minimum_depth": ("m", 0.0, 0.5, True),
    "conductivity_slope": ("1/K", -0.006, 0.006, False),
    "heat_capacity_slope": ("1/K", -0.006, 0.006, False),
    "thickness": ("m", 0.0, 100.0, True),
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


def conduction_properties(ground: Ground) -> dict[str, FloatArray]:
    """Properties that ``conduction.contact_coefficient`` takes, in its order."""
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


def _check_layers(ground: Ground) -> None:
    if (ground.below is None) != (ground.thickness is None):
        raise InputError("thickness and below belong together: a layer of a thickness lies on something")
    if ground.below is not None and not isinstance(ground.below, Ground):
        raise InputError(f"below: a Ground is wanted, got {ground.below!r}")
