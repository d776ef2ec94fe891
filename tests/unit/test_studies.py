"""Studies: shapes, errors by message, stores, processes that are killed, other machines."""

from __future__ import annotations

import functools
import json
import os
import random
import shutil
import subprocess
import sys
import time
import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pint
import pytest
import scipy.stats
import xarray as xr
from study_models import INPUTS, deadly, leak, leak_somewhere, line, picky, slow_line

import lpgrelease as lr
from lpgrelease.studies import (
    exceedance,
    mean_convergence,
    open_study,
    quantiles,
    sensitivity,
)

UNITS = pint.UnitRegistry()
X = {"x": lr.uniform(0.0, 1.0)}


# -- what comes back ------------------------------------------------------------------------------------


def test_a_result_becomes_a_dataset_with_units_inputs_and_provenance():
    found = lr.study(leak, INPUTS, n=50, rng=1, chunk_size=20)
    assert dict(found.sizes) == {"scenario": 50, "failed": 0}
    assert found.mass_flow.dims == ("scenario",)
    assert found.mass_flow.attrs["units"] == "kg/s"
    assert found.temperature.attrs["units"] == "K"
    assert found.temperature.attrs["role"] == "parameter"
    assert found.hole.attrs["units"] == "m"
    direct = leak(found.temperature.values, found.hole.values)
    assert np.array_equal(found.mass_flow, direct.mass_flow)
    assert np.array_equal(found.choked, direct.choked)
    assert found.attrs["model"] == direct.provenance.model
    assert found.attrs["sources"] == ", ".join(direct.provenance.sources)
    assert found.attrs["sampler"] == "latin hypercube"
    record = json.loads(found.attrs["record"])
    assert record["parameters"]["hole"]["median"] == 0.01
    assert found.attrs["seed"] == ", ".join(map(str, record["seed"]))


@pytest.mark.parametrize(
    ("returned", "name", "shape"),
    [
        (lambda x: x * 2.0, "value", (7,)),
        (lambda x: {"both": np.stack([x, x], axis=1)}, "both", (7, 2)),
        (lambda x: {"same": 3.0}, "same", (7,)),
        (lambda x: {"same": np.array([3])}, "same", (7,)),
        (lambda x: xr.Dataset({"a": ("case", x, {"units": "m"})}), "a", (7,)),
        (lambda x: xr.DataArray(np.stack([x, x], axis=1), dims=("case", "time"), name="b"), "b", (7, 2)),
        (lambda x: {"length": UNITS.Quantity(x, "mm")}, "length", (7,)),
    ],
    ids=["array", "two axes", "scalar", "one row", "dataset", "data array", "quantity"],
)
def test_what_a_model_may_return(returned, name, shape):
    found = lr.study(returned, X, n=7, rng=1, chunk_size=3)
    assert found[name].shape == shape
    assert found[name].dims[0] == "scenario"


def test_units_of_quantities_and_of_data_sets_are_kept():
    found = lr.study(lambda x: {"length": UNITS.Quantity(x, "mm")}, X, n=5, rng=1)
    assert found.length.attrs["units"] == "m"
    assert np.allclose(found.length, found.x / 1000.0, rtol=1e-15)
    found = lr.study(lambda x: xr.Dataset({"a": ("case", x, {"units": "m"})}), X, n=5, rng=1)
    assert found.a.attrs["units"] == "m"


def test_cautions_and_texts_by_scenario_come_along():
    def vent(hole):
        tank = lr.HorizontalTank(diameter=1.04, length=4.5, heat_transfer=170.0)
        contents = lr.Contents(tank, lr.Fluid("propane"), fill=0.5, temperature=293.15)
        return lr.tank_history(contents, openings=[lr.Opening(diameter=hole, height=1.04)], points=5)

    found = lr.study(vent, {"hole": lr.uniform(0.03, 0.05)}, n=4, rng=1, chunk_size=2)
    assert found.pressure.dims == ("scenario", "time")
    assert found.mass_flow.dims == ("scenario", "opening", "time")
    assert set(found.stopped_by.values) == {"gauge pressure"}
    assert "final" not in found

    def advised(x):
        seal = lr.assess_freeze_seal(
            lr.Fluid("propane"), lr.Opening(diameter=0.01 + 0.01 * x), gauge_pressure=689.0, phase="liquid"
        )
        assert seal.cautions
        return seal

    assert lr.study(advised, X, n=3, rng=1).attrs["cautions"]


