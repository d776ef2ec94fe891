"""Answers of a study as one xarray Dataset, read from memory or, only when used, from a store."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import StudyError
from lpgrelease.studies.outputs import Column, Origin
from lpgrelease.studies.running import Answered

__all__ = ["Memory", "Parts", "dataset"]


class Parts(Protocol):
    """Chunks that are done, in memory or in a store."""

    lazy: bool

    def done(self) -> list[int]:
        """Return the first scenarios of the chunks."""

    def rows(self, kind: str, start: int) -> int:
        """Count the rows of a chunk, of kind "part" or "failed"."""

    def read(self, kind: str, start: int, name: str) -> NDArray[Any]:
        """Read one column of a chunk."""

    def outputs(self, start: int) -> tuple[dict[str, Column], Origin]:
        """Return the outputs of a chunk, and where they come from."""


class Memory:
    """Chunks kept in memory; the same calls as a store."""

    lazy = False

    def __init__(self) -> None:
        self._chunks: dict[int, Answered] = {}

    def write(self, answered: Answered) -> None:
        """Keep one chunk."""
        self._chunks[answered.start] = answered

    def done(self) -> list[int]:
        """Return the first scenarios of the chunks, rising."""
        return sorted(self._chunks)

    def rows(self, kind: str, start: int) -> int:
        """Count the rows of a chunk that succeeded, or failed."""
        chunk = self._chunks[start]
        return chunk.scenarios.size if kind == "part" else chunk.failed.size

    def read(self, kind: str, start: int, name: str) -> NDArray[Any]:
        """Give one column of a chunk, named as in a store."""
        chunk = self._chunks[start]
        good = kind == "part"
        if name == "scenario":
            return chunk.scenarios if good else chunk.failed
        if name == "output.error":
            return np.array(chunk.errors, dtype=object)
        key = name.split(".", 1)[1]
        if name.startswith("input."):
            return (chunk.inputs if good else chunk.failed_inputs)[key]
        return chunk.columns[key].values

    def outputs(self, start: int) -> tuple[dict[str, Column], Origin]:
        """Return the outputs of a chunk, and where they come from."""
        chunk = self._chunks[start]
        return chunk.columns, chunk.origin


def dataset(parts: Parts, record: dict[str, Any]) -> Any:
    """Everything that is done as an xarray Dataset; see `lpgrelease.study` for what is in it.

    Raises
    ------
    StudyError
        No scenario succeeded.
    """
    import xarray as xr

    good, bad = _chunks(parts, "part"), _chunks(parts, "failed")
    if not good:
        first = parts.read("failed", bad[0][0], "output.error")[0] if bad else "nothing was run"
        raise StudyError(f"no scenario of the study succeeded; the first error was {first}")
    columns, origin = parts.outputs(good[0][0])
    for start, _ in good[1:]:
        others, more = parts.outputs(start)
        _require_alike(columns, others, start)
        origin += more
    coordinates = _coordinates(parts, good, record["parameters"], whole=not bad)
    failures = _failures(parts, bad, record["parameters"])
    variables: dict[str, Any] = {}
    for name, column in columns.items():
        shown = name
        while shown in coordinates or shown in failures or shown in variables:
            shown += "_out"
        about = {"description": column.description} if column.description else {}
        values = _values(parts, good, f"output.{name}")
        variables[shown] = (("scenario", *column.dims), values, about | _units(column.unit))
    of_study = {"record": json.dumps(record), "failed": sum(rows for _, rows in bad)}
    return xr.Dataset(variables | failures, coordinates, attrs=_texts(origin) | _summary(record) | of_study)


def _coordinates(
    parts: Parts, good: Sequence[tuple[int, int]], parameters: dict[str, Any], *, whole: bool
) -> dict[str, Any]:
    """Numbers of the scenarios, which take no memory where none is missing, and the inputs."""
    import pandas as pd

    whole = whole and _is_whole(good)
    index: Any = (
        pd.RangeIndex(sum(rows for _, rows in good)) if whole else _joined(parts, "part", good, "scenario")
    )
    found: dict[str, Any] = {"scenario": ("scenario", index, {"description": "number of the scenario"})}
    for name, about in parameters.items():
        if "constant" in about:
            found[name] = ((), about["constant"], {"role": "constant", **_units(about["unit"])})
        else:
            found[name] = ("scenario", _values(parts, good, f"input.{name}"), _of_input(about))
    return found


def _of_input(about: dict[str, Any]) -> dict[str, str]:
    return {
        "description": f"uncertain input: {about['kind']}",
        "role": "parameter",
        **_units(about["unit"]),
    }


def _chunks(parts: Parts, kind: str) -> list[tuple[int, int]]:
    found = [(start, parts.rows(kind, start)) for start in parts.done()]
    return [(start, rows) for start, rows in found if rows]


def _is_whole(good: Sequence[tuple[int, int]]) -> bool:
    ends = np.cumsum([rows for _, rows in good])
    return [start for start, _ in good] == [0, *ends[:-1].tolist()]


def _require_alike(first: dict[str, Column], others: dict[str, Column], start: int) -> None:
    one, two = ({name: c.values.shape[1:] for name, c in columns.items()} for columns in (first, others))
    if one != two:
        raise StudyError(
            f"outputs of the chunk from scenario {start} differ from the first: {two}, not {one}"
        )


def _failures(parts: Parts, bad: Sequence[tuple[int, int]], parameters: dict[str, Any]) -> dict[str, Any]:
    number = {"description": "number of a scenario that failed"}
    found = {
        "failed_scenario": ("failed", _joined(parts, "failed", bad, "scenario"), number),
        "failed_error": (
            "failed",
            _joined(parts, "failed", bad, "output.error"),
            {"description": "what the model raised"},
        ),
    }
    for name, about in parameters.items():
        if "constant" not in about:
            values = _joined(parts, "failed", bad, f"input.{name}")
            found[f"failed_{name}"] = ("failed", values, _of_input(about))
    return found


def _joined(parts: Parts, kind: str, chunks: Sequence[tuple[int, int]], name: str) -> NDArray[Any]:
    if not chunks:
        return np.empty(
            0, dtype=np.int64 if name == "scenario" else object if "error" in name else np.float64
        )
    values = np.concatenate([parts.read(kind, start, name) for start, _ in chunks])
    return values.astype(object) if values.dtype.kind == "U" else values


def _values(parts: Parts, chunks: Sequence[tuple[int, int]], name: str) -> Any:
    if not parts.lazy:
        return _joined(parts, "part", chunks, name)
    from xarray.core import indexing

    from lpgrelease.studies.lazy import StoredArray

    return indexing.LazilyIndexedArray(StoredArray(parts, chunks, name))


def _units(unit: str | None) -> dict[str, str]:
    return {} if unit is None else {"units": unit or "1"}


def _texts(origin: Origin) -> dict[str, str]:
    texts = dict(origin.texts)
    joints = {"sources": ", ", "cautions": "\n"}
    kinds = ("model", "sources", "properties", "outside_validity", "cautions")
    return {kind: joints.get(kind, "; ").join(texts.get(kind, ())) for kind in kinds}


def _summary(record: dict[str, Any]) -> dict[str, Any]:
    seed = ", ".join(map(str, record["seed"]))
    versions = ", ".join(f"{name} {version}" for name, version in record["versions"].items())
    return {"scenarios": record["n"], "sampler": record["sampler"], "seed": seed, "versions": versions}
