"""Whatever is passed to a public name, the answer is finite and physical, or a typed error that speaks."""

from __future__ import annotations

import inspect
import os
import re
import warnings

import numpy as np
import pytest
from hostile.calls import PLAIN_SI, UNCHECKED, calls
from hostile.cases import case
from hostile.known import KNOWN
from hostile.verdict import attempt, faults
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from strategies import UNITS

import lpgrelease as lr
from lpgrelease.results import Result, quantity, result

NIGHTLY = 25
"""Times as many cases in a nightly run."""
TIMES = NIGHTLY if os.environ.get("HYPOTHESIS_PROFILE") in {"nightly", "thorough"} else 1
OF_RESULTS = {"to_dataframe", "to_dataset"}
"""Methods of every result, tested with the results."""
TANKS = ("HorizontalTank", "VerticalTank", "SphericalTank")


MAY_BE_NEGATIVE = {
    *("enthalpy", "entropy", "reading", "gauge_pressure", "mass_flow"),
    *("rise", "direction", "height", "crosswind", "axial", "clock", "pitch", "roll"),
    *("lower", "mean", "mode", "upper"),
}
"""Numbers of which one public call or another takes -1; any other quantity less than none is refused."""


OTHERWISE_NAMED = {
    "Forecast.scenario": {"index"},  # "scenario ... is not one of scenarios"
    "Ground.heat_flux": {"contact_temperature"},  # the cases drawn are refused for others
}
"""Arguments whose refusal need not hold their name."""


SI_UNITS = (
    *("", "K", "Pa", "m", "s", "kg", "kg/s", "m/s", "m**2", "m**3", "kg/m**3", "J", "W", "N"),
    *("J/kg", "J/kg/K", "J/K", "W/K", "W/m/K", "W/m**2", "W/m**2/K", "m**2*K/W", "kg/m**2/s", "1/s", "1/K"),
    *("kg/mol", "J/m**3/K"),
)
NOT_ASKED_FOR_UNITS = {
    *("uniform", "normal", "lognormal", "triangular"),  # of any unit
    "freeze_seal_maps",  # takes long, and its numbers are those of the map
}
COUNTS = {"opening", "points", "nodes", "index", "n", "rng", "chunk_size"}
"""Numbers without a unit that must be whole."""


def public_callables() -> set[str]:
    """Public functions, classes and their public methods; those of the tanks once."""
    found = set()
    for name in set(lr.__all__) - {"__version__"}:
        value = getattr(lr, name)
        if inspect.isclass(value) and issubclass(value, Exception):
            continue
        found.add(name)
        if inspect.isclass(value):
            owner = "Tank" if name in TANKS else name
            methods = (
                m for m in inspect.getmembers(value) if inspect.isfunction(m[1]) or inspect.ismethod(m[1])
            )
            found |= {f"{owner}.{m}" for m, _ in methods if not m.startswith("_") and m not in OF_RESULTS}
    return found


def test_every_public_callable_is_called_with_hostile_arguments():
    listed = {name.split(" (")[0] for name in calls()}
    public = public_callables()
    assert not public - listed - set(UNCHECKED), "give these an entry in tests/hostile/calls.py"
    assert not (set(UNCHECKED) & listed) | (set(UNCHECKED) - public)


def test_every_parameter_of_a_listed_call_is_spoiled():
    for call in calls().values():
        if call.name.startswith(("Tank.", "study")):
            continue  # behind a function of keywords; asked separately for its stores and workers
        parameters = inspect.signature(call.function).parameters.values()
        named = {p.name for p in parameters if p.kind is not p.VAR_KEYWORD}
        left_out = (
            named - set(call.arguments) - {"provenance", "progress", "stop", "fire", "transfers", "openings"}
        )
        assert not left_out, f"{call.name} is never given a hostile {left_out}"