def test_an_output_named_like_an_input_gets_a_name_of_its_own():
    flash = functools.partial(lr.flash, lr.Fluid("propane"))
    found = lr.study(flash, {"temperature": lr.uniform(273.15, 303.15)}, n=5, rng=1)
    assert (found.temperature_out < 240.0).all()
    assert (found.temperature > 273.0).all()


def test_numbers_and_quantities_are_the_same_for_all():
    found = lr.study(line, {**X, "slope": UNITS.Quantity(2.0, "mm")}, n=5, rng=1)
    assert found.slope.item() == 0.002
    assert found.slope.attrs["units"] == "m"
    assert np.array_equal(found.y, 0.002 * found.x)


def test_keep_leaves_the_rest_out():
    found = lr.study(leak, INPUTS, n=5, rng=1, keep=["mass_flow"])
    assert "mass_flow" in found
    assert "choked" not in found


def test_inputs_cannot_be_changed_by_the_model():
    def careless(x):
        x *= 2.0
        return x

    with pytest.raises(lr.StudyError, match="read-only"):
        lr.study(careless, X, n=5, rng=1)


def test_progress_is_told_in_scenarios():
    told = []
    lr.study(line, X, n=25, rng=1, chunk_size=10, progress=lambda *counts: told.append(counts))
    assert told == [(10, 25), (20, 25), (25, 25)]


def test_a_bar_is_shown(capsys):
    lr.study(line, X, n=25, rng=1, chunk_size=10, progress=True)
    assert "25.0/25.0" in capsys.readouterr().err


# -- randomness -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("sampler", ["latin hypercube", "sobol", "random"])
def test_the_same_seed_gives_the_same_bits_and_another_gives_others(sampler):
    one, two, three = (lr.study(line, X, n=40, rng=seed, sampler=sampler) for seed in (3, 3, 4))
    assert one.identical(two)
    assert not np.array_equal(one.x, three.x)


def test_rng_takes_what_numpy_takes():
    def drawn(rng):
        return lr.study(line, X, n=10, rng=rng).x.values

    assert np.array_equal(drawn(3), drawn(np.random.default_rng(3)))
    assert np.array_equal(drawn(3), drawn(np.random.SeedSequence(3)))
    assert not np.array_equal(drawn(None), drawn(None))
    generator = np.random.default_rng(3)
    assert not np.array_equal(drawn(generator), drawn(generator))


def test_numpys_global_generator_is_left_alone():
    before = np.random.get_state()[1].copy()  # noqa: NPY002
    found = lr.study(leak, INPUTS, n=60, rng=1)
    sensitivity(found.mass_flow, "delta", resamples=2)
    assert np.array_equal(before, np.random.get_state()[1])  # noqa: NPY002


def test_distributions_of_scipy_are_taken():
    found = lr.study(line, {"x": scipy.stats.gamma(2.0, scale=3.0)}, n=1000, rng=1)
    assert found.x.mean() == pytest.approx(6.0, rel=0.01)  # 1,000 strata know the mean far better than that
    assert json.loads(found.attrs["record"])["parameters"]["x"]["kind"] == "scipy.stats gamma"


def test_distributions_of_scipys_own_making_are_told_apart(tmp_path):
    def measured(counts):
        return {"x": scipy.stats.rv_histogram((np.array(counts), np.array([0.0, 1.0, 2.0])), density=False)}

    _record_of(tmp_path, parameters=measured([3, 1]))
    _record_of(tmp_path, parameters=measured([3, 1]))
    with pytest.raises(lr.StoreMismatchError, match=r"parameters.x.object"):
        _record_of(tmp_path, parameters=measured([1, 3]))


