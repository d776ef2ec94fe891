"""Flare the vapor, burn the liquid: how long, how large, how far away to stand.

A leaning tank of propane cannot be righted. Its vapor is flared through a one-inch line until the gauge reads
zero; the liquid that stays is led to a pit and burned. All numbers are invented for the example. It needs
lpgrelease with its extra ``plot`` and writes a picture to ``examples/output``.
"""

from pathlib import Path

import lpgrelease as lr
from lpgrelease.fire import burn_pit, flare_history, pool_fire, vessel_heating
from lpgrelease.plots import plot_fire

propane = lr.Fluid("propane")
breeze = lr.Weather(air_temperature=288.15, wind_speed=3.0, relative_humidity=0.6)
tank = lr.HorizontalTank(diameter=1.04, length=4.5, wall_mass=900.0)
full = lr.Contents(tank, propane, fill=0.6, temperature=288.15)

vent = lr.Opening(diameter=0.0254, discharge_coefficient=0.6, height=1.04)
run = lr.tank_history(full, openings=[vent], weather=breeze)
flare = flare_history(propane, run, height=3.0, weather=breeze)
near, far = (float(flare.standoff(flux).max()) for flux in (4700.0, 1600.0))
print(f"Flare for {flare.duration / 60:.0f} min until the tank's history ends ({flare.stopped_by}).")
print(f"Flame {flare.flame_length[0]:.1f} m at first, {flare.flame_length[-1]:.1f} m at the end.")
print(f"1.6 kW/m2 reaches {far:.0f} m, 4.7 kW/m2 {near:.0f} m.")
assert near < far < 60.0

pit = burn_pit(
    propane,
    feed_rate=0.8,
    feed_temperature=float(run.final.temperature),
    diameter=4.0,
    depth=0.8,
    ground=lr.Ground.named("moist sand"),
    weather=breeze,
    duration=float(run.liquid_mass[-1]) / 0.8,
)
print(f"A pit of {pit.just_burning_diameter:.1f} m just burns 0.8 kg/s; one of 4 m burns all that comes.")
print(f"From the pit 1.6 kW/m2 reaches {pit.standoff(1600.0):.0f} m downwind.")
assert pit.mass_overflowed[-1] == 0.0
assert pit.burn_off_time == 0.0

heated = vessel_heating(pit, run.final, distance=40.0, direction="upwind")
print(
    f"With the pit 40 m downwind of it the tank takes up {heated.absorbed_heat / 1e3:.1f} kW from the fire,"
)
print(f"and {heated.heat_from_outside / 1e3:.1f} kW from the air and the sky.")
assert heated.absorbed_heat < heated.heat_from_outside

# by hand: 0.099 kg/m2/s (1 - exp(-1.4 D)) of LPG, as babrauskas1983burning prints it, over 4 m is 1.24 kg/s
fire = pool_fire(propane, diameter=4.0, weather=breeze)
assert abs(float(fire.burning_rate) - 1.24) < 0.01

output = Path(__file__).parent / "output"
output.mkdir(exist_ok=True)
plot_fire(fire).figure.savefig(output / "burn_or_flare.png", dpi=120, bbox_inches="tight")

for caution in pit.cautions:
    print("-", caution)
