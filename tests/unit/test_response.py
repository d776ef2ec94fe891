"""Forecasts: what they refuse, odd incidents, shapes, and how they are told."""

from __future__ import annotations

import dataclasses
import pickle
import re
from html.parser import HTMLParser

import numpy as np
import pytest
from response_cases import HOLE, PROPANE, assert_same_numbers, incident, plan
from strategies import UNITS

import lpgrelease as lr
from lpgrelease.response import ledger, units


@pytest.fixture(scope="module")
def story() -> object:
    return lr.forecast(incident(), plan())


@pytest.fixture(scope="module")
def pair() -> object:
    """A tank nearly empty and one well filled."""
    return lr.forecast(incident(fill=[0.05, 0.8]), plan())


# -- what is refused ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"leaks": HOLE}, "leaks must be a sequence of Opening"),
        ({"leaks": [0.01]}, "leaks must be a sequence of Opening"),
        ({"site": "ditch"}, "site must be OpenGround or Hollow"),
        ({"captured_fraction": 1.2}, "captured_fraction = 1.2 is outside"),
        ({"captured_fraction": float("nan")}, "captured_fraction must be finite"),
    ],
)
def test_incident_refuses(wrong, message):
    with pytest.raises(lr.LpgReleaseError, match=message):
        incident(**wrong)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"arrival": 0.0}, "arrival = 0 s is outside"),
        ({"hold": -1.0}, "hold = -1 s is outside"),
        ({"vent": 0.05}, "vent must be a sequence of Opening"),
        ({"seal": 0.02}, "seal must be WetCloth or None"),
        ({"keep_venting": 1}, "keep_venting must be True or False"),
        ({"flare": 1}, "flare must be True or False"),
        ({"flare_height": -1.0}, "flare_height = -1 m is outside"),
        ({"stop_at_gauge_pressure": -1.0}, "stop_at_gauge_pressure = -1 Pa is outside"),
    ],
)
def test_plan_refuses(wrong, message):
    with pytest.raises(lr.LpgReleaseError, match=message):
        plan(**wrong)


def test_forecast_refuses_other_kinds():
    with pytest.raises(lr.InputError, match="incident must be Incident"):
        lr.forecast(plan(), plan())
    with pytest.raises(lr.InputError, match="plan must be ResponsePlan"):
        lr.forecast(incident(), incident())


def test_shapes_that_do_not_broadcast_are_named():
    with pytest.raises(lr.InputError, match=r"incident\.contents\.fill \(2,\).*plan\.arrival \(3,\)"):
        lr.forecast(incident(fill=[0.5, 0.6]), plan(arrival=[60.0, 70.0, 80.0]))


def test_leak_above_the_tank_is_refused():
    with pytest.raises(lr.OutOfRangeError, match="height of opening 0"):
        lr.forecast(incident(leaks=[lr.Opening(diameter=0.01, height=2.0)]), plan())


# -- what it says ------------------------------------------------------------------------------------


def test_ledger_is_the_sum_of_the_histories(story):
    books = story.ledger
    assert books.vented == story.vented[0, -1]
    assert books.leaked_as_vapor + books.leaked_as_liquid == pytest.approx(story.leaked[0, -1], rel=1e-12)
    assert books.imbalance < 1e-6


def test_phases_follow_one_another(story):
    assert story.phase_names == ("before arrival", "vent", "vent, seal", "vent, hold")
    assert story.phase_end[0] == pytest.approx(600.0, rel=2e-9)  # a history's end is located to 1e-9 of it
    assert np.array_equal(story.phase_start[1:], story.phase_end[:-1])
    assert np.all(np.diff(story.time) >= 0.0)
    assert story.phase_end[3] - story.phase_end[2] == pytest.approx(300.0, rel=2e-9)


def test_sealing_takes_the_laying_and_the_freezing(story):
    wanted = 120.0 + float(story.seals[0].freeze_time)
    assert story.phase_end[2] - story.phase_end[1] == pytest.approx(wanted, rel=1e-9)
    assert story.sealed.all()
    assert np.all(story.leak_flow[0, -65:] == 0.0)


def test_venting_ends_where_the_gauge_reads_zero(story):
    end = np.searchsorted(story.time, story.zero_gauge_at)
    assert story.zero_gauge_reached
    assert story.gauge_pressure[end] == pytest.approx(689.476, abs=0.01)  # located to 1e-6 K, 0.005 Pa