def test_a_sobol_sequence_ends():
    with pytest.raises(lr.OutOfRangeError, match=r"n = 1\.0737418e\+09 .* the length of the Sobol sequence"):
        lr.study(line, X, n=2**30 + 1, rng=1, sampler="sobol")


def test_choice_gives_names_and_numbers():
    def which(soil):
        return {"sandy": np.array([name.endswith("sand") for name in soil])}

    soils = lr.choice(["clay", "moist sand", "dry sand"], probabilities=[0.5, 0.3, 0.2])
    found = lr.study(which, {"soil": soils}, n=1000, rng=1)
    assert found.sandy.mean().item() == 0.5  # strata of a Latin hypercube
    assert set(found.soil.values) == {"clay", "moist sand", "dry sand"}


# -- bad arguments ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"model": 3}, "model must be callable"),
        ({"model": lambda y: y}, "does not take these parameters by keyword: missing .* 'y'"),
        ({"parameters": {"x": 1.0}}, "parameters hold no distribution"),
        ({"parameters": [1.0]}, "parameters must map names"),
        ({"parameters": {**X, "slope": [1.0, 2.0]}}, r"parameters\['slope'\] must be a distribution or one"),
        ({"parameters": {**X, "slope": "steep"}}, r"parameters\['slope'\] must be a number"),
        ({"parameters": {"scenario": lr.uniform(0, 1)}}, "parameters cannot be called scenario"),
        ({"n": 0}, "n must be a whole number of at least 1"),
        ({"n": 2.5}, "n must be a whole number"),
        ({"n": 2**70}, "n must be a whole number of at least 1 and at most 2147483648"),
        ({"n": 10**8, "chunk_size": 99}, "chunk_size = 99 makes more than 1000000 chunks of n = 100000000"),
        ({"n": 10, "sampler": "saltelli"}, "needs a multiple of 3 with 1 distributions"),
        ({"sampler": "lattice"}, "sampler must be one of latin hypercube, sobol, random, saltelli"),
        ({"rng": "seven"}, "rng must be what numpy.random.default_rng takes"),
        ({"chunk_size": True}, "chunk_size must be a whole number"),
        ({"workers": 0}, "workers must be None, a number"),
        ({"workers": "many"}, "workers must be None, a number"),
        ({"workers": lambda function, tasks: []}, "workers gave 0 answers for 1 chunks"),
        ({"workers": 2, "model": lambda x: x}, "the model cannot be sent to other processes"),
        ({"keep": "y"}, "keep must be a sequence of names"),
        ({"keep": ["z"]}, "keep: the model returns no z, only y"),
        ({"progress": 3}, "progress must be a callable"),
        ({"model": lambda x: {}}, "nothing to keep"),
        ({"model": lambda x: {"y": x[:2]}}, r"returned y of shape \(2,\) for 5 scenarios"),
        ({"model": lambda x: {"y": None}}, "returned NoneType as y"),
        ({"model": lambda x: {"y": [object()] * 5}}, "numbers or text are wanted"),
        ({"store": Path(__file__)}, "is no store of a study"),
    ],
)
def test_bad_arguments_are_named(changes, message):
    arguments = {"model": line, "parameters": X, "n": 5, "rng": 1, **changes}
    with pytest.raises(lr.InputError, match=message):
        lr.study(arguments.pop("model"), arguments.pop("parameters"), **arguments)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: lr.uniform(2.0, 1.0), "lower must be below upper"),
        (
            lambda: lr.uniform(UNITS.Quantity(1.0, "m"), UNITS.Quantity(2.0, "s")),
            "upper must have the dimension",
        ),
        (lambda: lr.uniform([1.0, 2.0], 3.0), "lower must be one number, got 2"),
        (lambda: lr.uniform(0.0, 1.0, unit="mm"), "those are SI: got 'mm'"),
        (lambda: lr.uniform(0.0, 1.0, unit="degC"), "those are SI: got 'degC'"),
        (lambda: lr.uniform(0.0, 1.0, unit="smoot_of_mine"), "is not known to pint"),
        (lambda: lr.normal(1.0, 0.0), "standard_deviation = 0 is outside"),
        (lambda: lr.normal(1.0, 1.0, lower=3.0, upper=2.0), "lower must be below upper"),
        (lambda: lr.normal(0.0, 1.0, lower=60.0), "nothing of the normal lies between the ends"),
        (
            lambda: lr.normal(UNITS.Quantity(290.0, "K"), UNITS.Quantity(2.0, "degF")),
            "write delta_degF",
        ),
        (lambda: lr.lognormal(-1.0, 2.0), "median = -1 is outside"),
        (lambda: lr.lognormal(1.0, 1.0), "geometric_deviation = 1 is outside"),
        (lambda: lr.lognormal(1.0, 2.0, upper=-1.0), "nothing of the lognormal"),
        (lambda: lr.triangular(0.0, 3.0, upper=2.0), "lower, mode and upper must rise"),
        (lambda: lr.choice([]), "values must be a row of different values"),
        (lambda: lr.choice([1.0, 1.0]), "values must be a row of different values"),
        (lambda: lr.choice([[1.0, 2.0]]), "values must be a row of different values"),
        (lambda: lr.choice([1.0, "b"]), "values must be"),
        (
            lambda: lr.choice([1.0, 2.0], probabilities=[0.5, 0.6]),
            "probabilities must be 2 numbers whose sum",
        ),
        (lambda: lr.choice([1.0, 2.0], probabilities=[1.0]), "probabilities must be 2 numbers"),
        (lambda: lr.choice([1.0, 2.0], probabilities=[-0.5, 1.5]), "outside the allowed range"),
    ],
)
def test_bad_distributions_are_named(make, message):
    with pytest.raises((lr.InputError, lr.OutOfRangeError), match=message):
        make()


