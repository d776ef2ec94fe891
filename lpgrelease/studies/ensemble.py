"""`study`: one model over many scenarios drawn from what is uncertain."""

from __future__ import annotations

import inspect
import warnings
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

import lpgrelease
from lpgrelease.errors import FailedScenarioWarning, InputError, OutOfRangeError
from lpgrelease.quantities import require_whole, require_word, to_si
from lpgrelease.studies.dataset import Memory, dataset
from lpgrelease.studies.describe import describe, files_of_the_library
from lpgrelease.studies.distributions import Distribution, si_unit
from lpgrelease.studies.running import Plan, run_all
from lpgrelease.studies.sampling import SAMPLERS, SOBOL_BITS, Design, entropy_of
from lpgrelease.studies.store import Store

__all__ = ["open_study", "study"]

FORMAT = 1
MOST_SCENARIOS, MOST_CHUNKS = 2**31, 10**6
"""More would take longer than anyone waits, and the list of chunks more memory than there is."""


def study(
    model: Callable[..., Any],
    parameters: Mapping[str, Any],
    *,
    n: int,
    rng: Any = None,
    sampler: str = "latin hypercube",
    keep: Sequence[str] | None = None,
    chunk_size: int = 4096,
    workers: int | Callable[..., Any] | None = None,
    store: Any = None,
    progress: Callable[[int, int], None] | bool | None = None,
) -> Any:
    """Run a model over scenarios drawn from distributions of its uncertain inputs.

    Parameters
    ----------
    model : callable
        Takes the parameters by keyword, the uncertain ones as arrays of one shape (m,), and returns a
        result of this library, a dict of arrays, an array, or an xarray Dataset or DataArray, each with
        the m scenarios as its first axis. What it needs besides: ``functools.partial``.
    parameters : mapping of str to distribution, number or quantity
        `uniform`, `normal`, `lognormal`, `triangular`, `choice`, or a frozen distribution of scipy.stats;
        independent of one another. A number or quantity is the same for all [its SI unit].
    n : int
        Number of scenarios, up to 10^9; with "saltelli" a multiple of two more than the number of
        distributions.
    rng : int, Generator, SeedSequence or None
        Whatever `numpy.random.default_rng` takes. None: other scenarios at each call, except that a study
        goes on as its store began it.
    sampler : {"latin hypercube", "sobol", "random", "saltelli"}
        How points are spread; "saltelli" is the crossed design for Sobol indices.
    keep : sequence of str, optional
        Outputs to keep; None: all.
    chunk_size : int
        Scenarios in one call of the model, so that there are at most a million calls. Their values do not
        depend on it.
    workers : int or callable, optional
        Number of processes, or a callable like the built-in `map`: ``executor.map`` of any executor. None:
        this process.
    store : str or path, optional
        Directory for the answers. If it holds this same study, what is there is not run again; answers
        are read from it when they are used, and need not fit in memory.
    progress : callable or True, optional
        Called as ``progress(done, total)`` with numbers of scenarios; True shows a bar (tqdm).

    Returns
    -------
    xarray.Dataset
        Outputs with units along `scenario`, inputs as coordinates; an output that has the name of an input
        gets ``_out`` added. Attributes say model, sources, cautions, seed and versions. A scenario for which
        the model raised has no row: it is listed along `failed`, with its inputs and the error.

    Raises
    ------
    InputError
        Bad arguments, or a model that returns something else.
    StoreMismatchError
        The store holds a study of other inputs.
    StudyError
        Every scenario failed, or a process that ran some died.

    Warns
    -----
    FailedScenarioWarning
        Some scenarios failed.

    Notes
    -----
    Points are drawn in blocks of 65,536, each from its own child of one seed, whatever the chunks: the same
    seed gives the same bits in one process, in many, and after a restart. A chunk for which the model raises
    is run again in halves down to the scenarios at fault, in at most 1,024 calls, and 64 while none
    succeeds; what has not succeeded by then counts as failed. Running in processes needs a model at the
    top of a module and, in a script, ``if __name__ == "__main__":``.

    References
    ----------
    mckay1979latin (Latin hypercube), saltelli2010variance (crossed design).

    Examples
    --------
    >>> import functools
    >>> import lpgrelease as lr
    >>> flashing = functools.partial(lr.flash, lr.Fluid("propane"))
    >>> many = lr.study(flashing, {"temperature": lr.uniform(273.15, 303.15, unit="K")}, n=1000, rng=7)
    >>> dict(many.sizes)
    {'scenario': 1000, 'failed': 0}
    >>> print(f"{float(many.vapor_fraction.mean()):.3f} of the liquid flashes, on average")
    0.325 of the liquid flashes, on average
    """
    held = Store(store) if store is not None else None
    stored = held.record() if held is not None else None
    entropy = tuple(stored["seed"]) if stored is not None and rng is None else entropy_of(rng)
    n, size = _numbers(n, chunk_size)
    design = _design(parameters, n, sampler, entropy)
    _require_callable(model, parameters)
    kept = _names(keep)
    record = _record(model, design, parameters, kept, size, exact=held is not None)
    if held is not None:
        held.open(record)
    parts = Memory() if held is None else held
    done = set(parts.done())
    chunks = [(start, min(start + size, n)) for start in range(0, n, size) if start not in done]
    report = _Progress(progress, n, n - sum(stop - start for start, stop in chunks))
    try:
        for answered in run_all(Plan(model, design, kept), chunks, workers):
            parts.write(answered)
            report.add(answered.stop - answered.start)
    finally:
        report.close()
    found = dataset(parts, record)
    _warn_of_failures(found)
    return found


