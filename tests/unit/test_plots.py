"""Pictures: they are drawn, labelled, not shown, and draw what the result says."""

from __future__ import annotations

import sys

import numpy as np
import pytest

import lpgrelease as lr

pytest.importorskip("matplotlib")

from matplotlib.figure import Figure

from lpgrelease import plots

TANK = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)


def told(**others: object) -> object:
    incident = lr.Incident(
        contents=lr.Contents(TANK, lr.Fluid("propane"), fill=0.8, temperature=293.15),
        leaks=[lr.Opening(diameter=0.008, height=0.2)],
        ground=lr.Ground.named("moist sand"),
    )
    vent = lr.Opening(diameter=0.0508, height=1.2)
    return lr.forecast(
        incident, lr.ResponsePlan(**({"arrival": 600.0, "vent": vent, "hold": 900.0} | others))
    )


@pytest.fixture(scope="module")
def story() -> object:
    return told()


def test_forecast_draws_a_figure_and_shows_nothing(story, tmp_path):
    figure = story.plot()
    assert isinstance(figure, Figure)
    assert "matplotlib.pyplot" not in sys.modules or not sys.modules["matplotlib.pyplot"].get_fignums()
    file = tmp_path / "story.png"
    figure.savefig(file, dpi=50)
    assert file.stat().st_size > 10_000


def test_labels_carry_units_and_phases(story):
    above, below, warm, *_ = story.plot().axes
    assert above.get_ylabel() == "gauge pressure [bar]"
    assert below.get_ylabel() == "mass [kg]"
    assert warm.get_ylabel() == "temperature [degC]"
    assert "h:min" in below.get_xlabel()
    words = " ".join(text.get_text() for text in above.texts).replace("\n", " ")
    for phase in ("leaking, before arrival", "venting", "sealing with ice", "holding, vent open"):
        assert phase in words


def test_curves_are_the_storys(story):
    ax = plots.plot_masses(story)
    line = next(line for line in ax.get_lines() if line.get_label() == "in the tank")
    assert np.array_equal(line.get_ydata(), story.liquid_mass + story.vapor_mass)
    assert np.all(np.diff(line.get_xdata()) >= 0.0)
    ground = next(line for line in ax.get_lines() if line.get_label() == "on the ground")
    assert np.max(ground.get_ydata()) == story.pool.mass.max()
    assert ground.get_xdata()[-1] == 1.0
    ticks = [text.get_text() for text in ax.get_xticklabels()]
    assert "0:10" in ticks


def dry_story(**others: object) -> object:
    """A tank that loses its last liquid at 7 bar before anybody comes, and leaks vapor from then on."""
    incident = lr.Incident(
        contents=lr.Contents(TANK, lr.Fluid("propane"), fill=0.3, temperature=293.15),
        leaks=[lr.Opening(diameter=0.03, height=0.0)],
        ground=lr.Ground.named("moist sand"),
    )
    vent = lr.Opening(diameter=0.0508, height=1.2)
    return lr.forecast(incident, lr.ResponsePlan(**({"arrival": 600.0, "vent": vent} | others)))


def test_what_is_not_computed_of_a_dry_tank_is_hatched_and_not_drawn_as_a_level_line():
    story = dry_story()
    dry = float(story.phase_end[0])
    assert dry < 100.0
    assert story.gauge_pressure[-1] > 5e5
    above, below = story.plot().axes[:2]
    told = int(np.count_nonzero(story.time <= dry))
    assert told < story.time.size
    for ax, names in ((above, {"gauge pressure"}), (below, {"in the tank", "vented", "leaked"})):
        lines = {str(line.get_label()): line for line in ax.get_lines()}
        assert names <= set(lines)
        for name in names:
            assert len(lines[name].get_ydata()) == told
            assert np.max(lines[name].get_xdata()) < 0.95
        (band,) = [patch for patch in ax.patches if patch.get_hatch()]
        left, right = band.get_x(), band.get_x() + band.get_width()
        assert (left, right) == pytest.approx((np.max(lines[min(names)].get_xdata()), 1.0))
        assert any("not computed" in text.get_text() for text in ax.texts)
    ground = next(line for line in below.get_lines() if line.get_label() == "on the ground")
    assert ground.get_xdata()[-1] == 1.0


def test_a_tank_that_runs_dry_as_the_forecast_ends_says_that_nothing_is_known_beyond():
    story = dry_story(arrival=10.0)
    assert float(story.phase_end[-1]) < 100.0
    above, below = story.plot().axes[:2]
    for ax in (above, below):
        assert not [patch for patch in ax.patches if patch.get_hatch()]
        assert any(text.get_text().startswith("at the end no liquid is left") for text in ax.texts)


def test_axes_given_are_used(story):
    ax = Figure().add_subplot()
    assert plots.plot_gauge_pressure(story, ax=ax) is ax
    other = Figure().add_subplot()
    assert plots.plot_pool(story.pool, ax=other) is other


def test_pool_is_drawn_until_it_is_gone(story):
    line = plots.plot_pool(story.pool).get_lines()[0]
    assert line.get_xdata()[-1] * 60.0 <= 1.1 * story.pool.gone_at
    assert np.max(line.get_ydata()) == story.pool.mass.max()


def test_a_plan_without_seal_or_vent_is_drawn(tmp_path):
    told(seal=None, vent=None).plot().savefig(tmp_path / "story.png", dpi=50)


def test_many_scenarios_are_refused():
    pool = lr.pool_history(
        lr.Fluid("propane"),
        lr.Spill(mass=np.array([1.0, 2.0])),
        ground=lr.Ground.named("dry sand"),
        duration=600.0,
    )
    with pytest.raises(lr.InputError, match="a picture is of one scenario"):
        plots.plot_pool(pool)