def test_quantities_are_taken_at_the_boundary():
    warm = lr.normal(UNITS.Quantity(68.0, "degF"), UNITS.Quantity(9.0, "delta_degF"), unit="")
    numbers = dict(warm.numbers)
    assert warm.unit == "K"
    assert numbers["mean"] == pytest.approx(293.15, abs=1e-9)
    assert numbers["standard_deviation"] == pytest.approx(5.0, rel=1e-12)
    assert dict(lr.uniform(UNITS.Quantity(1.0, "inch"), 0.5).numbers) == {"lower": 0.0254, "upper": 0.5}
    assert lr.choice(UNITS.Quantity([1.0, 2.0], "inch")).unit == "m"
    assert lr.uniform(UNITS.Quantity(1.0, "psi"), UNITS.Quantity(2.0, "psi")).unit == "Pa"


# -- scenarios that fail ------------------------------------------------------------------------------------


def test_many_scattered_failures_take_no_others_with_them():
    with pytest.warns(lr.FailedScenarioWarning, match="41 of 4096"):
        found = lr.study(picky, X, n=4096, rng=1)  # strata of a Latin hypercube: 40.96 lie above 0.99
    assert (found.failed_x > 0.99).all()


@pytest.mark.parametrize("stored", [False, True])
def test_failed_scenarios_are_listed_and_the_rest_goes_on(tmp_path, stored):
    where = tmp_path / "store" if stored else None
    with pytest.warns(
        lr.FailedScenarioWarning, match="2 of 200 scenarios failed .* OutOfRangeError: x = 0.99"
    ):
        found = lr.study(picky, X, n=200, rng=1, chunk_size=50, store=where)
    assert dict(found.sizes) == {"scenario": 198, "failed": 2}
    bad = found.failed_scenario.values
    assert not set(bad) & set(found.scenario.values)
    assert set(bad) | set(found.scenario.values) == set(range(200))
    assert (found.failed_x > 0.99).all()
    assert all(text.startswith("OutOfRangeError: x = 0.99") for text in found.failed_error.values)
    assert found.y.dtype == np.float64
    assert found.flag.dtype == np.bool_
    assert np.array_equal(found.y, 2.0 * found.x)
    whole = lr.study(line, X, n=200, rng=1)
    assert np.array_equal(found.x, whole.x.sel(scenario=found.scenario))
    if stored:
        files = sorted(p.name for p in where.glob("failed-*"))
        assert files == [
            f"failed-{bad_chunk:012d}.parquet" for bad_chunk in sorted({b // 50 * 50 for b in bad})
        ]
        with pytest.warns(lr.FailedScenarioWarning):
            assert lr.study(picky, X, n=200, chunk_size=50, store=where).equals(found)


def test_where_all_fail_the_first_error_is_told(tmp_path):
    calls = []

    def broken(x):
        calls.append(x.size)
        raise RuntimeError("no luck")

    with pytest.raises(lr.StudyError, match=r"no scenario .* first error was RuntimeError: no luck"):
        lr.study(broken, X, n=1000, rng=1)
    assert len(calls) <= 64
    for _ in range(2):
        with pytest.raises(lr.StudyError, match="first error was RuntimeError: no luck"):
            lr.study(_no_luck, X, n=1000, rng=1, store=tmp_path / "store")


def _no_luck(x):
    raise RuntimeError("no luck")


def test_lack_of_memory_is_no_fault_of_a_scenario():
    def hungry(x):
        raise MemoryError

    with pytest.raises(MemoryError):
        lr.study(hungry, X, n=10, rng=1)


def test_outputs_that_do_not_fit_together_are_refused():
    def growing(x):
        return {"y": np.zeros((x.size, x.size))}

    with pytest.raises(lr.StudyError, match="outputs of the chunk from scenario 4 differ"):
        lr.study(growing, X, n=6, rng=1, chunk_size=4)


# -- processes, threads, machines --------------------------------------------------------------------------


def test_processes_threads_and_this_process_give_the_same_bits():
    here = lr.study(leak, INPUTS, n=300, rng=7, chunk_size=20)
    two = lr.study(leak_somewhere, INPUTS, n=300, rng=7, chunk_size=20, workers=2)
    assert os.getpid() not in set(two.process.values)
    assert here.equals(two.drop_vars("process"))
    assert here.identical(lr.study(leak, INPUTS, n=300, rng=7, chunk_size=20, workers=map))
    with ThreadPoolExecutor(3) as pool:
        assert here.identical(lr.study(leak, INPUTS, n=300, rng=7, chunk_size=20, workers=pool.map))
    assert here.equals(lr.study(leak, INPUTS, n=300, rng=7, chunk_size=77))


def test_a_process_that_dies_is_told():
    with pytest.raises(lr.StudyError, match="a process that ran the model died"):
        lr.study(deadly, X, n=5, rng=1, workers=1)


def test_a_cluster_gives_the_same_bits():
    from dask.distributed import Client, LocalCluster

    here = lr.study(leak, INPUTS, n=300, rng=7, chunk_size=20)
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        mapping = client.get_executor().map
        there = lr.study(leak_somewhere, INPUTS, n=300, rng=7, chunk_size=20, workers=mapping)
    assert os.getpid() not in set(there.process.values)
    assert here.equals(there.drop_vars("process"))


# -- stores ------------------------------------------------------------------------------------------------


def _parts(store):
    return len(list(store.glob("part-*.parquet")))


def test_a_killed_study_goes_on_to_the_same_bits(tmp_path):
    store = tmp_path / "store"
    script = Path(sys.modules[slow_line.__module__].__file__)
    # a store also compares the library's files: these runs have a copy that nobody edits meanwhile
    shutil.copytree(Path(lr.__file__).parent, tmp_path / "lpgrelease")
    environment = {**os.environ, "PYTHONPATH": str(tmp_path)}
    moments = random.Random(2)
    stops = sorted(moments.sample(range(1, 36), 2))
    for stop in stops:
        child = subprocess.Popen([sys.executable, str(script), str(store)], env=environment)
        deadline = time.monotonic() + 60.0
        while _parts(store) < stop and child.poll() is None and time.monotonic() < deadline:
            time.sleep(0.001)
        time.sleep(moments.uniform(0.0, 0.02))
        child.kill()
        child.wait()
        assert child.returncode == -9, "it was to be killed while it ran"
        assert stop <= _parts(store) < 40
        assert open_study(store).sizes["scenario"] == 10 * _parts(store)
    subprocess.run([sys.executable, str(script), str(store)], check=True, env=environment)
    assert _parts(store) == 40
    found = open_study(store)
    whole = lr.study(slow_line, X, n=400, rng=5, chunk_size=10)
    assert found.equals(whole)
    assert [v.dims for v in found.variables.values()] == [v.dims for v in whole.variables.values()]


def test_what_is_stored_is_not_run_again(tmp_path):
    store = tmp_path / "store"
    plain = functools.partial(line, slope=2.0)
    found = lr.study(plain, X, n=30, rng=1, chunk_size=10, store=store)
    (store / "part-000000000010.parquet").unlink()
    told = []
    again = lr.study(plain, X, n=30, rng=1, chunk_size=10, store=store, progress=lambda *c: told.append(c))
    assert told == [(30, 30)]
    assert again.identical(found)
    assert np.array_equal(again.x, lr.study(line, X, n=30, rng=1).x)


def test_without_a_seed_a_study_goes_on_as_its_store_began(tmp_path):
    one = lr.study(line, X, n=30, store=tmp_path / "store").load()
    assert lr.study(line, X, n=30, store=tmp_path / "store").identical(one)


def _record_of(tmp_path, model=line, **changes):
    arguments = {"parameters": X, "n": 20, "rng": 1, "chunk_size": 10, **changes}
    return lr.study(model, arguments.pop("parameters"), store=tmp_path / "store", **arguments)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"rng": 2}, "seed: "),
        ({"n": 40}, "n: 20 stored, 40 asked"),
        ({"chunk_size": 20}, "chunk_size: 10 stored, 20 asked"),
        ({"sampler": "sobol"}, "sampler: latin hypercube stored, sobol asked"),
        ({"parameters": {"x": lr.uniform(0.0, 2.0)}}, r"parameters.x.upper: 1.0 stored, 2.0 asked"),
        ({"parameters": {**X, "slope": 2.0}}, r"parameters.slope: nothing stored"),
        ({"keep": ["y"]}, "keep: nothing stored"),
        ({"model": slow_line}, "model.function: study_models.line stored, study_models.slow_line asked"),
        ({"model": functools.partial(line, slope=2.0)}, "model.partial: nothing stored"),
    ],
)
def test_a_store_of_other_inputs_is_refused_and_says_which(tmp_path, changes, named):
    _record_of(tmp_path)
    before = sorted((p.name, p.read_bytes()) for p in (tmp_path / "store").iterdir())
    with pytest.raises(lr.StoreMismatchError, match=named) as caught:
        _record_of(tmp_path, **changes)
    assert caught.value.differences
    assert before == sorted((p.name, p.read_bytes()) for p in (tmp_path / "store").iterdir())


