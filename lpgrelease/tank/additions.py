"""What may be added to a tank's history: the wall's own temperatures and covering, a fire, transfers."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import QuantityLike, broadcast, require_flag, require_word, to_si
from lpgrelease.results import Provenance, Result, plain, quantity, result

__all__ = ["TankFire", "TankWall", "Transfer"]

STEEL_CONDUCTIVITY = 50.0
"""Of carbon steel [W/m/K]; common practice, no source."""


@result
class TankWall(Result):
    """How a tank's wall takes up heat: its own two temperatures, insulation, what it stands on.

    Parameters
    ----------
    two_temperatures : bool
        Wetted and dry wall, and the vapor, each have their own temperature; the wall's mass must then be
        given. Otherwise all metal is at the contents' temperature.
    insulation : number, array or quantity
        Thermal resistance of insulation and jacket [m2 K/W]: thickness over conductivity. The heat of a fire
        does not count it: `environment_factor` and `dry_flux` of `TankFire` are what comes through.
    contact_conductance : number, array or quantity
        To ground or water that the wetted wall touches [W/K].
    contact_temperature : number, array or quantity, optional
        Of that ground or water [K]; None: the air's.
    wet_coefficient, dry_coefficient, surface_coefficient : number, array or quantity, optional
        Between wetted wall and liquid, dry wall and vapor, vapor and the liquid's surface [W/m2/K]. None:
        boiling (cooper1984boiling) or free convection.
    inside_emissivity : number, array or quantity
        Of the dry wall's inside, which shines on the liquid; that of rusty steel, common practice, no source.
    conductivity : number, array or quantity
        Of the metal [W/m/K]; heat flows along it at the waterline.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> wall = TankWall(insulation=0.05 / 0.04)
    >>> print(f"{wall.insulation:.2f} m2 K/W")
    1.25 m2 K/W
    """

    two_temperatures: bool = plain("whether walls and vapor have their own temperatures", default=True)
    insulation: QuantityLike = quantity("m**2*K/W", "resistance of the insulation", default=0.0)
    contact_conductance: QuantityLike = quantity("W/K", "conductance to ground or water", default=0.0)
    contact_temperature: QuantityLike | None = quantity("K", "of ground or water", default=None)
    wet_coefficient: QuantityLike | None = quantity("W/m**2/K", "wetted wall to liquid", default=None)
    dry_coefficient: QuantityLike | None = quantity("W/m**2/K", "dry wall to vapor", default=None)
    surface_coefficient: QuantityLike | None = quantity("W/m**2/K", "vapor to liquid", default=None)
    inside_emissivity: QuantityLike = quantity("", "of the dry wall's inside", default=0.8)
    conductivity: QuantityLike = quantity("W/m/K", "of the metal", default=STEEL_CONDUCTIVITY)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("wall as given"))

    def __post_init__(self) -> None:
        """Take every number to SI and check it."""
        require_flag(self.two_temperatures, "two_temperatures")
        limits = {
            "insulation": ("m**2*K/W", 0.0, 1e3),
            "contact_conductance": ("W/K", 0.0, 1e8),
            "contact_temperature": ("K", 180.0, 400.0),
            "wet_coefficient": ("W/m**2/K", 1e-3, 1e8),
            "dry_coefficient": ("W/m**2/K", 1e-3, 1e8),
            "surface_coefficient": ("W/m**2/K", 0.0, 1e8),
            "inside_emissivity": ("", 0.0, 1.0),
            "conductivity": ("W/m/K", 0.0, 1e3),
        }
        _check(self, limits)


@result
class TankFire(Result):
    """A fire around a tank: heat into its wetted surface, and into the dry wall.

    Parameters
    ----------
    adequate_drainage : bool
        Drainage and firefighting are prompt: 43.2 instead of 70.9 kW per m2**0.82.
    environment_factor : number or array
        F: 1 for a bare tank, less for insulation that stays on in a fire.
    elevation : number, array or quantity
        Of the tank's lowest point above the ground or the floor that holds the fire [m].
    dry_flux : number, array or quantity
        Heat flux that the dry wall takes up from the fire [W/m2]; what it sends out again as it gets hot is
        counted by itself, by the tank's `emissivity`.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    Q = C F A**0.82 (api2014flares), A the wetted surface up to 7.6 m above the ground: for sizing relief
    devices on an open pool fire, not for a jet that burns on the shell, which may bring several times as
    much to a small patch and weaken the dry wall within minutes.

    Examples
    --------
    >>> TankFire(adequate_drainage=False).environment_factor
    np.float64(1.0)
    """

    adequate_drainage: bool = plain("whether drainage and firefighting are prompt", default=True)
    environment_factor: QuantityLike = quantity("", "environment factor F", default=1.0)
    elevation: QuantityLike = quantity("m", "of the tank's lowest point", default=0.0)
    dry_flux: QuantityLike = quantity("W/m**2", "into the dry wall", default=0.0)
    provenance: Provenance = plain(
        "where the numbers come from", default=Provenance("fire as given", ("api2014flares",))
    )

    def __post_init__(self) -> None:
        """Take every number to SI and check it."""
        require_flag(self.adequate_drainage, "adequate_drainage")
        limits = {
            "environment_factor": ("", 0.0, 1.0),
            "elevation": ("m", 0.0, 100.0),
            "dry_flux": ("W/m**2", 0.0, 3e5),
        }
        _check(self, limits)


@result
class Transfer(Result):
    """Liquid or vapor pumped into or out of a tank at a given rate.

    Parameters
    ----------
    mass_flow : number, array or quantity
        Into the tank [kg/s]; negative out of it.
    phase : {"liquid", "vapor"}
        What goes in or out.
    temperature : number, array or quantity, optional
        Of what comes in, saturated [K]; None: that of the tank at the start.

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> Transfer(mass_flow=-0.5).phase
    'liquid'
    """

    mass_flow: QuantityLike = quantity("kg/s", "into the tank")
    phase: str = plain("liquid or vapor", default="liquid")
    temperature: QuantityLike | None = quantity("K", "of what comes in", default=None)
    provenance: Provenance = plain("where the numbers come from", default=Provenance("transfer as given"))

    def __post_init__(self) -> None:
        """Take every number to SI and check it."""
        require_word(self.phase, ("liquid", "vapor"), "phase")
        _check(self, {"mass_flow": ("kg/s", -1e5, 1e5), "temperature": ("K", 0.0, 1e4)})


def _check(source: Result, limits: dict[str, tuple[str, float, float]]) -> None:
    """Take the numbers of `source` to SI within their limits."""
    checked = {
        name: to_si(getattr(source, name), unit, name, lower=lower, upper=upper)
        for name, (unit, lower, upper) in limits.items()
        if getattr(source, name) is not None
    }
    broadcast(**{name: np.asarray(value) for name, value in checked.items()})
    for name, value in checked.items():
        object.__setattr__(source, name, value)
