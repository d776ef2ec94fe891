"""What a model returned for a chunk, as named columns with one row for each scenario."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import InputError
from lpgrelease.results import Result
from lpgrelease.studies.distributions import si_unit

__all__ = ["Column", "Origin", "columns_of", "join_columns", "origin_of"]


@dataclasses.dataclass(frozen=True, slots=True)
class Column:
    """Values of one output, shape (scenarios, ...), and what is known of them."""

    values: NDArray[Any]
    dims: tuple[str, ...] = ()
    unit: str | None = None
    description: str = ""


@dataclasses.dataclass(frozen=True, slots=True)
class Origin:
    """Where outputs come from: texts to be listed once each, by kind."""

    texts: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def __add__(self, other: Origin) -> Origin:
        kinds = dict(self.texts)
        for kind, texts in other.texts:
            kinds[kind] = tuple(dict.fromkeys((*kinds.get(kind, ()), *texts)))
        return Origin(tuple(kinds.items()))


def origin_of(answer: Any) -> Origin:
    """Model, sources, properties, ranges that were left and cautions of an answer that says them."""
    if not isinstance(answer, Result):
        return Origin()
    origin = answer.provenance
    kinds = {
        "model": (origin.model,),
        "sources": origin.sources,
        "properties": (origin.properties,),
        "outside_validity": origin.outside_validity,
        "cautions": tuple(getattr(answer, "cautions", ())),
    }
    return Origin(tuple((kind, tuple(filter(None, texts))) for kind, texts in kinds.items()))


def columns_of(answer: Any, count: int, keep: Sequence[str] | None) -> dict[str, Column]:
    """Columns of an answer for `count` scenarios: of all outputs, or of those named in `keep`.

    Raises
    ------
    InputError
        The answer is nothing that holds numbers, lacks an output of `keep`, or has another number of rows.
    """
    if isinstance(answer, Result):
        found = _of_result(answer)
    elif hasattr(answer, "data_vars"):
        found = {str(name): _of_xarray(array) for name, array in answer.data_vars.items()}
    elif hasattr(answer, "dims") and hasattr(answer, "attrs"):
        found = {str(answer.name or "value"): _of_xarray(answer)}
    elif isinstance(answer, Mapping):
        found = {str(name): _of_array(values, str(name)) for name, values in answer.items()}
    else:
        found = {"value": _of_array(answer, "value")}
    if keep is not None:
        missing = [name for name in keep if name not in found]
        if missing:
            raise InputError(f"keep: the model returns no {', '.join(missing)}, only {', '.join(found)}")
        found = {name: found[name] for name in keep}
    if not found:
        raise InputError(f"the model returned nothing to keep: {type(answer).__name__}")
    return {name: _rows(name, column, count) for name, column in found.items()}


def _of_result(answer: Result) -> dict[str, Column]:
    found = {}
    for field in dataclasses.fields(answer):
        value, about = getattr(answer, field.name), field.metadata
        if value is not None and ("unit" in about or isinstance(value, (np.ndarray, np.str_))):
            unit, dims = about.get("unit"), about.get("dims", ())
            found[field.name] = Column(np.asarray(value), dims, unit, about["description"])
    return found


def _of_xarray(array: Any) -> Column:
    dims = tuple(str(name) for name in array.dims[1:])
    unit, description = array.attrs.get("units"), str(array.attrs.get("description", ""))
    return Column(np.asarray(array.values), dims, None if unit is None else str(unit), description)


def _of_array(values: Any, name: str) -> Column:
    if isinstance(values, Result) or values is None:
        raise InputError(f"the model returned {type(values).__name__} as {name}; give its arrays instead")
    unit = None
    if hasattr(values, "m_as"):
        unit = si_unit(values)
        values = values.m_as(unit or "dimensionless")
    array = np.asarray(values)
    return Column(array, tuple(f"{name}_axis_{i}" for i in range(1, array.ndim)), unit)


def _rows(name: str, column: Column, count: int) -> Column:
    """Give a column one row for each scenario; what is the same for all is repeated."""
    values, inner = column.values, len(column.dims)
    if values.dtype.kind not in "biufU":
        raise InputError(f"the model returned {name} of type {values.dtype}; numbers or text are wanted")
    if values.ndim == inner or (values.ndim == inner + 1 and values.shape[0] == 1):
        values = np.broadcast_to(values, (count, *values.shape[values.ndim - inner :]))
    if values.ndim != inner + 1 or values.shape[0] != count:
        raise InputError(
            f"the model returned {name} of shape {column.values.shape} for {count} scenarios; "
            f"the first axis must be theirs"
        )
    return dataclasses.replace(column, values=values)


def join_columns(parts: Sequence[dict[str, Column]]) -> dict[str, Column]:
    """Columns of pieces of a chunk, one below the other.

    Raises
    ------
    InputError
        The pieces have different outputs, or histories of different lengths.
    """
    first = parts[0]
    if any(list(part) != list(first) for part in parts):
        raise InputError("the model returned other outputs for some scenarios than for others")
    joined = {}
    for name, column in first.items():
        arrays = [part[name].values for part in parts]
        if len({array.shape[1:] for array in arrays}) > 1:
            raise InputError(f"the model returned {name} with axes of different lengths for some scenarios")
        joined[name] = (
            column if len(arrays) == 1 else dataclasses.replace(column, values=np.concatenate(arrays))
        )
    return joined
