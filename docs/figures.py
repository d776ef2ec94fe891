"""Figures of the pages, drawn from the library itself when the documentation is built."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("Agg")
import blend_figures
import blend_pages
import blowdown_figures
import computed
import ground_figures
import matplotlib.pyplot as plt
import matplotlib.ticker
import numpy as np
import pool_pages

import lpgrelease as lr
from lpgrelease.fluids.substances import SUBSTANCES
from lpgrelease.release import Line, line_release
from lpgrelease.weather import outside_heat_flux

STYLE = {
    "figure.dpi": 110,
    "savefig.bbox": "tight",
    "font.size": 10,
    "axes.grid": True,
    "grid.alpha": 0.3,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "legend.frameon": False,
    "lines.linewidth": 1.8,
}
PROPANE = lr.Fluid("propane")
ZERO = 273.15


def make(target: Path) -> None:
    """Draw every figure into the folder `target`."""
    for name, draw in FIGURES.items():
        with mpl.rc_context(STYLE):
            figure = draw()
            figure.savefig(target / f"{name}.png", metadata={"Software": None})
            plt.close(figure)


def _axes(columns: int = 1, *, width: float = 7.2, height: float = 4.0) -> tuple[Any, Any]:
    return plt.subplots(1, columns, figsize=(width, height), layout="constrained")


def _plain_ticks(axis: Any, marks: tuple[float, ...]) -> None:
    """Label a logarithmic axis with plain numbers."""
    axis.set_ticks(marks, [f"{mark:g}" for mark in marks])
    axis.set_minor_locator(mpl.ticker.NullLocator())


def vapor_pressure() -> Any:
    """Saturation pressure of fuels and ammonia against temperature, with the gauge on the other side."""
    return _saturation_curves(list(SUBSTANCES)[:12])


def vapor_pressure_others() -> Any:
    """The same for the other substances that are liquids in this range."""
    names = list(SUBSTANCES)[12:]
    return _saturation_curves([name for name in names if lr.Fluid(name).highest_temperature > 213.15])


def _saturation_curves(names: list[str]) -> Any:
    figure, ax = _axes(height=5.0)
    for i, name in enumerate(names):
        fluid = lr.Fluid(name)
        low, high = max(fluid.lowest_temperature, 213.15), min(fluid.highest_temperature, 323.15)
        t = np.linspace(low, high, 200)
        p = fluid.saturation(temperature=t).pressure / 1e5
        dashes = ("-", "--", ":")[i % 3]
        ax.semilogy(t - ZERO, p, dashes, color=f"C{i % 10}" if i < 10 else ("k", "0.55")[i - 10], label=name)
    ax.axhline(1.01325, color="0.3", linewidth=0.9)
    box = {"facecolor": "white", "alpha": 0.8, "edgecolor": "none", "pad": 1.5}
    ax.annotate("the air at sea level: zero on the gauge", (-59, 1.07), fontsize=9, va="bottom", bbox=box)
    ax.set(
        xlabel="temperature [°C]",
        ylabel="saturation pressure [bar absolute]",
        xlim=(-60, 50),
        ylim=(0.05, 60),
    )
    _plain_ticks(ax.yaxis, (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50))
    gauge = ax.twinx()
    gauge.grid(visible=False)
    gauge.set_yscale("log")
    gauge.set_ylim(ax.get_ylim())
    readings = np.array([0, 10, 20, 50, 100, 200, 500])
    gauge.set_yticks((readings * 6894.757 + 101325.0) / 1e5, [str(r) for r in readings])
    gauge.yaxis.set_minor_locator(mpl.ticker.NullLocator())
    gauge.spines["right"].set_visible(True)
    gauge.set_ylabel("gauge reading at sea level [psi]")
    ax.legend(ncols=3, fontsize=9, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    return figure


def flash_fraction() -> Any:
    """Vapor fraction of saturated liquid let down to the air."""
    figure, ax = _axes()
    for name in ("ethane", "propane", "ammonia", "dimethyl ether", "isobutane", "n-butane"):
        fluid = lr.Fluid(name)
        t = np.linspace(233.15, min(313.15, fluid.highest_temperature - 5), 160)
        ax.plot(t - ZERO, lr.flash(fluid, temperature=t).vapor_fraction, label=name)
    ax.set(
        xlabel="temperature of the liquid inside [°C]",
        ylabel="vapor mass fraction",
        xlim=(-40, 40),
        ylim=(0, 1),
    )
    ax.legend(fontsize=9)
    return figure


def release_flux() -> Any:
    """Mass flux of propane through one opening, by what stands behind it."""
    figure, ax = _axes()
    hole = lr.Opening(diameter=0.025, discharge_coefficient=1.0)
    t = np.linspace(236.0, 313.15, 120)
    liquid = lr.liquid_release(PROPANE, hole, temperature=t).mass_flux
    vapor = lr.vapor_release(PROPANE, hole, temperature=t).mass_flux
    ax.plot(t - ZERO, liquid / 1e3, label="liquid, thin-walled hole (metastable)")
    for quality in (0.0, 0.05, 0.2):
        wet = lr.two_phase_release(PROPANE, hole, temperature=t, vapor_fraction=quality).mass_flux
        label = f"long passage, equilibrium, {quality:.0%} vapor inside"
        ax.plot(t - ZERO, wet / 1e3, "--", label=label)
    ax.plot(t - ZERO, vapor / 1e3, label="saturated vapor")
    ax.set_yscale("log")
    _plain_ticks(ax.yaxis, (0.3, 0.5, 1, 2, 5, 10, 20, 30))
    ax.set(xlabel="temperature inside [°C]", ylabel="mass flux [t/m²/s], $C_d$ = 1", xlim=(-37, 40))
    ax.legend(fontsize=8.5, loc="lower right")
    return figure


def flashing_flow() -> Any:
    """Measured flux of flashing water over the pressure at rest, with the models."""
    header, *rows = computed.flashing_flow()
    figure, panels = _axes(2, width=9.0, height=4.2)
    labels = {
        "homogeneous_equilibrium": "homogeneous equilibrium",
        "length": "by length, 0.17 m",
        "frozen": "frozen",
    }
    for ax, test, title in zip(panels, ("23", "24"), ("260 °C", "230 °C"), strict=True):
        data = np.array([[float(x) for x in row[1:]] for row in rows if row[0] == test])
        ax.plot(data[:, 0] / 1e3, data[:, 1] / 1e3, "k.", label="measured")
        for name, label in labels.items():
            ax.plot(data[:, 0] / 1e3, data[:, header.index(name) - 1] / 1e3, label=label)
        ax.set_yscale("log")
        _plain_ticks(ax.yaxis, (15, 20, 30, 50, 80))
        ax.set(xlabel="pressure at rest [MPa]", ylabel="mass flux [t/m²/s]", title=f"water of {title}")
    panels[0].legend(fontsize=8.5)
    return figure


def line_flow() -> Any:
    """Flow of propane through lines over that of an orifice of their bore."""
    figure, ax = _axes()
    slender = np.concatenate([[0.0], np.geomspace(1.0, 3000.0, 60)])
    for diameter, style in ((0.0254, "-"), (0.1, "--")):
        line = Line(diameter=diameter, length=slender * diameter)
        hole = lr.Opening(diameter=diameter, discharge_coefficient=1.0)
        for x, label, color in ((1.0, "vapor", "C3"), (0.0, "boiling liquid", "C0")):
            whole = lr.two_phase_release(PROPANE, hole, temperature=293.15, vapor_fraction=x).mass_flux
            flux = line_release(PROPANE, line, temperature=293.15, vapor_fraction=x).mass_flux
            ax.plot(
                np.maximum(slender, 0.5),
                flux / whole,
                style,
                color=color,
                label=f"{label}, bore {diameter * 1e3:g} mm",
            )
    ax.set_xscale("log")
    _plain_ticks(ax.xaxis, (1, 10, 100, 1000))
    ax.set(xlabel="length over bore", ylabel="flow over that of an ideal nozzle", ylim=(0, 1))
    ax.legend(fontsize=8.5)
    return figure


def wall_heat() -> Any:
    """Heat into a bare wall against its temperature."""
    figure, ax = _axes()
    t = np.linspace(223.15, 303.15, 160)
    for wind in (0.0, 2.0, 5.0, 10.0):
        ax.plot(
            t - ZERO,
            outside_heat_flux(lr.Weather(wind_speed=wind), t, 2.0),
            label=f"wind {wind:g} m/s, no sun",
        )
    sunny = lr.Weather(wind_speed=2.0, solar_irradiance=900.0, cloud_cover=0.0)
    ax.plot(
        t - ZERO,
        outside_heat_flux(sunny, t, 2.0),
        "--",
        color="C1",
        label="wind 2 m/s, clear sky, sun 900 W/m²",
    )
    ax.axhline(0.0, color="0.3", linewidth=0.9)
    ax.set(xlabel="temperature of the wall [°C]", ylabel="heat into the wall [W/m²]", xlim=(-50, 30))
    ax.legend(fontsize=9)
    return figure


def ground_heat() -> Any:
    """Heat flux out of named grounds under something at the boiling point of propane."""
    figure, ax = _axes()
    age = np.geomspace(10.0, 6 * 3600.0, 120)
    for name in ("wet sand", "moist sand", "concrete", "gravel", "dry sand"):
        flux = lr.Ground.named(name, temperature=293.15).heat_flux(231.0, age=age)
        ax.loglog(age / 60.0, flux / 1e3, label=name)
    _plain_ticks(ax.xaxis, (0.2, 0.5, 1, 2, 5, 10, 30, 60, 120, 360))
    _plain_ticks(ax.yaxis, (0.2, 0.5, 1, 2, 5, 10, 20, 50))
    ax.set(xlabel="time since contact [min]", ylabel="heat flux [kW/m²]")
    ax.legend(fontsize=9)
    return figure


def pool() -> Any:
    """Pool of propane from a leak of a quarter of an hour, on dry and on moist sand."""
    figure, (left, right) = _axes(2, width=8.4, height=3.6)
    spill = lr.Spill(mass_flow=0.5, duration=900.0)
    for name in ("dry sand", "moist sand"):
        run = lr.pool_history(
            PROPANE,
            spill,
            ground=lr.Ground.named(name),
            weather=lr.Weather(air_temperature=300.15, wind_speed=2.0),
            duration=7200.0,
        )
        there = run.mass > 0.0
        left.plot(run.time / 60.0, run.mass, label=name)
        right.plot(run.time[there] / 60.0, run.temperature[there] - ZERO, label=name)
    left.set(xlabel="time [min]", ylabel="liquid on the ground [kg]", xlim=(0, 120))
    right.set(xlabel="time [min]", ylabel="temperature of the pool [°C]", xlim=(0, 120))
    right.axhline(PROPANE.normal_boiling_point - ZERO, color="0.3", linewidth=0.9)
    right.annotate("boiling point", (60, PROPANE.normal_boiling_point - ZERO + 0.3), fontsize=9)
    left.legend(fontsize=9)
    return figure


def freeze_time() -> Any:
    """Freezing time of wet cloths on liquid leaks at zero gauge."""
    figure, ax = _axes()
    thickness = np.linspace(0.005, 0.04, 60)
    hole = lr.Opening(diameter=0.006)
    for name in ("propane", "propylene", "isobutane"):
        seal = lr.assess_freeze_seal(lr.Fluid(name), hole, cloth=lr.WetCloth(thickness=thickness))
        ax.plot(
            thickness * 1e3,
            np.where(np.isfinite(seal.freeze_time), seal.freeze_time, np.nan) / 60.0,
            label=name,
        )
    ax.set(
        xlabel="thickness of the wet cloth [mm]",
        ylabel="time to freeze through [min]",
        xlim=(5, 40),
        ylim=(0, 120),
    )
    ax.legend(fontsize=9)
    return figure


def freeze_seal_blend() -> Any:
    """Where a seal is feasible on a propane-butane blend, as its light ends leave."""
    from lpgrelease.plots import plot_freeze_seal_maps

    blend = lr.Fluid({"propane": 0.4, "n-butane": 0.6})
    maps = lr.freeze_seal_maps(
        blend,
        [1.0, 0.5, 0.15],
        diameter=np.geomspace(2e-3, 0.3, 24),
        gauge_pressure=np.geomspace(100.0, 3e4, 24),
        time_available=10800.0,
    )
    return plot_freeze_seal_maps(maps)


def tank_level() -> Any:
    """Volume against level of the tank shapes."""
    figure, ax = _axes(width=6.0, height=3.8)
    shapes = {
        "horizontal, elliptical heads": lr.HorizontalTank(diameter=2.0, length=8.0),
        "vertical, elliptical heads": lr.VerticalTank(diameter=2.0, length=8.0),
        "sphere": lr.SphericalTank(diameter=2.0),
    }
    x = np.linspace(0.0, 1.0, 200)
    for label, tank in shapes.items():
        ax.plot(x, tank.liquid_volume(level=x * tank.height) / tank.volume, label=label)
    ax.set(xlabel="level over inside height", ylabel="liquid volume fraction", xlim=(0, 1), ylim=(0, 1))
    ax.legend(fontsize=9)
    return figure


def tilted_tank() -> Any:
    """Volume below openings of a tank as one end is raised."""
    figure, ax = _axes(width=6.4, height=3.8)
    lying = lr.HorizontalTank(diameter=1.04, length=4.5)
    degrees = np.linspace(-30.0, 30.0, 241)
    tank = lr.tilt(lying, pitch=np.radians(degrees))
    places = {
        "top, at the raised end": (2.0, 0.0),
        "top, in the middle": (0.0, 0.0),
        "side, at the raised end": (2.0, 0.5 * np.pi),
        "bottom, in the middle": (0.0, np.pi),
    }
    for label, (axial, clock) in places.items():
        below = tank.volume_at(lr.opening_height(tank, axial=axial, clock=clock))
        ax.plot(degrees, 100.0 * below / tank.volume, label=label)
    ax.set(xlabel="pitch [°]", ylabel="volume below the opening [%]", xlim=(-30, 30), ylim=(0, 101))
    ax.legend(fontsize=9)
    return figure


def swell_limit() -> Any:
    """Largest vapor flow without carry-over against fill."""
    figure, ax = _axes(width=6.4, height=4.0)
    fill = np.linspace(0.3, 0.98, 120)
    tank = lr.HorizontalTank(diameter=1.04, length=4.5)
    vent = lr.Opening(diameter=0.0508, discharge_coefficient=0.85, height=1.04)
    for celsius, color in ((20.0, "tab:red"), (-30.0, "tab:blue")):
        contents = lr.Contents(tank, PROPANE, fill=fill, temperature=ZERO + celsius)
        for regime, width in (("churn-turbulent", 2.4), ("bubbly", 1.1)):
            limit = lr.level_swell(contents, vapor_flow=0.0, height=1.04, regime=regime).largest_flow
            ax.plot(100 * fill, limit, color=color, linewidth=width, label=f"{celsius:g} °C, {regime}")
        flow = lr.vapor_release(PROPANE, vent, temperature=ZERO + celsius).mass_flow
        ax.axhline(flow, color=color, linestyle=":")
    ax.set(xlabel="fill [%]", ylabel="vapor flow [kg/s]", yscale="log", xlim=(30, 98), ylim=(0.02, 100))
    _plain_ticks(ax.yaxis, (0.1, 1.0, 10.0, 100.0))
    ax.legend(fontsize=8)
    return figure


def vent_history() -> Any:
    """Gauge pressure and liquid left while vents of three sizes empty a tank."""
    figure, (left, right) = _axes(2, width=8.4, height=3.8)
    tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
    contents = lr.Contents(tank, PROPANE, fill=0.8, temperature=293.15)
    for diameter in (0.0508, 0.0254, 0.0127):
        vent = lr.Opening(diameter=diameter, discharge_coefficient=0.85, height=1.04)
        run = lr.tank_history(contents, openings=[vent], duration=4 * 3600.0, points=400)
        label = f"{diameter * 1e3:.1f} mm"
        left.semilogx(run.time / 60.0, (run.pressure - 101325.0) / 1e5, label=label)
        right.semilogx(run.time / 60.0, run.liquid_mass / run.liquid_mass[0], label=label)
    for ax in (left, right):
        _plain_ticks(ax.xaxis, (1, 3, 10, 30, 60, 120, 240))
        ax.set(xlabel="time [min]", xlim=(0.5, 240))
    left.set(ylabel="gauge pressure [bar]", ylim=(0, None))
    right.set(ylabel="liquid left, of the initial mass", ylim=(0, 1))
    left.legend(title="vent", fontsize=9)
    return figure


def cloud() -> Any:
    """Plan view of a cloud, and what a monitor shows on its axis at three heights."""
    from lpgrelease.cloud import flammable_reach
    from lpgrelease.plots import plot_cloud

    figure, (left, right) = _axes(2, width=10.0, height=4.2)
    reach = flammable_reach(PROPANE, mass_flow=0.5, weather=lr.Weather(wind_speed=2.0, stability="F"))
    plot_cloud(reach, ax=left)
    x = np.linspace(1.0, float(reach.level_distance[-1]), 200)
    for height, style in ((0.05, "-"), (0.3, "--"), (1.0, "-.")):
        shown = np.maximum(reach.monitor(x, height=height).reading, 1e-2)
        right.semilogy(x, shown, ls=style, label=f"{height:g} m above the ground")
    right.axhline(10.0, color="0.4", lw=0.8)
    right.set(xlabel="distance downwind [m]", ylabel="reading [% of the lower limit]", ylim=(0.1, 100))
    right.legend(fontsize=9)
    return figure


def story() -> Any:
    """Forecast of the incident that the pages tell."""
    return computed.story().plot()


def fire() -> Any:
    """Side views of a pit and a flare, to scale."""
    from lpgrelease.fire import burn_pit, vapor_flare
    from lpgrelease.plots import plot_fire

    figure, (left, right) = _axes(2, width=11.0, height=4.4)
    breeze = lr.Weather(wind_speed=3.0)
    plot_fire(burn_pit(PROPANE, feed_rate=1.0, diameter=4.0, weather=breeze), ax=left)
    plot_fire(vapor_flare(PROPANE, mass_flow=0.5, height=3.0, weather=breeze), ax=right)
    return figure


def fire_flux() -> Any:
    """Heat flux against distance in several winds."""
    from lpgrelease.fire import pool_fire
    from lpgrelease.plots import plot_heat_flux

    figure, ax = _axes()
    winds = lr.Weather(wind_speed=np.array([0.0, 3.0, 8.0]))
    plot_heat_flux(pool_fire(PROPANE, diameter=4.0, weather=winds), ax=ax)
    return figure


FIGURES: dict[str, Callable[[], Any]] = {
    function.__name__: function
    for function in (
        vapor_pressure,
        vapor_pressure_others,
        blend_pages.blend_equilibrium,
        flash_fraction,
        release_flux,
        flashing_flow,
        line_flow,
        wall_heat,
        ground_heat,
        ground_figures.ground_second_spill,
        ground_figures.ground_sides,
        ground_figures.boiling_curve,
        pool_pages.pool_heat,
        pool,
        freeze_time,
        freeze_seal_blend,
        tank_level,
        tilted_tank,
        swell_limit,
        vent_history,
        blowdown_figures.tank_blowdown,
        blend_figures.tank_blend,
        cloud,
        fire,
        fire_flux,
        story,
    )
}
