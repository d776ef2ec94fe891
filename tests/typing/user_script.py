"""What a user writes, for type checkers: ``mypy`` and ``pyright`` take it without a complaint."""

import numpy as np

import lpgrelease as lr

propane = lr.Fluid("propane")
state = propane.saturation(temperature=293.15)
pressure = state.pressure / 1e5
hole = lr.Opening(diameter=0.025)
rate = lr.liquid_release(propane, hole, temperature=np.array([280.0, 290.0]), head=1.0)
total: float = float(rate.mass_flow.sum())
tank = lr.HorizontalTank(diameter=1.04, length=4.5)
contents = lr.Contents(tank, propane, fill=0.8, temperature=293.15)
run = lr.tank_history(contents, openings=[hole], weather=lr.Weather(wind_speed=2.0), duration=60.0)
last = run.pressure[..., -1]
area = hole.area * 1e4
depth = tank.level(1.0) + 0.1
seal = lr.assess_freeze_seal(propane, hole, gauge_pressure=689.0, cloth=lr.WetCloth(thickness=0.02))
ok: bool = bool(seal.feasible)
fire = lr.pool_fire(propane, diameter=4.0)
far = fire.standoff(heat_flux=1600.0)
pool = lr.pool_history(propane, lr.Spill(mass=10.0), ground=lr.Ground.named("clay"), duration=60.0)
story = lr.forecast(
    lr.Incident(contents=contents, leaks=[hole], ground=lr.Ground.named("clay")),
    lr.ResponsePlan(arrival=60.0, vent=hole),
)
text: str = story.report()
valve = lr.ReliefValve(opening=hole, set_pressure=1.7e6)
run2 = lr.tank_history(contents, openings=(hole, valve, lr.Line(diameter=0.05, length=1.0)), duration=60.0)