def test_boil_off_is_what_the_vent_passes_while_holding(story):
    assert story.boil_off == pytest.approx(story.vent_flow[0, -1], rel=0.02)  # liquid cools by some mK still


def test_pressure_returns_in_the_order_of_the_thresholds(story):
    assert 0.0 < story.tenth_bar_after < story.ice_limit_after < story.one_bar_after < np.inf


def test_a_closed_vent_gives_the_pressure_the_side_history_gives():
    shut = lr.forecast(incident(), plan(keep_venting=False, hold=3600.0))
    beyond = np.interp(shut.phase_start[-1] + shut.one_bar_after, shut.time, shut.gauge_pressure)
    assert beyond == pytest.approx(1e5, rel=2e-3)  # linear between 65 points of a curved history
    assert any("past what the ice is trusted to hold" in text for text in shut.cautions)


def test_quantities_and_si_agree():
    q = UNITS.Quantity
    given = plan(arrival=q(10.0, "min"), hold=q(5.0, "min"), stop_at_gauge_pressure=q(0.1, "psi"))
    same = plan(stop_at_gauge_pressure=689.4757293168361)
    assert given.arrival == same.arrival
    assert given.stop_at_gauge_pressure == pytest.approx(same.stop_at_gauge_pressure, rel=1e-14)


def test_progress_counts_stages():
    seen = []
    lr.forecast(incident(), plan(), progress=lambda done, total: seen.append((done, total)))
    assert seen == [(1, 2), (2, 2)]


def test_result_pickles(story):
    again = pickle.loads(pickle.dumps(story))
    assert np.array_equal(again.time, story.time)
    assert again.table() == story.table()


# -- odd incidents -----------------------------------------------------------------------------------


def test_no_leak():
    story = lr.forecast(incident(leaks=[]), plan())
    assert story.zero_gauge_reached
    assert story.ledger.leaked_as_liquid == story.ledger.leaked_as_vapor == 0.0
    assert story.pool_gone_at == 0.0
    assert [step.state for step in story.steps() if step.name == "seal"] == ["not needed"]
    assert "There is no leak to seal" in story.report()


def test_a_shut_tank_that_does_not_leak():
    story = lr.forecast(incident(leaks=[]), plan(vent=None, longest_venting=3600.0))
    assert story.ledger.in_tank == pytest.approx(story.ledger.initial, rel=1e-12)
    assert story.tenth_bar_after == 0.0  # it is above that
    assert "nothing is vented" in story.table()


def test_leak_of_vapor_makes_no_pool():
    story = lr.forecast(incident(leaks=[lr.Opening(diameter=0.008, height=1.15)]), plan())
    assert story.ledger.leaked_as_liquid == 0.0
    assert story.ledger.leaked_as_vapor > 0.0
    assert "vapor" in story.table()
    assert "No liquid reaches the ground" in story.report()


def test_n_butane_in_the_cold_lies_below_the_pressure_of_the_air():
    story = lr.forecast(incident(lr.Fluid("n-butane"), temperature=258.15, air=258.15), plan())
    assert story.zero_gauge_reached
    assert story.zero_gauge_at == pytest.approx(600.0, abs=1e-3)
    assert np.all(story.gauge_pressure < 0.0)
    assert np.all(story.vent_flow == 0.0)
    assert not story.sealed.any()
    assert "reads zero or less already" in story.table()
    assert any("lets air in" in text for text in story.cautions)


def test_a_gauge_that_settles_says_where():
    big = lr.HorizontalTank(diameter=2.8, length=18.0, wall_mass=33000.0, heat_transfer=6000.0)
    wide = lr.Opening(diameter=0.05, height=2.8)
    story = lr.forecast(
        incident(tank=big, leaks=[]), plan(vent=wide, longest_venting=5e5, stop_at_gauge_pressure=3e3)
    )
    assert not story.zero_gauge_reached
    assert np.isinf(story.zero_gauge_at)
    assert 3e3 < story.plateau_gauge_pressure < 2e5
    assert "has settled at" in story.table()
    assert "Never, under this plan" in story.report()
    assert any("does not come down" in text for text in story.cautions)


