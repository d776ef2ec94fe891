"""Pictures of fires: drawn to scale, labelled, and of what the result says."""

import numpy as np
import pytest

pytest.importorskip("matplotlib")

from matplotlib.figure import Figure

from lpgrelease.errors import InputError
from lpgrelease.fire import burn_pit, pool_fire, vapor_flare
from lpgrelease.fire.pictures import FLUXES, plot_fire, plot_heat_flux
from lpgrelease.fluids import Fluid
from lpgrelease.weather import Weather

PROPANE = Fluid("propane")
WINDY = Weather(wind_speed=3.0)


@pytest.mark.parametrize(
    "fire",
    [
        pool_fire(PROPANE, diameter=4.0, weather=WINDY),
        burn_pit(PROPANE, feed_rate=1.0, diameter=4.0, weather=WINDY),
        vapor_flare(PROPANE, mass_flow=0.5, height=3.0, weather=WINDY),
        vapor_flare(PROPANE, mass_flow=0.01, height=3.0, weather=WINDY),
    ],
    ids=["pool", "pit", "jet", "lazy"],
)
def test_side_view(fire, tmp_path):
    ax = plot_fire(fire)
    ax.figure.savefig(tmp_path / "fire.png", dpi=60)
    assert ax.get_aspect() == 1.0
    assert ax.get_xlabel().startswith("distance from the fire's axis [m]")
    assert ax.get_ylabel() == "height [m]"
    words = " ".join(text.get_text() for text in ax.texts)
    for flux, far in zip(FLUXES, fire.standoff(np.array(FLUXES)), strict=True):
        assert f"{flux / 1e3:g} kW/m²: {far:.0f} m downwind" in words
    assert "not an instruction" in ax.get_title()
    flame = max(ax.patches, key=lambda patch: patch.get_zorder()).get_xy()
    assert flame[:, 1].max() >= float(fire.flame.tip_z) - 1e-9


def test_axes_given_are_used_and_several_scenarios_refused():
    ax = Figure().add_subplot()
    assert plot_fire(pool_fire(PROPANE, diameter=4.0), ax=ax) is ax
    with pytest.raises(InputError, match="one scenario"):
        plot_fire(pool_fire(PROPANE, diameter=[2.0, 4.0]))


def test_flux_against_distance_for_several_winds():
    winds = np.array([0.0, 3.0, 8.0])
    fire = pool_fire(PROPANE, diameter=4.0, weather=Weather(wind_speed=winds))
    ax = plot_heat_flux(fire)
    lines = [line for line in ax.get_lines() if line.get_label().startswith("wind")]
    assert [line.get_label() for line in lines] == ["wind 0 m/s", "wind 3 m/s", "wind 8 m/s"]
    x, y = lines[1].get_data()
    one = pool_fire(PROPANE, diameter=4.0, weather=WINDY)
    assert y * 1e3 == pytest.approx(one.heat_flux(x))
    assert ax.get_ylabel() == "heat flux [kW/m²]"
    assert len(plot_heat_flux(one, labels=["mine"]).get_legend().get_texts()) == 1
    with pytest.raises(InputError, match="give 3 labels"):
        plot_heat_flux(fire, labels=["a"])
    with pytest.raises(InputError, match="along one axis"):
        plot_heat_flux(pool_fire(PROPANE, diameter=np.ones((2, 2))))
