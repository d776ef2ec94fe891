"""Pick one scenario out of a result, with everything it is made of."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from lpgrelease.results import Result, unchecked

__all__ = ["pick"]


def pick(source: Any, shape: tuple[int, ...], index: tuple[Any, ...]) -> Any:
    """Return the part of `source` that belongs to the scenario `index` of scenarios of shape `shape`.

    Arrays are broadcast to the scenarios first; their further axes, which a field declares, stay. Tuples
    and results inside are picked in turn; all else is kept.
    """
    if isinstance(source, Result):
        fields: dict[str, Any] = {}
        for field in dataclasses.fields(source):
            value, dims = getattr(source, field.name), field.metadata.get("dims", ())
            if isinstance(value, (np.ndarray, np.generic)):
                own = np.shape(value)[np.ndim(value) - len(dims) :]
                value = np.broadcast_to(value, (*shape, *own))[index]
                value = np.array(value)[()] if dims == () else np.ascontiguousarray(value)
            else:
                value = pick(value, shape, index)
            fields[field.name] = value
        return unchecked(type(source), fields)
    if isinstance(source, tuple):
        items = [_of_scenario(item, shape, index) for item in source]
        return type(source)(*items) if hasattr(source, "_fields") else tuple(items)
    return source


def _of_scenario(item: Any, shape: tuple[int, ...], index: tuple[Any, ...]) -> Any:
    """Return the part of an item of a tuple: its arrays have no axes but those of the scenarios."""
    if isinstance(item, (np.ndarray, np.generic)):
        return np.array(np.broadcast_to(item, shape)[index])[()]
    return pick(item, shape, index)