def test_what_a_model_closes_over_and_is_given_is_compared(tmp_path):
    def closing(slope):
        return lambda x: {"y": slope * x}

    _record_of(tmp_path, model=closing(np.array([1.0])))
    _record_of(tmp_path, model=closing(np.array([1.0])))
    with pytest.raises(lr.StoreMismatchError, match=r"model.closure.slope.sha256"):
        _record_of(tmp_path, model=closing(np.array([1.5])))


def test_objects_of_the_library_are_compared_by_what_they_hold(tmp_path):
    def modelled(name, wind):
        return functools.partial(_windy, lr.Fluid(name), weather=lr.Weather(wind_speed=wind))

    _record_of(tmp_path, model=modelled("propane", 2.0))
    _record_of(tmp_path, model=modelled("propane", 2.0))
    with pytest.raises(lr.StoreMismatchError, match=r"propane stored, ammonia asked"):
        _record_of(tmp_path, model=modelled("ammonia", 2.0))
    with pytest.raises(lr.StoreMismatchError, match=r"2.0 stored, 2.5 asked"):
        _record_of(tmp_path, model=modelled("propane", 2.5))


def _windy(fluid, x, weather):
    return x * float(weather.wind_speed)


def test_what_cannot_be_recorded_cannot_be_stored(tmp_path):
    with (tmp_path / "file").open("w") as file, pytest.raises(lr.InputError, match="cannot be recorded"):
        _record_of(tmp_path, model=functools.partial(_windy, file, weather=lr.Weather()))
    loop = []
    loop.append(loop)
    with pytest.raises(lr.InputError, match="does it hold itself"):
        _record_of(tmp_path, model=functools.partial(_windy, loop, weather=lr.Weather()))


