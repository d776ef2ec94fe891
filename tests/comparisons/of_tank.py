"""Tanks and ice: shapes, fire around them, boiling on walls, freezing, thresholds."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from published_tables import PublishedTable, si

import lpgrelease as lr
from lpgrelease.constants import ICE_CONDUCTIVITY, ICE_HEAT_CAPACITY, ICE_LATENT_HEAT
from lpgrelease.freeze_seal import ice, salt, strength
from lpgrelease.tank.fire_exposure import fire_heat, insulation_factor, relief_air_flow
from lpgrelease.tank.heads import HEADS, Spheroid, segment_area
from lpgrelease.tank.wall import boiling_flux

from .base import Comparison, Point

TANK, SEAL = "tanks", "ice"
LENGTHS = {"m": 1.0, "in": 0.0254}
VOLUMES = {"m3": 1.0, "gal": 231 * 0.0254**3}


def _volumes(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        to_m = LENGTHS[row["length_unit"]]
        diameter, level = float(row["diameter"]) * to_m, float(row["level"]) * to_m
        if row["shape"] == "sphere":
            volume = lr.SphericalTank(diameter=diameter).liquid_volume(level=level)
        elif float(row["head_depth"]) == float(row["diameter"]) / 4:
            tank = lr.HorizontalTank(
                diameter=diameter, length=float(row["length"]) * to_m, heads=row["heads"]
            )
            volume = tank.liquid_volume(level=level)
        else:  # heads of a depth that the tank does not offer: the same formulas, one floor down
            volume = _other_heads(row, diameter, level)
        printed = float(row["volume"])
        ours = float(volume) / VOLUMES[row["volume_unit"]]
        allowed = float(row["tolerance_percent"]) / 100.0 * printed
        label = f"{row['shape']} of {row['diameter']} {row['length_unit']} [{row['volume_unit']}]"
        yield Point(label, printed, ours, allowed, f"level {row['level']} {row['length_unit']}")


def _other_heads(row: dict[str, str], diameter: float, level: float) -> float:
    x = level / diameter
    half, length = np.float64(min(x, 1 - x)), float(row["length"]) / float(row["diameter"])
    heads = Spheroid(float(row["head_depth"]) / float(row["diameter"]))
    below = length * segment_area(half) + heads.lying_volume(half)[0]
    total = length * math.pi / 4 + 2 * heads.volume
    return float(diameter**3 * (below if x <= 0.5 else total - below))


def _surface(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        tank = lr.HorizontalTank(
            diameter=float(row["diameter_m"]), length=float(row["length_m"]), heads=row["heads"]
        )
        printed = float(row["area_m2"])
        yield Point("whole tank [m²]", printed, float(tank.surface_area), 1e-3 * printed)
        head = float(row["head_area_over_diameter_squared"])
        yield Point("one head over D²", head, float(HEADS[row["heads"]].area), 1e-3 * head)


def _fire(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        heat = fire_heat(si(row["area"], row["area_unit"], "m**2"), adequate_drainage=row["drained"] == "yes")
        ours, printed = float(heat) / si(1.0, row["heat_unit"], "W"), float(row["heat"])
        label = f"{row['area']} {row['area_unit'].replace('**2', '²')}, drained: {row['drained']}"
        yield Point(
            f"{label} [{row['heat_unit']}]", printed, ours, float(row["tolerance_percent"]) / 100.0 * printed
        )


def _insulation(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        conductance = si(row["conductance_btu_h_ft2_F"], "Btu/hour/ft**2/delta_degF", "W/m**2/K")
        ours = insulation_factor(conductance * 0.05, 0.05, si(60.0, "degF", "K"))
        printed = float(row["factor"])
        yield Point(f"{row['conductance_btu_h_ft2_F']} Btu/h/ft²/°F", printed, float(ours), 0.03 * printed)


def _relief(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        flow = float(relief_air_flow(si(row["area_ft2"], "ft**2", "m**2")))
        printed = float(row["air_ft3_min"])
        yield Point(f"{row['area_ft2']} ft²", printed, flow / si(1, "ft**3/minute", "m**3/s"), 1e-3 * printed)


def _cooper(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        p_r = 101325.0 / float(row["critical_pressure_Pa"])
        superheat, printed = float(row["superheat_K"]), float(row["coefficient_W_m2_K"])
        ours = boiling_flux(superheat, p_r, float(row["molar_mass_g_mol"]) / 1e3) / superheat
        yield Point(row["fluid"], printed, float(ours), 1e-6 * printed, f"{row['superheat_K']} K")


def _thresholds(table: PublishedTable) -> Iterator[Point]:
    hole = lr.Opening(diameter=0.006)
    for row in table.rows:
        p = float(lr.assess_freeze_seal(lr.Fluid(row["fluid"]), hole).fluid_threshold_pressure)
        printed = float(row["p"])
        # gauge from 14.7 psia as the card says
        ours = p / 6894.757293168361 - 14.7 if row["unit"] == "psig" else p / 1e3
        allowed = 0.2 if row["unit"] == "psig" else 0.01 * printed
        yield Point(f"{row['fluid']} [{row['unit']}]", printed, ours, allowed)


def _stefan(table: PublishedTable) -> Iterator[Point]:
    """Time to freeze 20 mm of water at its freezing point, in minutes, by the exact root and by the model."""
    k, rho, X = 2.2, 999.8, 0.02
    for row in table.rows:
        Ste, lam = float(row["stefan_number"]), float(row["lambda"])
        cold = Ste * ICE_LATENT_HEAT / ICE_HEAT_CAPACITY
        exact = X * X * rho * ICE_HEAT_CAPACITY / (4 * k * lam * lam) / 60.0
        heat = rho * ice.freezing_heat(273.15 - cold, 273.15)
        ours = ice.freezing_time(
            X, 273.15 - cold, 273.15, heat_transfer=15.0, conductivity=k, volumetric_heat=heat
        )
        # quasi-steady growth with a third of the ice's own heat: off by the square of the Stefan number
        yield Point(f"Ste {Ste:g}", float(exact), float(ours) / 60.0, (0.06 * Ste * Ste + 2e-4) * exact)


def _ice(table: PublishedTable) -> Iterator[Point]:
    rows = {row["quantity"]: row for row in table.rows}
    latent = float(lr.Fluid("propane").saturation(pressure=101325.0).latent_heat)
    low, high = (float(s) / 1e6 for s in strength.ICE_TENSILE_STRENGTH)
    for quantity, ours, share in (
        ("fusion_heat", float(ICE_LATENT_HEAT) / 1e3, 0.005),
        ("ice_heat_capacity", float(ICE_HEAT_CAPACITY), 0.02),
        ("ice_conductivity_0_C", float(ICE_CONDUCTIVITY), 0.0),
        ("water_frozen_per_propane", latent / float(ice.freezing_heat(273.15, 288.15)), 0.005),
        ("ice_tensile_strength", low, 1e-9),
        ("ice_tensile_strength", high, 1e-9),
    ):
        row = rows[quantity]
        least, most = float(row["low"]), float(row["high"])
        label = f"{quantity.replace('_', ' ')} [{row['unit']}]"
        yield Point(label, least, ours, share * least, upper=None if most == least else most)


def _salt(table: PublishedTable) -> Iterator[Point]:
    for row in table.rows:
        S = float(row["salinity_permille"]) / 1e3
        if row["quantity"] == "freezing_point":
            ours = salt.freezing_point(S) - 273.15
        else:
            T = float(row["T_C"]) + 273.15
            brine = row["quantity"] == "brine_volume"
            # 1.76 MPa: the equation's strength without brine
            ours = salt.brine_volume(S, T) if brine else 1.76 * salt.saline_reduction(S, T)
        label = f"{row['quantity'].replace('_', ' ')} [{row['unit']}]"
        yield Point(
            label, float(row["value"]), float(ours), float(row["tolerance"]), f"{row['salinity_permille']} ‰"
        )


def _tank_heat(air: float, wind: float, fill: float) -> tuple[float, float]:
    """Heat into the wetted wall of a tank of 41 by 191 in at -20 degF [W], and its D L [in2]."""
    tank = lr.HorizontalTank(diameter=41 * 0.0254, length=(191 - 41 / 2) * 0.0254)
    weather = lr.Weather(air_temperature=si(air, "degF", "K"), wind_speed=wind, cloud_cover=1.0)
    flux = tank.outside_exchange(weather).heat_flux(np.float64(si(-20.0, "degF", "K")))
    return float(flux * tank.wetted_area_at(tank.level(fill * tank.volume))), 41.0 * 191.0


def _vaporization(table: PublishedTable) -> Iterator[Point]:
    """The rule burns the vapor: heat of combustion over latent heat is 117."""
    latent = float(lr.Fluid("propane").saturation(temperature=si(-20.0, "degF", "K")).latent_heat)
    burned = si(21591.0, "Btu/lb", "J/kg") / latent / si(1.0, "Btu/hour", "W")
    most = _tank_heat(0.0, 5.0, 0.6)[0]
    for row in table.rows:
        fill, air, printed = (float(row[key]) for key in ("fill_percent", "air_degF", "value"))
        if row["quantity"] == "share":
            heat, base = _tank_heat(air, 5.0, fill / 100)[0], _tank_heat(0.0, 5.0, fill / 100)[0]
            yield Point(
                "share of that at 0 °F, wind 5 m/s", printed, heat / base, 0.05 * printed, f"air {air:g} °F"
            )
            continue
        share = _tank_heat(air, 5.0, fill / 100)[0] / most
        yield Point(
            "K, share of that at 60 %", printed / 100, share, 0.05 * printed / 100, f"{fill:g} % full"
        )
        heat, size = _tank_heat(air, 5.0, fill / 100)
        yield Point("K, wind 5 m/s", printed, heat * burned / size, printed / 3, f"{fill:g} % full")


COMPARISONS = (
    Comparison("vaporization_trade", TANK, "heat into a tank", "its own", "steady_hold", _vaporization),
    Comparison("partial_volumes", TANK, "volume up to a level", "its own", "HorizontalTank", _volumes),
    Comparison("tank_surface", TANK, "surface", "its own", "HorizontalTank", _surface, "computed"),
    Comparison("fire_exposure", TANK, "heat from an open fire", "its own", "fire_engulfment", _fire),
    Comparison("fire_environment_factor", TANK, "factor of insulation", "-", "fire_engulfment", _insulation),
    Comparison("relief_air_lp_gas", TANK, "relief flow as air", "ft³/min", "fire_engulfment", _relief),
    Comparison("boiling_cooper", TANK, "nucleate boiling", "W/m²/K", "TankWall", _cooper, "computed"),
    Comparison(
        "freezing_thresholds",
        SEAL,
        "highest pressure that freezes",
        "its own",
        "assess_freeze_seal",
        _thresholds,
    ),
    Comparison("stefan_one_phase", SEAL, "time to freeze 20 mm", "min", "assess_freeze_seal", _stefan),
    Comparison("ice_and_freezing", SEAL, "ice", "its own", "assess_freeze_seal", _ice),
    Comparison("sea_ice", SEAL, "salt water and its ice", "its own", "assess_freeze_seal", _salt),
)
