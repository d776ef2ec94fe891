"""What an answer must be, whatever it was asked: finite and physical, or a typed error."""

from __future__ import annotations

import dataclasses
import re
import warnings
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

import lpgrelease as lr
from hostile.calls import Call
from lpgrelease.results import Result

NEVER_NEGATIVE = {"kg", "K", "Pa", "m**2", "m**3", "kg/m**3", "W/m/K", "Pa*s"}
MAY_BE_NEGATIVE = re.compile(r"gauge|difference|drop|rise|change|margin|residual|above|below|imbalance|error")
MAY_BE_INFINITE = re.compile(r"\binf(inite|inity)?\b")
MAY_BE_MISSING = re.compile(r"\bNaN\b")


def attempt(call: Call, arguments: dict[str, Any]) -> str:
    """Make the call; "refused" or "answered". Raises AssertionError when the answer is no answer.

    A built-in error or a warning from inside is raised as it is.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", lr.ValidityWarning)
        warnings.simplefilter("ignore", lr.FailedScenarioWarning)
        try:
            answer = call.function(**arguments)
            found = list(faults(answer, call.name, call.function.__doc__ or ""))
            repr(answer)
        except lr.LpgReleaseError as error:
            return "refused" if str(error).strip() else "refused without a word"
    assert not found, "; ".join(found[:5])
    return "answered"


def faults(answer: Any, path: str, about: str = "") -> Iterator[str]:
    """What is wrong with `answer`, each with where it stands; `about` may promise infinities."""
    if isinstance(answer, Result):
        yield from _faults_of_result(answer, path)
    elif isinstance(answer, np.ndarray | np.generic | float):
        yield from _faults_of_numbers(np.asarray(answer), path, "", about)
    elif isinstance(answer, Mapping):
        for key, value in answer.items():
            yield from faults(value, f"{path}[{key!r}]", about)
    elif isinstance(answer, list | tuple):
        for index, value in enumerate(answer[:50]):
            yield from faults(value, f"{path}[{index}]", about)


def _faults_of_result(answer: Result, path: str) -> Iterator[str]:
    for field in dataclasses.fields(answer):
        value, here = getattr(answer, field.name), f"{path}.{field.name}"
        if "unit" in field.metadata and value is not None:
            about = f"{field.name.replace('_', ' ')}: {field.metadata['description']}"
            yield from _faults_of_numbers(np.asarray(value), here, field.metadata["unit"], about)
        elif field.name != "provenance":
            yield from faults(value, here, field.metadata.get("description", ""))
    for name in dir(type(answer)):
        if isinstance(getattr(type(answer), name), property) and name != "q" and not name.startswith("_"):
            about = getattr(type(answer), name).__doc__ or ""
            yield from faults(getattr(answer, name), f"{path}.{name}", about)


def _faults_of_numbers(values: np.ndarray[Any, Any], path: str, unit: str, about: str) -> Iterator[str]:
    if values.dtype.kind != "f":
        return
    if np.isnan(values).any() and not MAY_BE_MISSING.search(about):
        yield f"{path} is NaN"
    if np.isinf(values).any() and not MAY_BE_INFINITE.search(about):
        yield f"{path} is infinite"
    if unit in NEVER_NEGATIVE and not MAY_BE_NEGATIVE.search(about) and (values < 0.0).any():
        yield f"{path} = {values.min():.6g} {unit} is negative"