def test_other_versions_are_named(tmp_path):
    _record_of(tmp_path)
    file = tmp_path / "store" / "study.json"
    file.write_text(file.read_text().replace(f'"numpy": "{np.__version__}"', '"numpy": "1.0"'))
    with pytest.raises(lr.StoreMismatchError, match=r"versions.numpy: 1\.0 stored"):
        _record_of(tmp_path)


def test_a_record_that_cannot_be_read_is_named(tmp_path):
    _record_of(tmp_path)
    (tmp_path / "store" / "study.json").write_text("{")
    with pytest.raises(lr.InputError, match=r"study.json cannot be read"):
        open_study(tmp_path / "store")
    (tmp_path / "store" / "study.json").unlink()
    with pytest.raises(lr.InputError, match="is no store of a study"):
        _record_of(tmp_path)
    with pytest.raises(lr.InputError, match="holds no study"):
        open_study(tmp_path / "nothing")


def test_stored_and_kept_answers_are_equal_however_they_are_selected(tmp_path):
    kept = lr.study(slow_line, X, n=25, rng=1, chunk_size=10)
    stored = lr.study(slow_line, X, n=25, rng=1, chunk_size=10, store=tmp_path / "store")
    for rows in (
        3,
        -1,
        slice(None),
        slice(8, 22),
        slice(22, 4, -3),
        slice(9, None, -1),
        slice(5, 5),
        [24, 0, 10],
    ):
        assert np.array_equal(stored.history[rows], kept.history[rows])
        assert np.array_equal(stored.history[rows, 1], kept.history[rows, 1])
        assert np.array_equal(stored.y[rows], kept.y[rows])
    assert stored.equals(kept)
    assert {v.dtype for v in stored.variables.values()} == {v.dtype for v in kept.variables.values()}


