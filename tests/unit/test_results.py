"""Results: frozen, comparable to the bit, readable, and convertible."""

from __future__ import annotations

import copy
import dataclasses
import pickle

import numpy as np
import pint
import pytest

import lpgrelease as lr
from lpgrelease.quantities import FloatArray
from lpgrelease.results import BoolArray, Provenance, Result, StringArray, plain, quantity, result


@result
class Flow(Result):
    """A flow with a number, a flag and an optional part."""

    mass_flow: FloatArray = quantity("kg/s", "mass flow")
    choked: BoolArray = quantity("", "whether the throat is choked")
    reason: StringArray = quantity("", "what ended it")
    share: FloatArray | None = quantity("", "share of <liquid>", default=None)
    parts: tuple[FloatArray, ...] = plain("its parts", default=())


@result
class History(Result):
    """A history with openings."""

    volume: FloatArray = quantity("m**3", "volume")
    time: FloatArray = quantity("s", "time", dims=("time",))
    pressure: FloatArray = quantity("Pa", "pressure", dims=("time",))
    mass_flow: FloatArray = quantity("kg/s", "mass flow", dims=("opening", "time"))
    area: FloatArray = quantity("m**2", "area", dims=("opening",))


def flow(value=2.0, **changes):
    fields = {"mass_flow": value, "choked": np.bool_(True), "reason": np.str_("duration")}
    return Flow(**{**fields, **changes}, provenance=Provenance("Bernoulli", ("bipm2019si",)))


def history(scenarios=()):
    n = (*scenarios, 3)
    pressure = np.arange(np.prod(n), dtype=float).reshape(n)
    flows = np.stack([pressure, 10.0 * pressure], axis=-2)
    area = np.broadcast_to([1.0, 2.0], (*scenarios, 2)).copy()
    return History(
        volume=np.full(scenarios, 4.0)[()],
        time=np.broadcast_to([0.0, 1.0, 2.0], n).copy(),
        pressure=pressure,
        mass_flow=flows,
        area=area,
    )


@pytest.fixture(scope="module")
def saturation():
    return lr.Fluid("propane").saturation(temperature=[290.0, 300.0])


def test_results_are_frozen_and_slotted():
    it = flow()
    with pytest.raises(dataclasses.FrozenInstanceError):
        it.mass_flow = 3.0
    with pytest.raises((AttributeError, TypeError)):
        it.other = 3.0
    with pytest.raises(dataclasses.FrozenInstanceError):
        del it.mass_flow
    assert not hasattr(it, "__dict__")
    with pytest.raises(TypeError, match="positional"):
        Flow(1.0)


def test_equality_is_to_the_bit():
    values = np.array([1.0, np.nan])
    assert flow(values) == flow(values.copy())
    assert flow(values) != flow(values + 1e-16 * np.array([2.3, 0.0]))
    assert flow(1.0) != flow(np.nextafter(1.0, 2.0))
    assert flow(np.array([1.0])) != flow(np.array(1.0))
    assert flow(np.array([1.0])) != flow(np.array([1.0], np.float32))
    assert flow() != flow(choked=np.bool_(False))
    assert flow() != flow(reason=np.str_("gauge"))
    assert flow() != dataclasses.replace(flow(), provenance=Provenance("Torricelli"))
    assert flow() != history()
    assert flow() != 2.0


def test_tuples_of_arrays_compare_too():
    parts = (np.array([1.0, 2.0]), np.array([3.0]))
    assert flow(parts=parts) == flow(parts=tuple(part.copy() for part in parts))
    assert flow(parts=parts) != flow(parts=parts[:1])
    assert flow(parts=parts) != flow(parts=(parts[0], np.array([4.0])))


def test_results_are_not_hashable():
    with pytest.raises(TypeError, match="unhashable"):
        hash(flow())


@pytest.mark.parametrize(
    "again", [copy.copy, copy.deepcopy, lambda r: pickle.loads(pickle.dumps(r)), lambda r: r]
)
def test_copies_are_equal(again, saturation):
    for it in (saturation, flow(np.array([1.0, 2.0])), history((2,))):
        twin = again(it)
        assert twin == it
        assert type(twin) is type(it)
        assert twin.provenance == it.provenance


def test_the_printed_table_is_readable(saturation):
    text = repr(saturation).splitlines()
    assert text[0] == "SaturationState"
    assert len(text) == 1 + len(dataclasses.fields(saturation)) - 1 + 1  # no provenance, but its model
    assert any(line.split() == ["latent_heat", "349505", "...", "332449", "(2,)", "J/kg"] for line in text)
    assert "model" in text[-1]
    units_at = {line.rindex(" ") for line in text[1:-1] if line.endswith("Pa") or line.endswith("J/kg")}
    assert len(units_at) == 1  # the units stand in one column


def test_a_scalar_prints_its_value_and_a_left_range_is_said():
    text = repr(flow(1.23456789))
    assert "1.23457" in text
    assert "True" in text
    left = Provenance("Bernoulli", outside_validity=("Reynolds number 1e3 to 1e5",))
    assert "outside validity" in repr(dataclasses.replace(flow(), provenance=left))
    assert "Reynolds number" in repr(dataclasses.replace(flow(), provenance=left))


