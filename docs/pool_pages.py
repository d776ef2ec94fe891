"""Figures, tables and numbers of the page on pools, worked out when the documentation is built."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import lpgrelease as lr
from lpgrelease.plots import plot_pool_heat

PROPANE = lr.Fluid("propane")
DAY = 86400.0
WARM = lr.Weather(air_temperature=300.15, wind_speed=3.0, solar_irradiance=250.0)
GROUNDS = ("dry sand", "gravel", "clay", "concrete", "moist sand")
SHELTERS = ("sun and wind", "shade", "calm, full of vapor, warm cover", "the same under frost at -20 °C")
FREEBOARD = 0.3


def _exposures() -> lr.Exposure:
    """The four shelters along the first axis."""

    def column(*values: float) -> Any:
        return np.array(values)[:, None]

    return lr.Exposure(
        wind_share=column(1.0, 1.0, 0.0, 0.0),
        sun_share=column(1.0, 0.0, 0.0, 0.0),
        sky_share=column(1.0, 0.0, 0.0, 0.0),
        cover_temperature=column(300.15, 300.15, 300.15, 253.15),
        vapor_fill=column(0.0, 0.0, 1.0, 1.0),
    )


def _wreck() -> lr.Exposure:
    return lr.Exposure(wind_share=0.0, sun_share=0.0, sky_share=0.0, cover_temperature=253.15, vapor_fill=1.0)


@cache
def _depths(ground: str) -> Any:
    """Depths that last four days: shelters first, then floors of 1, 4 and 400 m2 [m]."""
    found = lr.lasting_depth(
        PROPANE,
        4.0 * DAY,
        area=np.array([1.0, 4.0, 400.0]),
        ground=lr.Ground.named(ground),
        weather=WARM,
        exposure=_exposures(),
        freeboard=FREEBOARD,
    )
    return found.depth


def lasting_depths() -> list[list[str]]:
    """Rows: ground, then a cell for each shelter with the depths on three floors [cm]."""

    def cell(depths: Any) -> str:
        return " / ".join("over 1000" if np.isinf(d) else f"{100.0 * d:.0f}" for d in depths)

    return [[ground, *(cell(depths) for depths in _depths(ground))] for ground in GROUNDS]


@cache
def _drips(ground: str) -> tuple[float, ...]:
    """Feed that keeps a sheltered puddle of 1 m2 alive [g/s], and how long 2 g/s has to drip [h]."""
    site = lr.Hollow(area=1.0, depth=0.6, exposure=_wreck())
    given = {"site": site, "ground": lr.Ground.named(ground), "weather": WARM}
    alive = lr.sustaining_feed(PROPANE, **given)
    open_air = lr.sustaining_feed(PROPANE, **(given | {"site": lr.Hollow(area=1.0, depth=0.6)}))
    drip = lr.feed_for_lasting_pool(PROPANE, 2e-3, lasting=DAY, **given)
    return (
        1e3 * float(alive.mass_flow),
        1e3 * float(open_air.mass_flow),
        float(drip.feed_duration) / 3600.0,
        100.0 * float(drip.depth),
    )


def drips() -> list[list[str]]:
    """Rows: ground, feed sheltered and open [g/s], hours to drip, depth then [cm]."""
    rows = []
    for ground in GROUNDS:
        alive, windy, hours, depth = _drips(ground)
        shown = ("never", "-") if np.isinf(hours) else (f"{hours:.0f}", f"{depth:.0f}")
        rows.append([ground, f"{alive:.2f}", f"{windy:.1f}", *shown])
    return rows


def pool_heat() -> Any:
    """Puddle of 250 kg spilled into a sheltered pit on dry sand, until it is gone."""
    pool = lr.pool_history(
        PROPANE,
        lr.Spill(mass=250.0),
        ground=lr.Ground.named("dry sand"),
        weather=WARM,
        site=lr.Basin.pit(area=1.0, depth=0.8, exposure=_wreck()),
        duration=5.0 * DAY,
    )
    return plot_pool_heat(pool)


@cache
def _blend() -> Any:
    blend = lr.Fluid({"propane": 0.6, "n-butane": 0.4})
    return lr.pool_history(
        blend,
        lr.Spill(mass=800.0),
        ground=lr.Ground.named("moist sand"),
        weather=lr.Weather(air_temperature=300.15, wind_speed=3.0),
        site=lr.Hollow(area=4.0, depth=2.0),
        duration=6 * 3600.0,
    )


def numbers() -> dict[str, str]:
    """Numbers in the text."""
    blend = _blend()
    wet = blend.mass > 0.0
    coldest = int(np.argmin(blend.temperature[wet]))
    fifth = int(np.searchsorted(-blend.mass[wet], -0.2 * blend.mass[0]))
    moist, dry = (_frost(humidity) for humidity in (0.7, 0.0))
    return {
        "pool_blend_coldest": f"{blend.temperature[coldest] - 273.15:.0f} °C",
        "pool_blend_last": f"{blend.temperature[wet][-1] - 273.15:.0f} °C",
        "pool_blend_light": f"{100 * blend.component_mass[0][fifth] / blend.mass[fifth]:.1f} %",
        "pool_frost": f"{100.0 * (1.0 - moist / dry):.0f} %",
        "pool_on_water": f"{_on_water():.2f}",
        "pool_open_gone": f"{_gone(lr.Exposure()) / 3600.0:.1f} hours",
        "pool_wreck_gone": f"{_gone(_wreck()) / DAY:.1f} days",
        "pool_burned": f"{_burns(3600.0) / 60.0:.0f} minutes",
        "pool_unburned": f"{_burns(1e9) / 3600.0:.0f} hours",
    }


SINCE = {"a minute": 60.0, "ten minutes": 600.0, "an hour": 3600.0, "a day": DAY}
TOUCHES = (
    ("propane", "moist sand"),
    ("propane", "dry sand"),
    ("n-butane", "clay"),
    ("methane", "moist sand"),
)


def contacts() -> list[list[str]]:
    """Rows: how much less heat than under perfect contact at some times, and the lives of a spill."""
    rows = []
    for name, ground in TOUCHES:
        fluid, soil = lr.Fluid(name), lr.Ground.named(ground, temperature=293.15)
        heat, life = [], []
        for contact in ("boiling", "perfect"):
            held, spilled = (_touching(fluid, soil, contact, deep) for deep in (True, False))
            heat.append(np.interp(list(SINCE.values()), held.time, held.heat_from_ground))
            life.append(float(spilled.gone_at))
        less = [f"{100.0 * (1.0 - share):.0f} %" for share in heat[0] / heat[1]]
        rows.append([f"{name} on {ground}", *less, f"{life[0]:.0f} s (perfect contact: {life[1]:.0f} s)"])
    return rows


def _touching(fluid: lr.Fluid, ground: lr.Ground, contact: str, deep: bool) -> Any:
    """A wide sheltered pool that covers its ground for a day; or 50 kg let go on open ground."""
    boiling = float(fluid.normal_boiling_point)
    site = lr.Hollow(area=1e4, depth=30.0, exposure=_wreck()) if deep else lr.OpenGround()
    return lr.pool_history(
        fluid,
        lr.Spill(mass=1e8 if deep else 50.0, temperature=boiling),
        ground=ground,
        weather=lr.Weather(air_temperature=293.15, wind_speed=2.0),
        site=site,
        duration=DAY,
        contact=contact,
        nodes=121,
    )


def _burns(lit: float) -> float:
    """Life of a ton of propane in a sheltered hollow that is lit at a time, less an hour [s]."""
    pool = lr.pool_history(
        PROPANE,
        lr.Spill(mass=1000.0 / 0.6),
        ground=lr.Ground.named("moist sand"),
        weather=WARM,
        site=lr.Hollow(area=10.0, depth=1.0, exposure=_wreck()),
        duration=4 * DAY,
        ignited_at=lit,
    )
    return float(pool.gone_at) - 3600.0


def _frost(humidity: float) -> float:
    """Life of a deep pool in the wind [s]; the sky is that of the same cloud."""
    pool = lr.pool_history(
        PROPANE,
        lr.Spill(mass=500.0),
        ground=lr.Ground.named("dry sand"),
        weather=lr.Weather(
            air_temperature=300.15, wind_speed=3.0, relative_humidity=humidity, cloud_cover=1.0
        ),
        site=lr.Hollow(area=4.0, depth=0.5),
        duration=DAY,
    )
    return float(pool.gone_at)


def _on_water() -> float:
    """Mean vapor flux of propane in its first ten seconds on still water [kg/m2/s]."""
    pool = lr.pool_history(
        PROPANE,
        lr.Spill(mass=500.0, temperature=PROPANE.normal_boiling_point),
        ground=lr.Ground.named("still water", temperature=285.15),
        weather=lr.Weather(air_temperature=285.15, wind_speed=5.0),
        site=lr.Hollow(area=1.0, depth=2.0),
        duration=10.0,
    )
    return float(pool.mass_evaporated[-1]) / 10.0


def _gone(exposure: lr.Exposure) -> float:
    """Life of 26 cm of propane on 4 m2 of dry sand [s]."""
    (density,) = PROPANE.saturated(np.asarray(PROPANE.normal_boiling_point), "liquid_density")
    pool = lr.pool_history(
        PROPANE,
        lr.Spill(mass=density * 4.0 * 0.26, temperature=PROPANE.normal_boiling_point),
        ground=lr.Ground.named("dry sand"),
        weather=WARM,
        site=lr.Basin.pit(4.0, 0.26 + FREEBOARD, exposure=exposure),
        duration=20 * DAY,
    )
    return float(pool.gone_at)