def test_venting_that_does_not_come_down_says_so():
    story = lr.forecast(incident(), plan(longest_venting=30.0, hold=60.0))
    assert not story.zero_gauge_reached
    assert np.isinf(story.plateau_gauge_pressure)
    reading = units.pressure(float(story.gauge_pressure[-1]))[0]
    assert f"the gauge still reads {reading}" in " ".join(story.table().split())
    assert story.steps()[0].state == "falls short"
    assert "does not come down" in story.steps()[0].reason


def test_a_vent_left_open_brings_the_gauge_down_after_the_plan_has_gone_on():
    story = lr.forecast(incident(), plan(longest_venting=30.0, hold=3600.0))
    assert story.step_begins[1] == pytest.approx(630.0, rel=1e-9)  # cloths are laid all the same
    assert story.zero_gauge_at > story.step_begins[1]
    assert story.steps()[0].state == "done"


def test_a_tank_that_runs_dry_ends_there():
    story = lr.forecast(incident(leaks=[lr.Opening(diameter=0.05)]), plan())
    assert not story.zero_gauge_reached
    assert story.phase_end[0] < 600.0
    assert story.phase_end[-1] == 600.0  # when the responders arrive and find it dry
    assert np.all(story.leak_flow[:, story.time > story.phase_end[0]] == 0.0)
    assert story.ledger.in_tank_liquid == pytest.approx(0.0, abs=1e-3)
    assert any("runs out of liquid" in text for text in story.cautions)
    assert "No liquid is left in the tank" in story.report()


@pytest.mark.parametrize("fill", [0.5, 0.0])
def test_vapor_that_leaks_on_after_the_last_liquid_is_told_and_kept_away_from(fill):
    """No figure of what is not followed is printed as nothing, and the distance is that of the vapor."""
    hole = lr.Opening(diameter=0.02, height=0.0)
    case = incident(leaks=[hole], fill=fill, temperature=290.0)
    story = lr.forecast(case, plan(arrival=900.0))
    away, dry = story.distances(), float(story.phase_end[0])
    assert dry < 300.0
    flow = lr.vapor_release(PROPANE, hole, temperature=float(story.temperature[-1])).mass_flow
    after = float(
        away.gas_flow[-1] - (story.pool.evaporation_rate[story.pool.time > dry].max() if fill else 0.0)
    )
    assert (flow if fill == 0.0 else 0.95 * flow) < after < 1.2 * flow + 0.1
    cloud = lr.flammable_reach(PROPANE, mass_flow=flow, weather=case.weather, fraction=0.5)
    assert away.stay_away[-1] > cloud.distance_high > 50.0
    rows = [row for row in story.table().splitlines() if "not told" in row]
    assert rows[-1].split() == ["not", "told"] * 2 + ["0", "gal"] + ["not", "told"] * 2 + ["no", "pool"]
    assert not any("0 lb/min" in row for row in rows)
    told = " ".join(story.report().split())
    for words in (
        "**Not told:** the last liquid is gone",
        "and leaks on through what is open",
        "goes on leaking through the open hole. That is not followed",
        "still in the tank when its last liquid went: vapor, which leaks on",
        "its vapor leaks on, which is not followed",
    ):
        assert words in told
    assert "Never" not in told
    assert "Nearer than 0 ft" not in told
    assert any("That is not followed" in text for text in away.cautions)


@pytest.mark.parametrize("name", ["propane", "n-butane", "chlorine", "ammonia", "methane", "sulfur dioxide"])
def test_the_bound_to_what_vapor_leaks_lies_just_above_the_nozzle(name):
    fluid, hole = lr.Fluid(name), lr.Opening(diameter=0.01, height=0.0)
    boiling = float(fluid.saturation(pressure=101325.0).temperature)
    warm = boiling * np.array([1.003, 1.02, 1.08, 1.2])
    story = lr.forecast(incident(fluid, leaks=[hole], fill=0.0, temperature=warm), plan(seal=None))
    nozzle = lr.vapor_release(fluid, hole, temperature=warm).mass_flow
    ratio = story.distances().gas_flow[..., -1] / nozzle
    assert np.all(ratio >= 1.0)
    assert np.all(ratio < 1.2)


def test_a_dry_tank_that_is_whole_or_at_the_airs_pressure_leaks_no_vapor():
    cold = lr.forecast(incident(fill=0.0, temperature=225.0), plan())
    whole = lr.forecast(incident(fill=0.0, leaks=[]), plan())
    for story in (cold, whole):
        assert np.all(story.distances().gas_flow == 0.0)
        assert not any("That is not followed" in text for text in story.cautions)
        assert "Nearer than 0 ft" not in story.report()
        assert "No distance was computed to exceed zero" in story.report()
        assert "authority's rule" in story.report()