def test_memory_does_not_grow_with_a_stored_study(tmp_path):
    def peak(n):
        tracemalloc.start()
        lr.study(line, X, n=n, rng=1, sampler="random", store=tmp_path / str(n))
        highest = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return highest

    peak(4096)  # what is loaded once
    small, large = peak(1 << 17), peak(1 << 19)
    assert large < small + 1e6  # four times as many scenarios; kept in memory they would be 6 MB more


# -- what reads results --------------------------------------------------------------------------------------


def _output(values, **coordinates):
    return xr.DataArray(values, coordinates, ("scenario",), name="y", attrs={"units": "m"})


def test_quantiles_are_values_that_occurred_and_may_be_infinite():
    values = _output([1.0, np.inf, 3.0, 2.0])
    found = quantiles(values, [0.25, 0.26, 0.5, 0.75, 0.76, 1.0])
    assert found.values.tolist() == [1.0, 2.0, 2.0, 3.0, np.inf, np.inf]
    assert found.attrs["units"] == "m"
    many = _output(np.arange(1.0, 1001.0))
    assert quantiles(many, [0.07, 0.29, 0.57, 0.58]).values.tolist() == [70.0, 290.0, 570.0, 580.0]


def test_quantiles_keep_other_axes():
    values = xr.DataArray(np.arange(12.0).reshape(3, 4), dims=("time", "scenario"))
    assert quantiles(values, [0.5]).dims == ("quantile", "time")
    assert quantiles(values, [0.5]).values.tolist() == [[1.0, 5.0, 9.0]]


def test_exceedance_takes_quantities_and_states_an_interval():
    found = exceedance(_output(np.arange(1.0, 101.0)), UNITS.Quantity([9000.0, 200000.0], "cm"))
    assert found.threshold.values.tolist() == [90.0, 2000.0]
    assert found.probability.values.tolist() == [0.1, 0.0]
    z = scipy.stats.norm.ppf(0.975)
    ends = ((found.lower[0], 0.1), (found.upper[0], 0.1), (found.upper[1], 0.0))
    for p, p_hat in ((end.item(), share) for end, share in ends):
        # the ends are where the normal test of that share just passes: what defines Wilson's interval
        assert abs(p_hat - p) == pytest.approx(z * np.sqrt(p * (1.0 - p) / 100.0), rel=1e-9)
    assert found.lower[1] == 0.0


