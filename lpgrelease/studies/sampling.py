"""Points of a study: which values each scenario gets, whatever the chunks it is run in."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray
from lpgrelease.studies.distributions import Distribution

__all__ = ["BLOCK", "SAMPLERS", "Design", "entropy_of", "unit_points"]

BLOCK = 65_536
"""Points drawn together: a Latin hypercube has at most so many strata, and more points are several."""
SOBOL_BITS = 30
"""Binary digits of a point of the Sobol sequence, the default of scipy.stats.qmc."""


def entropy_of(rng: Any) -> tuple[int, ...]:
    """Four words drawn from whatever `numpy.random.default_rng` takes; a generator is advanced by that."""
    try:
        words = np.random.default_rng(rng).integers(0, 2**32, size=4, dtype=np.uint32)
    except (TypeError, ValueError) as error:
        raise InputError(f"rng must be what numpy.random.default_rng takes, got {rng!r}: {error}") from error
    return tuple(int(word) for word in words)


@dataclasses.dataclass(frozen=True, slots=True)
class Design:
    """All that fixes the values of every scenario."""

    names: tuple[str, ...]
    distributions: tuple[Any, ...]
    constants: tuple[tuple[str, float], ...]
    sampler: str
    count: int
    entropy: tuple[int, ...]

    def sampled(self, start: int, stop: int) -> dict[str, NDArray[Any]]:
        """Values of the uncertain inputs in the scenarios from `start` on, before `stop`."""
        points = unit_points(self.sampler, len(self.names), self.count, self.entropy, start, stop)
        drawn = zip(self.names, self.distributions, points.T, strict=True)
        return {name: _quantile(one, np.ascontiguousarray(u)) for name, one, u in drawn}


def _quantile(distribution: Any, u: FloatArray) -> NDArray[Any]:
    if isinstance(distribution, Distribution):
        return distribution.quantile(u)
    return np.asarray(distribution.ppf(u), dtype=np.float64)


def unit_points(
    sampler: str, dimensions: int, count: int, entropy: tuple[int, ...], start: int, stop: int
) -> FloatArray:
    """Rows `start` to `stop` of `count` points in the open unit cube, shape (stop - start, dimensions)."""
    if sampler == "saltelli":
        return _crossed(dimensions, count, entropy, start, stop)
    return _rows(sampler, dimensions, count, entropy, start, stop)


def _rows(
    sampler: str, dimensions: int, count: int, entropy: tuple[int, ...], start: int, stop: int
) -> FloatArray:
    parts = []
    for block in range(start // BLOCK, -(-stop // BLOCK)):
        first = block * BLOCK
        points = _block(sampler, dimensions, min(BLOCK, count - first), entropy, block)
        parts.append(points[max(start - first, 0) : stop - first])
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def _crossed(dimensions: int, count: int, entropy: tuple[int, ...], start: int, stop: int) -> FloatArray:
    """Rows of the design for Sobol indices: a point A, A with each coordinate in turn from B, then B."""
    group = dimensions + 2
    rows = np.arange(start, stop)
    low, high = start // group, -(-stop // group)
    both = _rows("sobol", 2 * dimensions, count // group, entropy, low, high)[rows // group - low]
    place = (rows % group)[:, None]
    from_b = (place == np.arange(1, dimensions + 1)) | (place == dimensions + 1)
    return np.where(from_b, both[:, dimensions:], both[:, :dimensions])


@lru_cache(maxsize=1)
def _block(sampler: str, dimensions: int, count: int, entropy: tuple[int, ...], block: int) -> FloatArray:
    points = SAMPLERS[sampler](dimensions, count, entropy, block)
    points = np.clip(points, 2.0**-54, 1.0 - 2.0**-53)  # the cells next to 0 and 1, by points within them
    points.flags.writeable = False
    return points


def _generator(entropy: tuple[int, ...], block: int) -> np.random.Generator:
    return np.random.default_rng(np.random.SeedSequence(entropy, spawn_key=(block,)))


def _random(dimensions: int, count: int, entropy: tuple[int, ...], block: int) -> FloatArray:
    return _generator(entropy, block).random((count, dimensions))


def _latin_hypercube(dimensions: int, count: int, entropy: tuple[int, ...], block: int) -> FloatArray:
    from scipy.stats.qmc import LatinHypercube

    drawn: FloatArray = LatinHypercube(dimensions, rng=_generator(entropy, block)).random(count)
    return drawn


def _sobol(dimensions: int, count: int, entropy: tuple[int, ...], block: int) -> FloatArray:
    """Points of one scrambled sequence, each moved to the middle of its binary cell."""
    from scipy.stats.qmc import Sobol

    sequence = Sobol(dimensions, rng=_generator(entropy, 0), bits=SOBOL_BITS)
    if block:
        sequence.fast_forward(block * BLOCK)
    drawn = sequence.random(1 << (count - 1).bit_length())[:count]
    return np.asarray(drawn + 0.5**SOBOL_BITS / 2.0, dtype=np.float64)


SAMPLERS: dict[str, Callable[[int, int, tuple[int, ...], int], FloatArray]] = {
    "latin hypercube": _latin_hypercube,
    "sobol": _sobol,
    "random": _random,
    "saltelli": _sobol,
}