def test_ammonia_is_not_sealed():
    story = lr.forecast(incident(lr.Fluid("ammonia")), plan())
    assert not story.sealed.any()
    assert "Not met: water takes up little cargo" in story.report()
    assert any("poisonous" in text for text in story.cautions)


def test_without_a_seal_the_leak_goes_on():
    story = lr.forecast(incident(), plan(seal=None))
    assert story.phase_names == ("before arrival", "vent", "vent, hold")
    assert story.leak_flow[0, -1] > 0.0
    assert story.liquid_still_leaks
    assert np.isinf(story.pool_gone_at)
    assert "No seal is planned" in story.report()


def test_leaks_of_liquid_and_of_vapor_are_assessed_apart():
    low, high = lr.Opening(diameter=0.004, height=0.1), lr.Opening(diameter=0.004, height=1.0)
    story = lr.forecast(incident(leaks=[low, high]), plan())
    assert story.leaked_liquid[0, -1] == story.leaked[0, -1]
    assert story.leaked_liquid[1, -1] == 0.0
    assert story.seals[0].cooling_power == np.inf
    assert story.seals[1].cooling_power < np.inf


def test_captured_fraction_and_hollow_reach_the_pool():
    story = lr.forecast(incident(site=lr.Hollow(area=2.0, depth=0.02), captured_fraction=0.5), plan())
    books = story.ledger
    assert books.overflowed > 0.0
    assert books.airborne == pytest.approx((books.leaked_as_liquid - books.flashed) * 0.5, rel=1e-9)
    assert story.pool_diameter == pytest.approx(2.0 * np.sqrt(2.0 / np.pi), rel=1e-9)


# -- distances ---------------------------------------------------------------------------------------


def test_distances_are_those_of_the_parts_alone(story):
    """The cloud of the largest flow while leaking, the largest flare while venting, the widest pool."""
    told, weather = story.distances(), story.incident.weather
    gas = float(told.gas_flow[0])
    cloud = lr.flammable_reach(PROPANE, mass_flow=gas, weather=weather, fraction=0.5)
    assert told.half_limit[0] == pytest.approx(cloud.distance, rel=1e-12)
    flow = story.runs[1].mass_flow[1].max()
    flare = lr.vapor_flare(PROPANE, mass_flow=flow, height=3.0, diameter=0.0508, weather=weather)
    assert told.flare_standoff[1] == pytest.approx(flare.standoff(1580.0), rel=1e-9)
    pool = lr.pool_fire(PROPANE, diameter=float(story.pool_diameter), weather=weather)
    assert told.pool_fire_standoff.max() == pytest.approx(pool.standoff(1580.0), rel=1e-9)
    assert told.flare_flow[0] == 0.0  # before the vent is opened
    assert np.all(told.stay_away >= told.half_limit_high)


def test_gas_that_enters_the_air_is_bounded_by_what_leaks(story):
    """No more than leaks and evaporates; no less than what leaks as vapor at once."""
    told, flow = story.distances(), story.leak_flow.sum(axis=0)
    most = flow.max() + story.pool.evaporation_rate.max()
    flashed = story.pool.mass_flashed[-1] / story.phase_end[-1]
    assert flashed < told.gas_flow[0] < most


def test_what_is_not_flared_drifts_off():
    flared, drifts = (lr.forecast(incident(), plan(flare=burn)).distances() for burn in (True, False))
    assert np.all(drifts.flare_standoff == 0.0)
    assert drifts.gas_flow[1] > flared.gas_flow[1]
    assert drifts.half_limit[1] > flared.half_limit[1]
    assert drifts.gas_flow[0] == flared.gas_flow[0]


def test_what_hardly_burns_as_a_pool_or_at_all():
    ammonia = lr.forecast(incident(lr.Fluid("ammonia")), plan()).distances()
    assert np.all(ammonia.pool_fire_standoff == 0.0)
    assert ammonia.half_limit[0] > 0.0
    chlorine = lr.forecast(incident(lr.Fluid("chlorine")), plan())
    assert not chlorine.distances().burns
    assert np.all(chlorine.distances().stay_away == 0.0)
    assert "does not burn" in chlorine.report()


