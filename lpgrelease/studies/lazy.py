"""A column of a store as an array that xarray reads when it is used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from xarray.backends import BackendArray
from xarray.core import indexing

__all__ = ["StoredArray"]


class StoredArray(BackendArray):
    """One column over all parts; only the parts that a selection touches are read.

    Parameters
    ----------
    parts : Parts
        The store.
    chunks : sequence of (int, int)
        First scenario and number of rows of each part.
    name : str
        The column.
    """

    def __init__(self, parts: Any, chunks: Sequence[tuple[int, int]], name: str) -> None:
        self._parts, self._chunks, self._name = parts, tuple(chunks), name
        self._ends = np.cumsum([rows for _, rows in chunks])
        first = parts.read("part", chunks[0][0], name)
        self.shape: tuple[int, ...] = (int(self._ends[-1]), *first.shape[1:])
        self.dtype: np.dtype[Any] = first.dtype

    def __getitem__(self, key: Any) -> NDArray[Any]:
        support = indexing.IndexingSupport.BASIC
        return indexing.explicit_indexing_adapter(key, self.shape, support, self._select)  # type: ignore[no-any-return]

    def _select(self, key: tuple[Any, ...]) -> NDArray[Any]:
        rows, *rest = key
        if not isinstance(rows, slice):
            return self._between(int(rows), int(rows) + 1)[(0, *rest)]  # type: ignore[no-any-return]
        wanted = range(*rows.indices(self.shape[0]))
        if not wanted:
            return np.empty((0, *self.shape[1:]), dtype=self.dtype)[(slice(None), *rest)]
        low, high = min(wanted), max(wanted) + 1
        last = wanted[-1] - low
        inside = slice(
            wanted[0] - low,
            None if wanted.step < 0 and last == 0 else last + np.sign(wanted.step),
            wanted.step,
        )
        return self._between(low, high)[(inside, *rest)]

    def _between(self, low: int, high: int) -> NDArray[Any]:
        first, last = np.searchsorted(self._ends, [low, high - 1], side="right")
        read = [self._parts.read("part", start, self._name) for start, _ in self._chunks[first : last + 1]]
        offset = int(self._ends[first]) - self._chunks[first][1]
        return np.concatenate(read)[low - offset : high - offset]