def open_study(store: Any) -> Any:
    """Read what a store holds so far, as `study` returns it.

    Parameters
    ----------
    store : str or path
        Directory that `study` was given.

    Returns
    -------
    xarray.Dataset
        The scenarios that are done; ``attrs["scenarios"]`` says how many there are to be.

    Raises
    ------
    InputError
        No study is stored there.
    StudyError
        No scenario has succeeded yet.
    """
    held = Store(store)
    record = held.record()
    if record is None:
        raise InputError(f"store: {held.path} holds no study")
    return dataset(held, record)


def _design(parameters: Any, count: int, sampler: Any, entropy: tuple[int, ...]) -> Design:
    if not isinstance(parameters, Mapping) or not all(isinstance(name, str) for name in parameters):
        raise InputError(f"parameters must map names to distributions, got {parameters!r}")
    taken = {"scenario", "failed", "failed_scenario", "failed_error"} & {*parameters}
    if taken:
        raise InputError(
            f"parameters cannot be called {', '.join(sorted(taken))}; a study has its own of that name"
        )
    require_word(sampler, SAMPLERS, "sampler")
    uncertain = {name: value for name, value in parameters.items() if _is_distribution(value)}
    if not uncertain:
        raise InputError("parameters hold no distribution; give at least one, such as uniform(...)")
    fixed = {
        name: _constant(value, name) for name, value in parameters.items() if not _is_distribution(value)
    }
    if sampler in ("sobol", "saltelli") and count > 2**SOBOL_BITS:
        raise OutOfRangeError("n", count, "", 1, 2**SOBOL_BITS, "the length of the Sobol sequence")
    group = len(uncertain) + 2
    if sampler == "saltelli" and count % group:
        near = group << max(round(np.log2(max(count / group, 1.0))), 0)
        raise InputError(
            f'n: "saltelli" needs a multiple of {group} with {len(uncertain)} distributions, best one times '
            f"a power of two, such as {near}; got {count}"
        )
    return Design(tuple(uncertain), tuple(uncertain.values()), tuple(fixed.items()), sampler, count, entropy)


def _is_distribution(value: Any) -> bool:
    return isinstance(value, Distribution) or callable(getattr(value, "ppf", None))


def _constant(value: Any, name: str) -> float:
    number = to_si(value, si_unit(value), f"parameters[{name!r}]")
    if np.ndim(number):
        raise InputError(f"parameters[{name!r}] must be a distribution or one number, got {value!r}")
    return float(number)