def test_in_light_wind_stay_away_holds_aside_and_upwind():
    """A wide hole: the cloud goes farther aside than downwind, and nobody may stand in it."""
    wide = incident(leaks=[lr.Opening(diameter=0.1, height=0.2)])
    light = dataclasses.replace(wide, weather=lr.Weather(wind_speed=1.0, stability="D"))
    story = lr.forecast(light, plan())
    away = story.distances()
    gas = float(away.gas_flow.max())
    part = int(np.argmax(away.gas_flow))
    cloud = lr.flammable_reach(PROPANE, mass_flow=gas, weather=light.weather, fraction=0.25)
    assert 0.5 * cloud.width > 1.05 * away.half_limit_high[part]
    assert away.stay_away[part] >= max(0.5 * cloud.width, cloud.upwind)
    assert away.broad
    assert any("farther aside or upwind" in text for text in away.provenance.outside_validity)
    assert any("Stay away on every side" in text for text in away.cautions)
    assert re.search(r"Nearer than [^*]*, on every side,\*\*", story.report())
    assert not lr.forecast(incident(), plan()).distances().broad


@pytest.mark.parametrize("name", ["chlorine", "sulfur dioxide"])
@pytest.mark.parametrize("steps", [False, True])
def test_what_does_not_burn_is_not_flared_but_enters_the_air(name, steps):
    """All that leaves the vent is in the gas that enters the air; an asked flare is refused."""

    def planned(**flare):
        if steps:
            ends, vent = lr.When(gauge_at_most=700.0), plan().vent
            return lr.ResponsePlan(arrival=900.0, steps=[lr.Vent(vent=vent, ends=ends, **flare)], hold=600.0)
        return plan(**flare)

    gone = incident(lr.Fluid(name), leaks=[])
    story, drifts = lr.forecast(gone, planned()), lr.forecast(gone, planned(flare=False))
    away = story.distances()
    assert_same_numbers(story, drifts)
    assert story.ledger.vented > 100.0
    assert story.ledger.flared == 0.0
    assert away.gas_flow.max() == story.vent_flow.max() > 0.1
    assert np.all(away.flare_flow == 0.0)
    for told in (story.table(), story.report()):
        assert "no flare takes what is vented" in " ".join(told.replace("\n  ", " ").split())
    assert any("How far its vapor harms those who breathe it is not computed" in c for c in away.cautions)
    assert "No distance for poison is computed" in repr(away)
    with pytest.raises(lr.InputError, match=f"flare.*: {name} does not burn in air; leave it out"):
        lr.forecast(gone, planned(flare=True))


def test_distances_say_so_where_poison_has_none():
    ammonia = lr.forecast(incident(lr.Fluid("ammonia")), plan()).distances()
    assert ammonia.cautions[0].startswith("Ammonia is poisonous")
    assert "No distance for poison is computed here" in repr(ammonia)


def test_distances_of_one_of_many_are_those_alone(pair):
    many, alone = pair.distances(), pair.scenario(1).distances()
    for field in dataclasses.fields(alone):
        if "unit" in field.metadata:
            assert np.array_equal(getattr(many, field.name)[1], getattr(alone, field.name)), field.name


# -- scenarios ---------------------------------------------------------------------------------------


def test_one_of_many_is_the_one_alone_to_the_bit():
    diameters = np.array([0.004, 0.008, 0.012])
    many = lr.forecast(incident(leaks=[lr.Opening(diameter=diameters, height=0.2)]), plan())
    alone = lr.forecast(incident(leaks=[lr.Opening(diameter=0.008, height=0.2)]), plan())
    assert many.shape == (3,)
    assert_same_numbers(many.scenario(1), alone)
    assert many.scenario(1).table() == alone.table()
    assert many.scenario(-1).table() != alone.table()


def test_scenarios_in_two_axes():
    holes = [lr.Opening(diameter=np.array([[0.004], [0.008]]), height=np.array([0.1, 1.1]))]
    story = lr.forecast(incident(leaks=holes), plan())
    assert story.shape == (2, 2)
    assert story.leak_flow.shape == (2, 2, 1, 260)
    assert story.ledger.imbalance.shape == (2, 2)
    assert story.scenario((0, 1)).ledger.leaked_as_liquid == 0.0
    assert story.to_dataset().sizes["leak"] == 1