def test_empty_arrays_print():
    assert "array (0,)" in repr(flow(np.array([])))


def test_the_notebook_table_escapes_and_holds_every_row(saturation):
    html = saturation._repr_html_()
    assert html.startswith("<table><caption>SaturationState</caption>")
    assert html.count("<tr>") == len(repr(saturation).splitlines()) - 1
    assert "<td>J/kg</td>" in html
    assert "<b>" not in dataclasses.replace(flow(), provenance=Provenance("<b>bold"))._repr_html_()


def test_the_quantity_view_uses_the_application_registry(saturation):
    registry = pint.get_application_registry()
    assert isinstance(saturation.q.pressure, registry.Quantity)
    assert saturation.q.pressure.units == registry.Unit("Pa")
    np.testing.assert_array_equal(saturation.q.pressure.magnitude, saturation.pressure)
    assert saturation.q.temperature.to("degF").magnitude[0] == pytest.approx(290.0 * 1.8 - 459.67)
    assert flow(share=0.5).q.share.dimensionless


def test_the_quantity_view_follows_a_change_of_the_application_registry(saturation):
    before = pint.get_application_registry().get()
    mine = pint.UnitRegistry()
    pint.set_application_registry(mine)
    try:
        assert isinstance(saturation.q.pressure, mine.Quantity)
    finally:
        pint.set_application_registry(before)


def test_flags_and_texts_come_as_they_are():
    assert flow().q.choked == np.True_
    assert flow(choked=np.array([True, False])).q.choked.tolist() == [True, False]
    assert flow().q.reason == "duration"


def test_the_quantity_view_lists_its_fields(saturation):
    assert dir(saturation.q) == sorted(
        f.name for f in dataclasses.fields(saturation) if f.name != "provenance"
    )
    assert "share" not in dir(flow().q)
    assert "share" in dir(flow(share=0.5).q)
    assert repr(saturation.q).startswith("quantities of SaturationState")


@pytest.mark.parametrize("name", ["nothing", "provenance", "parts", "_hidden", "share"])
def test_the_quantity_view_has_nothing_else(name):
    with pytest.raises(AttributeError, match=name):
        getattr(flow().q, name)


def test_dataframe_of_scenarios(saturation):
    frame = saturation.to_dataframe()
    assert frame.shape == (2, 14)
    assert frame["pressure [Pa]"].tolist() == saturation.pressure.tolist()
    assert lr.Fluid("propane").saturation(temperature=290.0).to_dataframe().shape == (1, 14)
    grid = lr.Fluid("propane").saturation(temperature=[[290.0, 300.0]] * 3).to_dataframe()
    assert grid.index.names == ["scenario_0", "scenario_1"]
    assert len(grid) == 6


def test_dataframe_of_mixed_kinds():
    frame = flow(np.array([1.0, 2.0])).to_dataframe()
    assert list(frame) == ["mass_flow [kg/s]", "choked [-]", "reason [-]"]
    assert frame["choked [-]"].tolist() == [True, True]
    assert flow(share=0.5).to_dataframe()["share [-]"].tolist() == [0.5]


@pytest.mark.parametrize("scenarios", [(), (2,), (2, 2)])
def test_dataframe_of_histories(scenarios):
    it = history(scenarios)
    frame = it.to_dataframe()
    assert len(frame) == it.pressure.size
    assert frame["pressure [Pa]"].tolist() == it.pressure.ravel().tolist()
    assert frame["mass_flow_0 [kg/s]"].tolist() == it.mass_flow[..., 0, :].ravel().tolist()
    assert frame["mass_flow_1 [kg/s]"].tolist() == it.mass_flow[..., 1, :].ravel().tolist()
    assert set(frame["area_1 [m**2]"]) == {2.0}
    assert set(frame["volume [m**3]"]) == {4.0}


def test_dataset_of_scenarios(saturation):
    data = saturation.to_dataset()
    assert data["pressure"].dims == ("scenario",)
    assert data["pressure"].attrs == {"units": "Pa", "description": "saturation pressure p, absolute"}
    assert data.attrs["model"] == "saturation table"
    assert data.attrs["sources"] == "lemmon2009propane"
    assert "CoolProp" in data.attrs["properties"]
    left = Provenance("Bernoulli", outside_validity=("Reynolds number",))
    assert dataclasses.replace(flow(), provenance=left).to_dataset().attrs["outside_validity"]


@pytest.mark.parametrize(
    ("scenarios", "leading"), [((), ()), ((2,), ("scenario",)), ((2, 2), ("scenario_0", "scenario_1"))]
)
def test_dataset_of_histories(scenarios, leading):
    it = history(scenarios)
    data = it.to_dataset()
    assert data["mass_flow"].dims == (*leading, "opening", "time")
    assert data["pressure"].dims == (*leading, "time")
    assert data["area"].dims == (*leading, "opening")
    assert data["volume"].dims == leading
    np.testing.assert_array_equal(data["mass_flow"].values, it.mass_flow)
