"""One of every public object: what goes into calls and what comes out, the same in each process."""

from __future__ import annotations

from typing import Any

import lpgrelease as lr


def inputs() -> dict[str, Any]:
    """Objects that are given to functions."""
    propane, blend = lr.Fluid("propane"), lr.Fluid({"propane": 0.7, "n-butane": 0.3})
    upright = lr.VerticalTank(diameter=0.8, length=1.5, heads="hemispherical")
    tank = lr.HorizontalTank(diameter=1.0, length=3.0, wall_mass=700.0)
    hole = lr.Opening(diameter=[0.004, 0.006], height=0.1)
    contents = lr.Contents(tank, propane, fill=0.5, temperature=290.0)
    sand = lr.Ground.named("moist sand")
    vent = lr.Opening(diameter=0.05, height=0.9)
    return {
        "propane": propane,
        "blend": blend,
        "upright": upright,
        "sphere": lr.SphericalTank(diameter=2.0),
        "tilted": lr.tilt(tank, pitch=0.1),
        "tank": tank,
        "hole": hole,
        "vent": vent,
        "contents": contents,
        "blend contents": lr.Contents(upright, blend, fill=0.6, temperature=285.0),
        "valve": lr.ReliefValve(opening=vent, set_pressure=1.7e6),
        "stop": lr.StopAt(mass=100.0),
        "fire around": lr.TankFire(),
        "wall": lr.TankWall(),
        "transfer": lr.Transfer(mass_flow=-1.0),
        "line": lr.Line(diameter=0.05, length=20.0, height=0.9),
        "sand": sand,
        "layers": lr.Ground.named("concrete", thickness=0.1, below=sand),
        "exposure": lr.Exposure(wind_share=0.5),
        "open": lr.OpenGround(),
        "hollow": lr.Hollow(area=2.0, depth=0.3),
        "basin": lr.Basin.bowl(2.0, 0.5),
        "spill": lr.Spill(mass_flow=0.2, duration=20.0),
        "weather": lr.Weather(air_temperature=[285.0, 295.0], stability="D"),
        "hours": lr.WeatherByHour(times=[0.0, 600.0], weathers=[lr.Weather(), lr.Weather(wind_speed=4.0)]),
        "cloth": lr.WetCloth(),
        "metal": lr.MetalWall(),
        "source": lr.GasSource(mass_flow=0.1),
        "incident": lr.Incident(contents=contents, leaks=[hole], ground=sand),
        "when": lr.When(gauge_at_most=700.0, clock="06:30"),
        "keep out": lr.KeepOut(distance=300.0),
        "vent step": lr.Vent(vent=vent),
        "seal step": lr.Seal(starts=lr.When(after="vent")),
        "hold step": lr.Hold(lasts=600.0),
        "pump step": lr.Pump(mass_flow=1.0),
        "burn step": lr.BurnPool(),
        "empty step": lr.Empty(vent=vent),
        "plan": lr.ResponsePlan(arrival=60.0, vent=vent, longest_venting=300.0, hold=60.0),
        "uncertain": lr.uniform(0.0, 1.0),
    }


def results(given: dict[str, Any]) -> dict[str, Any]:
    """What the functions make of `given`."""
    propane, blend, hole, sand = given["propane"], given["blend"], given["hole"], given["sand"]
    contents, weather = given["contents"], given["weather"]
    warm = {"temperature": 290.0}
    run = lr.tank_history(contents, openings=[given["vent"]], duration=30.0, points=5)
    pool = lr.pool_history(propane, given["spill"], ground=sand, duration=40.0, nodes=41)
    fire = lr.pool_fire(propane, diameter=3.0, weather=weather)
    liquid = lr.liquid_release(propane, hole, **warm)
    cloud = lr.flammable_reach(propane, mass_flow=0.2, weather=weather)
    return {
        "saturation": propane.saturation(temperature=[250.0, 290.0]),
        "transport": propane.transport(**warm),
        "gas": propane.gas(temperature=300.0, pressure=1e5),
        "bubble": lr.bubble_point(blend, **warm),
        "dew": lr.dew_point(blend, **warm),
        "equilibrium": lr.equilibrium(blend, temperature=290.0, pressure=4e5),
        "flash": lr.flash(propane, **warm),
        "vapor": lr.vapor_release(propane, hole, **warm),
        "liquid": liquid,
        "two phases": lr.two_phase_release(propane, hole, vapor_fraction=0.1, **warm),
        "line flow": lr.line_release(propane, given["line"], **warm),
        "run": run,
        "full": lr.liquid_full(contents, heat=1e3),
        "engulfed": lr.fire_engulfment(contents),
        "swell": lr.level_swell(contents, vapor_flow=0.1, height=0.9),
        "hold": lr.steady_hold(contents),
        "ground": lr.ground_history(sand, temperature=231.0, duration=60.0, ground_temperature=290.0),
        "pool": pool,
        "moment": lr.pool_at(pool, 20.0),
        "feed": lr.sustaining_feed(propane, site=given["hollow"], ground=sand),
        "pool fire": fire,
        "pit": lr.burn_pit(propane, feed_rate=0.5, diameter=3.0, points=9),
        "still": lr.still_pool_fire(propane, mass=50.0, diameter=2.0, points=9),
        "flare": lr.vapor_flare(propane, mass_flow=0.3),
        "flares": lr.flare_history(propane, run),
        "thresholds": lr.heat_thresholds(),
        "heating": lr.vessel_heating(fire, contents, distance=20.0),
        "space": lr.fill_space(propane, mass_flow=0.1, floor_area=10.0, depth=2.0, duration=60.0),
        "cloud": cloud,
        "monitor": cloud.monitor(30.0),
        "jet source": lr.jet_source(propane, liquid, **warm),
        "pool source": lr.pool_source(pool),
        "seal": lr.assess_freeze_seal(propane, hole, gauge_pressure=600.0),
        "map": lr.freeze_seal_map(propane, diameter=[0.005, 0.02], gauge_pressure=[0.0, 1e3]),
    }


def long_results(given: dict[str, Any]) -> dict[str, Any]:
    """What functions make of `given` that take a second."""
    propane, contents, incident = given["propane"], given["contents"], given["incident"]
    pressures = {"times": [0.0, 30.0, 60.0], "gauge_pressures": [6.6e5, 6.55e5, 6.5e5]}
    seal = lr.assess_freeze_seal(propane, lr.Opening(diameter=0.005), gauge_pressure=600.0)
    blend = given["blend"]
    return {
        "boil off": lr.boil_off(blend, [1.0, 0.5]),
        "maps": lr.freeze_seal_maps(blend, [1.0, 0.5], diameter=[0.005], gauge_pressure=[0.0]),
        "lasting": lr.lasting_depth(propane, 600.0, area=2.0, ground=given["sand"]),
        "held": lr.hold_freeze_seal(seal, contents, duration=60.0, points=5),
        "story": lr.forecast(incident, given["plan"]),
        "plans": lr.compare_plans(incident, {"one": given["plan"]}),
        "inferred": lr.infer_leak(
            given["tank"], propane, leak=lr.Opening(diameter=0.01, height=0.8), **pressures
        ),
    }


def tour() -> dict[str, Any]:
    """Inputs and results."""
    given = inputs()
    return given | results(given) | long_results(given)


def given_back(objects: dict[str, Any]) -> dict[str, Any]:
    """What arrived, for a look from the other side of a process."""
    return objects