def test_cautions_of_many_count_the_scenarios(pair):
    assert any(text.startswith("In 1 of 2 scenarios: The tank runs out") for text in pair.cautions)
    assert not any("runs out of liquid" in text for text in pair.scenario(1).cautions)


@pytest.mark.parametrize("what", ["table", "report", "report_html", "plot"])
def test_words_and_pictures_are_of_one_scenario(pair, what):
    with pytest.raises(lr.InputError, match=rf"story\.scenario\(0\)\.{what}\(\)"):
        getattr(pair, what)()


@pytest.mark.parametrize("index", [2, (0, 0), -3])
def test_scenario_that_is_not_there(pair, index):
    with pytest.raises(lr.InputError, match=r"is not one of scenarios of shape \(2,\)"):
        pair.scenario(index)


# -- words -------------------------------------------------------------------------------------------


def test_every_figure_of_the_table_has_its_unit(story):
    rows = [line for line in story.table().splitlines() if re.match(r" {13}-?[\d.]+ (psi|bar) ", line)]
    first, second = rows[0::2], rows[1::2]
    assert len(first) == len(second) > 4
    for line, expected in ((first[0], ("psi", "degF", "gal", "lb/min")), (second[0], ("bar", "degC", "kg"))):
        for unit in expected:
            assert unit in line
    for line in rows:
        figures = [word for word in line.split() if word[0].isdigit() or word[0] == "-"]
        followed = [line.split()[i + 1] for i, word in enumerate(line.split()) if word in figures]
        assert set(followed) <= {"psi", "bar", "degF", "degC", "gal", "kg", "lb/min", "kg/min", "ft", "m"}


def test_table_figures_are_those_of_the_story(story):
    start = story.table().splitlines()
    line = next(i for i, text in enumerate(start) if "the leak begins" in text)
    assert f"{story.gauge_pressure[0] / 6894.757:.1f} psi" in start[line + 1]
    assert f"{story.gauge_pressure[0] / 1e5:.2f} bar" in start[line + 2]
    assert f"{story.liquid_mass[0]:,.0f} kg" in start[line + 2]
    assert f"{story.leak_flow[0, 0] * 60.0:.1f} kg/min liquid" in start[line + 2]


def test_a_table_of_one_kind_of_units_has_no_others(story):
    both, us, si = (story.table(units=kind) for kind in ("both", "us", "si"))
    rows = lambda text, unit: re.findall(rf"^ {{13}}-?[\d.]+ {unit} .*$", text, re.MULTILINE)  # noqa: E731
    assert rows(us, "psi") == rows(both, "psi")
    assert rows(si, "bar") == rows(both, "bar")
    assert rows(us, "bar") == rows(si, "psi") == []
    with pytest.raises(lr.InputError, match="units must be both, us or si, got 'metric'"):
        story.table(units="metric")
    with pytest.raises(lr.InputError, match=r"units must be both, us or si, got \['us'\]"):
        story.table(units=["us"])


def test_report_has_the_cautions_first_and_last(story):
    text = story.report()
    for caution in story.cautions:
        assert caution in text
    assert text.index(story.cautions[0]) < text.index("Five answers")
    assert text.rindex(story.cautions[0]) > text.index("Made with")
    assert "Distances are for level, open ground" in text
    assert lr.__version__ in text