def plain_cases(call, number):
    """Give a test `number` cases of a call's plain arguments, of alternatives one; the same in every run."""
    either = {argument for names in call.either for argument in names}
    drawn = st.builds(
        lambda arguments, chosen: arguments | dict.fromkeys(either - set(chosen)),
        st.fixed_dictionaries(dict(call.arguments)),
        st.sampled_from(call.either or ((),)),
    )
    few = settings(
        max_examples=number,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    return lambda test: few(given(drawn)(test))


@pytest.mark.parametrize("name", list(calls()))
def test_hostile_calls(name):
    call = calls()[name]

    @settings(
        max_examples=call.cases * TIMES,
        derandomize=TIMES == 1,
        database=None,
        deadline=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case(call))
    def meets(arguments):
        try:
            assert attempt(call, arguments) in {"answered", "refused"}
        except Exception as error:
            if not re.search(KNOWN.get(name.split(" (")[0], "(?!)"), str(error)):
                raise

    meets()


@pytest.mark.parametrize("name", list(calls()))
def test_what_is_no_number_or_less_than_none_or_of_another_kind_is_refused(name):
    call = calls()[name]

    @plain_cases(call, 5)
    def meets(arguments):
        for argument, value in arguments.items():
            if isinstance(value, int | float) and not isinstance(value, bool):
                said = refusal(call, arguments | {argument: float("nan")})
                # another argument may have been refused before
                named = re.search(rf"(?<![A-Za-z]){argument}(?![A-Za-z])", said)
                assert "finite" not in said or named or said.split()[0] in argument, said
                if "unit" not in arguments:
                    refusal(call, arguments | {argument: UNITS.Quantity(1.0, "cd*mol")})
                if argument not in MAY_BE_NEGATIVE:
                    refusal(call, arguments | {argument: -1.0})

    meets()


@pytest.mark.parametrize("name", list(calls()))
def test_what_is_nothing_of_the_kind_is_refused_by_the_name_of_the_argument(name):
    call, named = calls()[name], {}

    @plain_cases(call, 25)
    def meets(arguments):
        for argument in set(arguments) - {"self"} - OTHERWISE_NAMED.get(name, set()):
            if not named.get(argument, False):
                said = refusal(call, arguments | {argument: object()})
                named[argument] = bool(re.search(rf"(?<![A-Za-z]){argument}d?(?![A-Za-z])", said))

    meets()
    # another of the arguments drawn may be refused before, but not in every case
    assert [argument for argument, is_named in named.items() if not is_named] == []


@pytest.mark.parametrize("name", [name for name in calls() if name not in NOT_ASKED_FOR_UNITS])
def test_every_number_is_taken_in_its_own_unit_and_no_other(name):
    call, served = calls()[name], set()

    @plain_cases(call, 25)
    def meets(arguments):
        numbers = {
            argument: float(value)
            for argument, value in arguments.items()
            if isinstance(value, int | float) and not isinstance(value, bool)
        }
        left = numbers.keys() - served - COUNTS
        if not left or not answers(call, arguments):
            return
        for argument in left:
            asked = [
                (unit, arguments | {argument: UNITS.Quantity(numbers[argument], unit)}) for unit in SI_UNITS
            ]
            answered = [unit for unit, given in asked if answers(call, given)]
            assert len(answered) == 1, f"{argument} is taken in {answered or 'no unit'}"
            served.add(argument)

    meets()


def answers(call, arguments):
    """Whether the call is answered, with or without a warning of its own."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", lr.ValidityWarning)
        try:
            call.function(**arguments)
        except lr.LpgReleaseError:
            return False
    return True


def refusal(call, arguments):
    """What is said to arguments that must be refused."""
    with pytest.raises(lr.LpgReleaseError) as error:
        call.function(**arguments)
    return str(error.value)


@result
class Sample(Result):
    """A result with one field."""

    mass: np.ndarray = quantity("kg", "mass; inf: endless")
    density: np.ndarray = quantity("kg/m**3", "density")


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (Sample(mass=np.array([1.0, -1e-3]), density=np.ones(2)), ["mass = -0.001 kg is negative"]),
        (Sample(mass=np.float64(np.inf), density=np.float64(np.inf)), ["density is infinite"]),
        (Sample(mass=np.float64(np.nan), density=np.float64(1.0)), ["mass is NaN"]),
        ({"a": (1.0, np.nan)}, [r"\['a'\]\[1\] is NaN"]),
        (Sample(mass=np.zeros(0), density=np.zeros(0)), []),
    ],
)
def test_the_verdict_sees_what_is_wrong(answer, said):
    found = list(faults(answer, "answer"))
    assert len(found) == len(said)
    for fault, pattern in zip(found, said, strict=True):
        assert re.search(pattern, fault)


@given(st.data())
@settings(max_examples=20)
def test_cases_are_spoiled_more_often_than_not(data):
    call = calls()["Opening"]
    assert set(data.draw(case(call))) == set(call.arguments)
    assert PLAIN_SI


@pytest.mark.parametrize("size", [0, 1_000_000])
def test_huge_and_empty_arrays(size):
    fluid, hole = lr.Fluid("propane"), lr.Opening(diameter=0.01)
    temperature = np.linspace(240.0, 330.0, size)
    assert lr.liquid_release(fluid, hole, temperature=temperature).mass_flow.shape == (size,)
    assert lr.flash(fluid, temperature=temperature).vapor_fraction.shape == (size,)
    assert lr.pool_fire(fluid, diameter=np.linspace(0.5, 20.0, size)).burning_rate.shape == (size,)
