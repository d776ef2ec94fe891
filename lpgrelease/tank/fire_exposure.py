"""Heat that a tank takes up in a pool fire that engulfs it, by the rule of the relief standard."""

from __future__ import annotations

from typing import Final

import numpy as np

from lpgrelease.constants import FREEZING_POINT_OF_WATER, Constant
from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result
from lpgrelease.tank.contents import Contents
from lpgrelease.tank.shapes import SphericalTank, Tank

__all__ = [
    "FireExposure",
    "exposed_area_at",
    "fire_engulfment",
    "fire_heat",
    "insulation_factor",
    "relief_air_flow",
]

DRAINED: Final = Constant(
    43.2e3, "heat into 1 m2 of wetted wall, fuel drained and fire fought promptly", "W", "api2014flares"
)
UNDRAINED: Final = Constant(70.9e3, "heat into 1 m2 of wetted wall without drainage", "W", "api2014flares")
EXPONENT: Final = 0.82
FLAME_REACH: Final = Constant(7.6, "height over the fire's base that counts as exposed", "m", "api2014flares")
FLAME_TEMPERATURE: Final = 904.0 + float(FREEZING_POINT_OF_WATER)
"""Of the flame that insulation is rated against [K] (1660 degF)."""
BARE_FLUX: Final = 66.57e3
"""Heat flux into a small bare wall that insulation is compared with [W/m2] (21,000 Btu/h/ft2)."""

CAUTIONS: Final = (
    "An estimate for sizing, not a time for which a tank can be approached: wall above the liquid that "
    "flames touch can fail within minutes, with the relief valve open or not.",
    "A jet flame brings several times this heat to where it strikes.",
)


@result
class FireExposure(Result):
    """Heat from a fire around a tank; all fields share the scenarios' shape."""

    exposed_area: FloatArray = quantity("m**2", "wetted wall within reach of the flames")
    heat: FloatArray = quantity("W", "taken up by the liquid")
    heat_flux: FloatArray = quantity("W/m**2", "mean over the exposed area; 0 where there is none")
    boil_off: FloatArray = quantity("kg/s", "vapor to let off so that temperature and pressure do not rise")
    cautions: tuple[str, ...] = plain("what to bear in mind")


def fire_heat(
    wetted_area: FloatArray,
    *,
    adequate_drainage: BoolArray | bool = True,
    environment_factor: FloatArray | float = 1.0,
) -> FloatArray:
    """Heat that the wetted wall of a tank takes up in an open pool fire [W]; SI arrays, unchecked.

    Parameters
    ----------
    wetted_area : float or ndarray
        A [m2], within reach of the flames.
    adequate_drainage : bool or ndarray of bool
        Whether burning fuel drains away from the tank and the fire is fought at once.
    environment_factor : float or ndarray
        F: 1 for a bare tank (sprayed with water or depressured too), 0.03 under earth above grade, 0 below
        grade.

    Notes
    -----
    Q = C F A^0.82, C = 43.2 kW, or 70.9 kW without drainage and prompt fire fighting. Fitted to open fires of
    liquid hydrocarbons; the exponent stands for large walls being seldom all in flames at once, so below 1 m2
    the mean flux grows beyond the range of the tests. Not for jet flames nor for fires in confined places.
    References: api2014flares, section 4.4.13 (section from memory; coefficients looked up as quoted
    in a valve maker's handbook).

    Examples
    --------
    >>> print(f"{fire_heat(10.0) / 1e3:.1f} kW")
    285.4 kW
    """
    coefficient = np.where(adequate_drainage, float(DRAINED), float(UNDRAINED))
    return coefficient * environment_factor * np.power(wetted_area, EXPONENT)


def exposed_area_at(
    tank: Tank,
    level: FloatArray,
    *,
    elevation: FloatArray | float = 0.0,
    height_limit: FloatArray | float = float(FLAME_REACH),
) -> FloatArray:
    """Wetted wall within reach of the flames [m2]; SI arrays, unchecked.

    Parameters
    ----------
    tank : Tank
    level : float or ndarray
        Of the liquid, from the tank's lowest point [m].
    elevation : float or ndarray
        Of the tank's lowest point over the ground or deck that can hold a pool of fuel [m].
    height_limit : float or ndarray
        Reach of the flames over that ground [m], 7.6 by the standard. Of a sphere the whole lower half counts
        at least.

    Notes
    -----
    References: api2014flares, section 4.4.13 and Table 5.

    Examples
    --------
    >>> from lpgrelease import HorizontalTank, SphericalTank
    >>> tank = HorizontalTank(diameter=2.0, length=6.0)
    >>> print(f"{exposed_area_at(tank, 1.0):.2f} {exposed_area_at(tank, 1.0, elevation=8.0):.2f}")
    23.19 0.00
    >>> print(f"{exposed_area_at(SphericalTank(diameter=20.0), 15.0, elevation=1.0):.1f}")
    628.3
    """
    reach = np.maximum(np.subtract(height_limit, elevation), 0.0)
    if isinstance(tank, SphericalTank):
        reach = np.maximum(reach, 0.5 * tank.height)
    up_to = np.minimum(level, reach)
    all_of_it = up_to >= tank.height
    whole = tank.surface_area
    some = whole if all_of_it.all() else tank.wetted_area_at(np.minimum(up_to, tank.height))
    return np.where(all_of_it, whole, some)[()]