def _numbers(n: Any, chunk_size: Any) -> tuple[int, int]:
    for name, number in (("n", n), ("chunk_size", chunk_size)):
        require_whole(number, 1, MOST_SCENARIOS, name)
    n, size = int(n), int(chunk_size)
    if n > MOST_CHUNKS * size:
        raise InputError(
            f"chunk_size = {size} makes more than {MOST_CHUNKS} chunks of n = {n}: make it larger"
        )
    return n, size


def _names(keep: Any) -> tuple[str, ...] | None:
    if keep is None:
        return None
    if not isinstance(keep, list | tuple) or not all(isinstance(name, str) for name in keep) or not keep:
        raise InputError(f"keep must be a sequence of names of outputs, got {keep!r}")
    return tuple(keep)


def _require_callable(model: Any, parameters: Mapping[str, Any]) -> None:
    if not callable(model):
        raise InputError(f"model must be callable, got {model!r}")
    try:
        inspect.signature(model).bind(**parameters)
    except TypeError as error:
        raise InputError(f"the model does not take these parameters by keyword: {error}") from error
    except ValueError:
        pass  # written in C, without a signature


def _record(
    model: Any,
    design: Design,
    parameters: Mapping[str, Any],
    keep: tuple[str, ...] | None,
    chunk_size: int,
    *,
    exact: bool,
) -> dict[str, Any]:
    """All that decides the answers, as JSON; the model only where it must be compared."""
    import scipy

    constants = dict(design.constants)
    return {
        "format": FORMAT,
        "model": describe(model, "model") if exact else _name(model),
        "parameters": {
            name: {"constant": constants[name], "unit": si_unit(value)}
            if name in constants
            else _of_distribution(value, name, exact=exact)
            for name, value in parameters.items()
        },
        "order": list(design.names),
        "n": design.count,
        "sampler": design.sampler,
        "seed": list(design.entropy),
        "chunk_size": chunk_size,
        "keep": None if keep is None else list(keep),
        "versions": {
            "lpgrelease": lpgrelease.__version__,
            "numpy": np.__version__,
            "scipy": scipy.__version__,
            **({"files of lpgrelease": files_of_the_library()} if exact else {}),
        },
    }


def _name(model: Any) -> str:
    inner = getattr(model, "func", model)
    return f"{inner.__module__}.{getattr(inner, '__qualname__', type(inner).__qualname__)}"


def _of_distribution(value: Any, name: str, *, exact: bool) -> dict[str, Any]:
    if isinstance(value, Distribution):
        return {"kind": value.kind, "unit": value.unit or None, **describe(dict(value.numbers), name)}
    about: dict[str, Any] = {"kind": f"{type(value).__module__}.{type(value).__qualname__}", "unit": None}
    dist = getattr(value, "dist", None)
    if dist is not None and type(dist).__module__.startswith("scipy.stats."):
        about["kind"] = f"scipy.stats {dist.name}"
        return {**about, **describe({"args": value.args, "kwds": value.kwds}, name)}
    return {**about, "object": describe(value, name)} if exact else about


def _warn_of_failures(found: Any) -> None:
    failed = found.sizes["failed"]
    if failed:
        number, error = int(found.failed_scenario[0]), str(found.failed_error.values[0])
        warnings.warn(
            f"{failed} of {found.attrs['scenarios']} scenarios failed and are left out of the answers; "
            f"the first, {number}: {error}",
            FailedScenarioWarning,
            stacklevel=3,
        )


class _Progress:
    """Tells a callable or a bar how many scenarios are done."""

    def __init__(self, progress: Any, total: int, done: int) -> None:
        self._call, self._bar, self._done, self._total = None, None, done, total
        if progress is True:
            from tqdm.auto import tqdm

            self._bar = tqdm(total=total, initial=done, unit="scenario", unit_scale=True)
        elif callable(progress):
            self._call = progress
        elif progress not in (None, False):
            raise InputError(f"progress must be a callable or True, got {progress!r}")

    def add(self, number: int) -> None:
        self._done += number
        if self._bar is not None:
            self._bar.update(number)
        if self._call is not None:
            self._call(self._done, self._total)

    def close(self) -> None:
        if self._bar is not None:
            self._bar.close()
