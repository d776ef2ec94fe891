"""Physical constants, each a float that carries its name, unit, uncertainty and source."""

from __future__ import annotations

__all__ = [
    "FREEZING_POINT_OF_WATER",
    "GAS_CONSTANT",
    "ICE_CONDUCTIVITY",
    "ICE_HEAT_CAPACITY",
    "ICE_LATENT_HEAT",
    "STANDARD_ATMOSPHERE",
    "STANDARD_GRAVITY",
    "STEFAN_BOLTZMANN",
    "SUBLIMATION_HEAT",
    "WATER_DENSITY",
    "WATER_HEAT_CAPACITY",
    "ZERO_GAUGE_READING",
    "Constant",
]


class Constant(float):
    """A number in SI units that knows what it is.

    Parameters
    ----------
    value : float
        Value in SI units.
    name, unit, source : str
        What it is, its SI unit, and a key of the bibliography or a plain statement.
    uncertainty : float
        Standard uncertainty in the same unit; 0 where the value is exact by definition.

    Examples
    --------
    >>> STANDARD_GRAVITY
    Constant(9.80665 m/s**2: standard acceleration of gravity, exact; bipm2019si)
    >>> STANDARD_GRAVITY * 2
    19.6133
    """

    __slots__ = ("name", "source", "uncertainty", "unit")
    name: str
    unit: str
    source: str
    uncertainty: float

    def __new__(cls, value: float, name: str, unit: str, source: str, uncertainty: float = 0.0) -> Constant:
        """Make the float and attach what it stands for."""
        self = super().__new__(cls, value)
        self.name, self.unit, self.source, self.uncertainty = name, unit, source, uncertainty
        return self

    def __reduce__(self) -> tuple[type[Constant], tuple[float, str, str, str, float]]:
        return Constant, (float(self), self.name, self.unit, self.source, self.uncertainty)

    def __repr__(self) -> str:
        spread = f"+-{self.uncertainty:g}" if self.uncertainty else "exact"
        return f"Constant({float(self)!r} {self.unit}: {self.name}, {spread}; {self.source})"


STANDARD_GRAVITY = Constant(9.80665, "standard acceleration of gravity", "m/s**2", "bipm2019si")
GAS_CONSTANT = Constant(8.31446261815324, "molar gas constant", "J/mol/K", "tiesinga2021codata")
STEFAN_BOLTZMANN = Constant(5.670374419e-8, "Stefan-Boltzmann constant", "W/m**2/K**4", "tiesinga2021codata")
STANDARD_ATMOSPHERE = Constant(101325.0, "standard atmosphere", "Pa", "bipm2019si")
FREEZING_POINT_OF_WATER = Constant(273.15, "melting point of ice at 1 atm", "K", "bipm2019si", 0.001)
ZERO_GAUGE_READING = Constant(
    689.476,
    "gauge pressure that reads as zero on a common dial, a tenth of a psi",
    "Pa",
    "common practice, no source",
)
WATER_DENSITY = Constant(
    999.8, "density of water at 0 degC", "kg/m**3", "haynes2014handbook, from memory", 0.1
)
WATER_HEAT_CAPACITY = Constant(
    4200.0,
    "heat capacity of water, mean of 0 to 30 degC",
    "J/kg/K",
    "haynes2014handbook, from memory",
    20.0,
)
ICE_HEAT_CAPACITY = Constant(
    2050.0, "isobaric heat capacity of ice at -10 degC", "J/kg/K", "haynes2014handbook, from memory", 60.0
)
ICE_CONDUCTIVITY = Constant(
    2.2,
    "thermal conductivity of ice at 0 degC; tables give 1.9 to 2.3",
    "W/m/K",
    "slack1980ice, from memory",
    0.15,
)
ICE_LATENT_HEAT = Constant(
    333.4e3, "latent heat of melting of ice at 0 degC", "J/kg", "feistel2006ice, from memory", 0.2e3
)
SUBLIMATION_HEAT = Constant(
    2.834e6, "latent heat of sublimation of ice at 0 degC", "J/kg", "feistel2006ice, from memory", 2e3
)