def insulation_factor(conductivity: FloatArray, thickness: FloatArray, temperature: FloatArray) -> FloatArray:
    """Environment factor F of insulation that stays on in a fire; SI arrays, unchecked.

    Parameters
    ----------
    conductivity : float or ndarray
        Of the insulation at the mean of 904 degC and the contents' temperature, k [W/m/K].
    thickness : float or ndarray
        delta [m].
    temperature : float or ndarray
        Of the contents at relief, T_f [K].

    Notes
    -----
    F = k (904 - T_f) / (66570 delta), T_f in degC: for insulation that withstands 904 degC for two hours and
    is not washed off by hose streams. Above 1 the tank counts as bare.
    References: api2014flares, section 4.4.13 (from memory).

    Examples
    --------
    >>> print(f"{insulation_factor(0.05, 0.05, 303.15):.4f}")
    0.0131
    """
    return conductivity * (FLAME_TEMPERATURE - temperature) / (BARE_FLUX * thickness)


def relief_air_flow(surface_area: FloatArray) -> FloatArray:
    """Least relief capacity of an LP-gas container as air [m3/s] at 60 degF and 14.7 psia; unchecked.

    Parameters
    ----------
    surface_area : float or ndarray
        Of the whole container outside, A [m2].

    Notes
    -----
    53.632 A^0.82 standard cubic feet of air a minute, A in ft2 (from memory), the rule of American practice
    for stationary containers above ground.
    References: nfpa2017gases, section 5.9.

    Examples
    --------
    >>> print(f"{relief_air_flow(100.0 * 0.3048**2) / 0.3048**3 * 60.0:.0f} ft3/min")
    2341 ft3/min
    """
    foot = 0.3048
    return 53.632 * np.power(np.divide(surface_area, foot * foot), EXPONENT) * (foot**3 / 60.0)


def fire_engulfment(
    contents: Contents,
    *,
    elevation: QuantityLike = 0.0,
    adequate_drainage: bool | BoolArray = True,
    environment_factor: QuantityLike = 1.0,
    height_limit: QuantityLike = float(FLAME_REACH),
) -> FireExposure:
    """Heat that a tank takes up in a pool fire around it, and the vapor it must let off.

    Parameters
    ----------
    contents : Contents
    elevation : number, array or quantity
        Of the tank's lowest point over the ground that can hold a pool of fuel [m].
    adequate_drainage : bool or array of bool
        Whether burning fuel drains away and the fire is fought at once; if not, 1.64 times the heat.
    environment_factor : number or array
        0 to 1; 1 for a bare tank. See `lpgrelease.tank.fire_exposure.insulation_factor`.
    height_limit : number, array or quantity
        Reach of the flames [m].

    Returns
    -------
    FireExposure

    Raises
    ------
    InputError, OutOfRangeError
        Bad arguments.

    Notes
    -----
    Q = C F A^0.82 (`lpgrelease.tank.fire_exposure.fire_heat`); vapor m = Q (1 - rho_v / rho_l) / L keeps a
    boiling tank at one temperature: a little less than Q / L, since vapor fills the room that liquid leaves.
    A full-scale fire brings 100 kW/m2 and more to a small wetted wall; the rule's mean over a large one is
    less.

    References: api2014flares, section 4.4.13.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> tank = lr.HorizontalTank(diameter=1.04, length=4.5)
    >>> contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.5, temperature=315.0)
    >>> fire = fire_engulfment(contents, elevation=0.6)
    >>> print(f"{fire.exposed_area:.2f} m2 take up {fire.heat / 1e3:.0f} kW: {fire.boil_off:.2f} kg/s")
    8.52 m2 take up 250 kW: 0.77 kg/s
    """
    if not isinstance(contents, Contents):
        raise InputError(f"contents must be Contents, got {contents!r}")
    try:
        drained = np.asarray(adequate_drainage)
    except ValueError:  # rows of different lengths
        drained = np.empty(0)
    if drained.dtype != np.bool_:
        raise InputError(f"adequate_drainage must be True or False, got {adequate_drainage!r}")
    latent, rho_l, rho_v = contents._saturated("latent_heat", "liquid_density", "vapor_density")
    level, above, factor, limit, is_drained, per_joule = broadcast(
        level=contents.level,
        elevation=to_si(elevation, "m", "elevation", lower=0.0),
        environment_factor=to_si(environment_factor, "", "environment_factor", lower=0.0, upper=1.0),
        height_limit=to_si(height_limit, "m", "height_limit", lower=0.0),
        adequate_drainage=drained,
        boil_off=(1.0 - rho_v / rho_l) / latent,
    )
    area = exposed_area_at(contents.tank, level, elevation=above, height_limit=limit)
    heat = fire_heat(area, adequate_drainage=is_drained.astype(bool), environment_factor=factor)
    return FireExposure(
        exposed_area=area[()],
        heat=heat[()],
        heat_flux=np.where(area > 0.0, heat / np.where(area > 0.0, area, 1.0), 0.0)[()],
        boil_off=(heat * per_joule)[()],
        cautions=CAUTIONS,
        provenance=Provenance("pool fire around a tank: Q = C F A^0.82", ("api2014flares",)),
    )
