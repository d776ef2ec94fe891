"""The map of feasible freeze seals, and its picture."""

import numpy as np
import pytest

import lpgrelease as lr
from lpgrelease.errors import InputError
from lpgrelease.freeze_seal import assess_freeze_seal, freeze_seal_map

PROPANE = lr.Fluid("propane")


def test_map_is_the_assessment_of_every_pair():
    sizes, pressures = [0.003, 0.05, 0.2], [0.0, 2e3, 4e3, 1e5]
    found = freeze_seal_map(PROPANE, diameter=sizes, gauge_pressure=pressures)
    assert found.verdict.shape == found.feasible.shape == (3, 4)
    for i, size in enumerate(sizes):
        for j, pressure in enumerate(pressures):
            one = assess_freeze_seal(PROPANE, lr.Opening(diameter=size), gauge_pressure=pressure)
            assert found.verdict[i, j] == one.verdict
    assert {"feasible", "marginal", "not feasible"} == set(found.verdict.ravel())


def test_map_refuses_more_than_rows():
    with pytest.raises(InputError, match="single rows"):
        freeze_seal_map(PROPANE, diameter=[[0.01]], gauge_pressure=[0.0])
    with pytest.raises(InputError, match="must be single numbers"):
        freeze_seal_map(PROPANE, diameter=[0.01], gauge_pressure=[0.0], head=np.zeros((2, 1, 1)))


@pytest.fixture(scope="module")
def found():
    sizes, pressures = np.geomspace(2e-3, 0.3, 8), np.append(0.0, np.geomspace(50.0, 1e5, 12))
    return freeze_seal_map(PROPANE, diameter=sizes, gauge_pressure=pressures)


def test_picture_shows_the_verdicts(found, tmp_path):
    pytest.importorskip("matplotlib")
    from lpgrelease import plots

    ax = plots.plot_freeze_seal_map(found)
    assert ax.get_xlabel() == "diameter of the hole [mm]"
    assert ax.get_ylabel() == "gauge pressure [kPa]"
    assert "liquid leak of propane" in ax.get_title()
    (mesh,) = (item for item in ax.collections if item.__class__.__name__ == "QuadMesh")
    drawn = np.asarray(mesh.get_array()).reshape(12, 8)
    said = np.select([found.feasible, found.marginal], [2.0, 1.0])[:, 1:].T
    assert np.array_equal(drawn, said)
    assert set(drawn.ravel()) == {0.0, 1.0, 2.0}
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert labels[0] == "feasible"
    assert "marginal" in labels[1]
    ax.figure.savefig(tmp_path / "map.png", dpi=50)


def test_picture_uses_axes_given_and_refuses_a_single_row(found):
    figure = pytest.importorskip("matplotlib.figure").Figure()
    from lpgrelease import plots

    ax = figure.add_subplot()
    assert plots.plot_freeze_seal_map(found, ax=ax) is ax
    single = freeze_seal_map(PROPANE, diameter=[0.01], gauge_pressure=[1e3, 2e3])
    with pytest.raises(InputError, match="two or more sizes and pressures"):
        plots.plot_freeze_seal_map(single)


def test_a_map_becomes_a_table(found):
    pytest.importorskip("pandas")
    table = found.to_dataframe()
    assert len(table) == 8 * 13
    assert {"diameter [m]", "gauge_pressure [Pa]", "feasible [-]"} <= set(table.columns)