def test_the_mean_converges_and_says_how_well():
    values = lr.study(line, X, n=5000, rng=1, sampler="random").y
    found = mean_convergence(values)
    assert found.scenarios.values.tolist()[-2:] == [4096, 5000]
    assert found["mean"][-1] == pytest.approx(values.mean().item(), rel=1e-14)
    expected = np.sqrt(1.0 / 12.0 / found.scenarios)
    assert np.allclose(found.standard_error[5:], expected[5:], rtol=0.3)  # of 64 and more draws


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: quantiles(np.arange(3.0)), "must be one output of a study with an axis scenario"),
        (lambda: quantiles(_output([1.0, np.nan])), "1 values of y are NaN"),
        (lambda: quantiles(_output(["a", "b"])), "y must hold numbers"),
        (lambda: quantiles(_output([1.0]), [0.0]), "probabilities = 0 is outside"),
        (lambda: exceedance(_output([1.0]), UNITS.Quantity(1.0, "s")), "thresholds must have the dimension"),
        (lambda: exceedance(xr.DataArray(np.ones((2, 2)), dims=("scenario", "time")), 0.0), "axes .'time'"),
        (lambda: mean_convergence(_output([1.0])), "at least two scenarios"),
        (lambda: mean_convergence(_output([1.0, np.inf])), "1 of 2 values of y are not finite"),
        (lambda: sensitivity(_output([1.0, 2.0]), "anova"), "method must be one of rbd_fast"),
        (lambda: sensitivity(_output([1.0, 2.0]), np.arange(2)), "method must be one of rbd_fast"),
        (lambda: sensitivity(_output([1.0, 2.0])), "y carries no inputs"),
        (lambda: sensitivity(np.arange(3.0)), "one output of a study"),
    ],
)
def test_what_cannot_be_read_is_named(call, message):
    with pytest.raises((lr.InputError, lr.OutOfRangeError), match=message):
        call()


def test_outputs_without_a_spread_or_infinite_have_no_sensitivity():
    def odd(x):
        return {"same": 1.0, "never": np.where(x > 0.5, np.inf, x), "name": np.where(x > 0.5, "a", "b")}

    found = lr.study(odd, X, n=100, rng=1)
    for name, message in (
        ("same", "is the same in all"),
        ("never", "are not finite"),
        ("name", "hold numbers"),
    ):
        with pytest.raises(lr.InputError, match=message):
            sensitivity(found[name])


def test_names_that_were_drawn_have_a_share():
    def by_name(soil, x):
        return {"y": np.where(soil == "clay", 5.0, 0.0) + x}

    found = lr.study(by_name, {**X, "soil": lr.choice(["clay", "sand"])}, n=500, rng=1)
    shares = sensitivity(found.y).first_order
    assert shares.sel(parameter="soil") > 0.9  # variances 25 / 4 and 1 / 12: 98.7 %
    assert shares.sel(parameter="x") < 0.1


def test_sobol_indices_want_the_whole_crossed_design():
    found = lr.study(line, {**X, "slope": lr.uniform(1.0, 2.0)}, n=64, rng=1, sampler="saltelli")
    assert dict(sensitivity(found.y, "sobol").sizes) == {"parameter": 2}
    for values in (found.y[4:-1], found.y[1:-3], lr.study(line, X, n=64, rng=1).y):
        with pytest.raises(lr.InputError, match='need all scenarios of a study with sampler="saltelli"'):
            sensitivity(values, "sobol")


def test_names_and_intervals_of_indices():
    flow = lr.study(leak, INPUTS, n=60, rng=1).mass_flow
    one, two = (sensitivity(flow, "delta", rng=1, resamples=2) for _ in range(2))
    assert one.identical(two)
    assert list(one.parameter.values) == ["temperature", "hole"]
    assert {"first_order", "first_order_interval", "delta", "delta_interval"} == set(one.data_vars)
