"""Forecasts of what is only partly known: many incidents drawn from what is guessed."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from lpgrelease.errors import InputError
from lpgrelease.quantities import FloatArray
from lpgrelease.response.compose import forecast
from lpgrelease.response.inputs import Incident, ResponsePlan
from lpgrelease.response.story import Forecast
from lpgrelease.results import BoolArray, Provenance, Result, plain, quantity, result
from lpgrelease.studies import study

__all__ = ["KeyFigures", "key_figures", "study_forecasts"]


@result
class KeyFigures(Result):
    """The figures of forecasts on which plans turn; all share the scenarios' shape."""

    zero_gauge_at: FloatArray = quantity("s", "gauge at zero, since the leak began; inf: never")
    venting: FloatArray = quantity("s", "how long the vent is open until then, or until it is given up")
    leaked: FloatArray = quantity("kg", "leaked in all")
    vented: FloatArray = quantity("kg", "let out through the vents")
    landed: FloatArray = quantity("kg", "most that lies on the ground at a time")
    pool_gone_at: FloatArray = quantity("s", "ground dry; inf: after the forecast")
    largest_standoff: FloatArray = quantity("m", "farthest to stay away in any phase, as `Distances`")
    sealed: BoolArray = quantity("", "whether every leak freezes shut")
    holding: FloatArray = quantity("s", "how long the weakest ice is expected to last; inf: no melting")
    liquid_left: FloatArray = quantity("kg", "liquid in the tank at the end")
    cautions: tuple[str, ...] = plain("read before acting")


def key_figures(story: Forecast) -> KeyFigures:
    """Return the figures of a forecast on which plans turn."""
    books = story.ledger
    melts = np.min(np.where(story.sealed, story.ice_melts_after, np.inf), axis=-1, initial=np.inf)
    return KeyFigures(
        zero_gauge_at=story.zero_gauge_at,
        venting=np.subtract(story.venting_until, story.venting_from),
        leaked=np.add(books.leaked_as_vapor, books.leaked_as_liquid),
        vented=books.vented,
        landed=story.pool.mass.max(axis=-1),
        pool_gone_at=story.pool_gone_at,
        largest_standoff=story.distances().stay_away.max(axis=-1),
        sealed=np.logical_and(story.sealed.all(axis=-1), bool(story.seals)),
        holding=np.where(story.sealed.any(axis=-1), melts, 0.0)[()],
        liquid_left=books.in_tank_liquid,
        cautions=story.cautions,
        provenance=Provenance(
            "key figures of forecasts", story.provenance.sources, story.provenance.properties
        ),
    )


def study_forecasts(
    build: Callable[..., tuple[Incident, ResponsePlan]],
    parameters: Mapping[str, Any],
    *,
    n: int,
    **options: Any,
) -> Any:
    """Forecast many incidents drawn from what is guessed, by `study`.

    Parameters
    ----------
    build : callable
        Takes the parameters by keyword, the uncertain ones as arrays of one shape, and returns an `Incident`
        and a `ResponsePlan` with them in place.
    parameters : mapping of str to distribution, number or quantity
        As `study` takes them.
    n : int
        Number of incidents.
    **options
        `rng`, `sampler`, `chunk_size`, `workers`, `store`, `progress` of `study`.

    Returns
    -------
    xarray.Dataset
        The fields of `KeyFigures` along `scenario`, as `study` returns them.

    Raises
    ------
    InputError
        `build` is not callable, and as `study`.
    StudyError
        `build` returns something else.

    Notes
    -----
    A time that never comes is infinite: quantiles stand it, a mean does not.

    Examples
    --------
    >>> import lpgrelease as lr
    >>> def build(fill, hole):
    ...     tank = lr.HorizontalTank(diameter=1.2, length=3.0, wall_mass=900.0)
    ...     contents = lr.Contents(tank, lr.Fluid("propane"), fill=fill, temperature=293.15)
    ...     leak, vent = lr.Opening(diameter=hole, height=0.2), lr.Opening(diameter=0.0508, height=1.2)
    ...     incident = lr.Incident(contents=contents, leaks=[leak], ground=lr.Ground.named("moist sand"))
    ...     return incident, lr.ResponsePlan(arrival=900.0, vent=vent, hold=600.0)
    >>> guessed = {"fill": lr.uniform(0.5, 0.85), "hole": lr.uniform(0.004, 0.008, unit="m")}
    >>> many = lr.study_forecasts(build, guessed, n=16, rng=4)
    >>> print(f"{float(many.leaked.quantile(0.9)):.0f} kg leak or less in nine of ten")
    769 kg leak or less in nine of ten
    """
    if not callable(build):
        raise InputError(f"build must be callable, got {build!r}")
    return study(functools.partial(_figures_of, build), parameters, n=n, **options)


def _figures_of(build: Callable[..., tuple[Incident, ResponsePlan]], **parameters: Any) -> KeyFigures:
    built = build(**parameters)
    if not isinstance(built, tuple) or len(built) != 2:
        raise InputError(f"build must return an Incident and a ResponsePlan, got {built!r}")
    return key_figures(forecast(*built))