class Reader(HTMLParser):
    """Collects what is opened, shut and said, and what is fetched from elsewhere."""

    def __init__(self):
        super().__init__()
        self.open, self.words, self.fetched = [], [], []

    def handle_starttag(self, tag, attrs):
        self.fetched += [value for name, value in attrs if name in ("src", "href")]
        if tag not in ("meta", "img"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def test_page_stands_alone_and_says_all_of_the_report(story):
    reader = Reader()
    reader.feed(story.report_html())
    assert reader.open == []
    assert len(reader.fetched) == 1
    assert reader.fetched[0].startswith("data:image/png;base64,")
    said = " ".join(" ".join(reader.words).split())
    for line in story.report().splitlines():
        for cell in re.split(r"\||\*\*", line.lstrip("#- ")):
            words = " ".join(cell.replace("`", " ").split())
            if words and not set(words) <= set(":-") and words != "text":
                assert words in said, words


def test_report_has_numbers_first(story):
    text = story.report()
    order = ["Read first", "Five answers", "Timeline", "Where not to stand", "Will ice hold", "Made with"]
    places = [text.index(f"## {name}") for name in order]
    assert places == sorted(places)


def test_cautions_say_what_matters(story):
    said = " ".join(story.cautions)
    for words in ("not instructions", "may fail", "uphill and upwind", "authority in charge"):
        assert words in said


def test_open_flames_are_cautioned_against_where_gas_leaks(story):
    assert any("lights any gas that reaches it" in text for text in story.cautions)
    for other in (lr.forecast(incident(), plan(flare=False)), lr.forecast(incident(leaks=[]), plan())):
        assert not any("lights any gas that reaches it" in text for text in other.cautions)


def test_a_drip_boils_off_as_it_lands(story):
    assert story.pool_gone_at == pytest.approx(story.pool_fed_until, rel=1e-6)
    late = np.interp(0.95 * story.pool_fed_until, story.pool.time, story.pool.mass)
    assert late < 0.01 * story.pool.mass.max()
    assert "no liquid is left on the ground" in " ".join(story.table().split())


def test_units_in_words():
    assert units.duration(59.6 * 60.0) == "59.6 min"
    assert units.duration(3599.0) == "1 h 00 min"
    assert units.pressure(-45e3) == ("-6.5 psi", "-0.45 bar")
    assert units.temperature(255.3722) == ("0 degF", "-18 degC")
    assert units.liquid(3.785411784, 1234.5) == ("1,000 gal", "1,234 kg")
    assert units.flow(0.45359237 / 60.0) == ("1.00 lb/min", "0.45 kg/min")
    assert units.length(0.3048) == ("1.00 ft", "0.30 m")
    assert units.speed(0.44704) == ("1.00 mph", "0.45 m/s")
    assert units.area(0.09290304) == ("1.00 ft2", "0.09 m2")


# -- parts -------------------------------------------------------------------------------------------


def test_liquid_share_finds_the_moment_of_the_change():
    """Liquid at 2 kg/s until 6 s, vapor at 0.5 kg/s after, seen at 0, 10 and 20 s."""
    time, flow = np.array([0.0, 10.0, 20.0]), np.array([2.0, 0.5, 0.5])
    wet = np.array([True, False, False])
    released = np.array([0.0, 14.0, 19.0])
    liquid, part = ledger.liquid_share(time, flow, wet, released)
    assert liquid == pytest.approx([12.0, 0.0])
    assert part == pytest.approx([0.6, 0.0])


def test_values_at_holds_beyond_the_ends():
    time, values = np.array([[0.0, 1.0, 1.0, 3.0]]), {"x": np.array([[0.0, 2.0, 2.0, 4.0]])}
    at = np.array([[-1.0, 0.5, 1.0, 2.0, 9.0]])
    assert ledger.values_at(time, values, at)["x"] == pytest.approx(np.array([[0.0, 1.0, 2.0, 3.0, 4.0]]))


def test_books_that_do_not_close_are_refused(story):
    names = ("in_tank", "vented", "relieved", "transferred", "leaked_as_vapor", "leaked_as_liquid")
    books = {name: getattr(story.ledger, name) for name in names}
    with pytest.raises(lr.ConvergenceError, match="mass of a forecast does not close"):
        ledger.ledger_at(
            story.ledger.initial * 1.00001,
            story.ledger.in_tank_liquid,
            books,
            story.ledger.flared,
            story.pool,
            np.asarray(story.phase_end[-1]),
        )


def test_books_close_at_every_time(story):
    books = story.masses
    everywhere = books.in_tank + books.vented + books.transferred
    everywhere += books.leaked_as_vapor + books.leaked_as_liquid
    assert everywhere == pytest.approx(float(story.ledger.initial), rel=1e-9)
    on_the_way = books.flashed + books.airborne + books.on_ground + books.evaporated + books.overflowed
    assert on_the_way == pytest.approx(books.leaked_as_liquid, abs=1e-9 * float(story.ledger.initial))
    assert books.time[-1] == pytest.approx(story.phase_end[-1] + 86400.0)


def test_the_pool_is_fed_as_the_leak_flows(story):
    """What had leaked as liquid by each end of a phase had left by then, as the pool was told."""
    at = np.interp(story.phase_end, story.pool.time, story.pool.mass_spilled)
    leaked = np.interp(story.phase_end, story.time, story.leaked_liquid[0])
    assert at[-1] == pytest.approx(leaked[-1], rel=1e-12)
    assert at == pytest.approx(leaked, rel=5e-3)  # straight between 81 times of the pool
