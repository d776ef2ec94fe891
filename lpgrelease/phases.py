"""Phases of a fluid at two given properties, and the pressures and temperatures where they appear."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid, helmholtz
from lpgrelease.fluids.equilibrium import LIQUID, Point, Split
from lpgrelease.fluids.fluid import require_converged
from lpgrelease.halving import halved
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, exactly_one, to_si
from lpgrelease.results import Provenance, Result, quantity, result

__all__ = ["EquilibriumState", "SaturationPoint", "bubble_point", "dew_point", "equilibrium"]

PAIRS = (
    ("temperature", "pressure"),
    ("pressure", "enthalpy"),
    ("pressure", "entropy"),
    ("temperature", "density"),
)
UNITS = {"temperature": "K", "pressure": "Pa", "enthalpy": "J/kg", "entropy": "J/kg/K", "density": "kg/m**3"}
SOURCES = ("peng1976new", "peneloux1982consistent", "michelsen2007thermodynamic")
HIGHEST_PRESSURE = 10e6
HALVINGS = 20
ROUND_OFF = 1e-9
"""What is found may miss the end of the range by this part."""


@result
class SaturationPoint(Result):
    """Bubble or dew points; compositions in mole fractions, components last."""

    temperature: FloatArray = quantity("K", "temperature T")
    pressure: FloatArray = quantity("Pa", "pressure p, absolute")
    liquid_composition: FloatArray = quantity("", "mole fractions x of the liquid", dims=("component",))
    vapor_composition: FloatArray = quantity("", "mole fractions y of the vapor", dims=("component",))


@result
class EquilibriumState(Result):
    """One or two phases of a fluid; where there is one, the other's density and composition repeat it."""

    temperature: FloatArray = quantity("K", "temperature T")
    pressure: FloatArray = quantity("Pa", "pressure p, absolute")
    vapor_fraction: FloatArray = quantity("", "vapor mass fraction; 0 liquid, 1 vapor")
    density: FloatArray = quantity("kg/m**3", "overall density")
    enthalpy: FloatArray = quantity("J/kg", "specific enthalpy")
    entropy: FloatArray = quantity("J/kg/K", "specific entropy")
    liquid_density: FloatArray = quantity("kg/m**3", "density of the liquid")
    vapor_density: FloatArray = quantity("kg/m**3", "density of the vapor")
    liquid_composition: FloatArray = quantity("", "mole fractions x of the liquid", dims=("component",))
    vapor_composition: FloatArray = quantity("", "mole fractions y of the vapor", dims=("component",))


def bubble_point(
    fluid: Fluid, *, temperature: QuantityLike | None = None, pressure: QuantityLike | None = None
) -> SaturationPoint:
    """Where liquid of the fluid's composition begins to boil, and the vapor that appears.

    Parameters
    ----------
    fluid : Fluid
    temperature, pressure : number, array or quantity
        One of the two: T [K], p [Pa].

    Returns
    -------
    SaturationPoint
        Fields of the argument's shape; compositions with an axis of components after it.

    Raises
    ------
    InputError, OutOfRangeError
        Neither or both given; outside the range served.
    ConvergenceError
        No solution found.

    Notes
    -----
    Equal fugacities by the Peng-Robinson equation. A pure fluid's is its saturation point.

    References
    ----------
    peng1976new; michelsen2007thermodynamic, chapter 12.

    Examples
    --------
    >>> from lpgrelease import Fluid, bubble_point
    >>> blend = Fluid({"propane": 0.5, "n-butane": 0.5})
    >>> point = bubble_point(blend, temperature=293.15)
    >>> print(f"{point.pressure / 1e5:.2f} bar, propane in the vapor {point.vapor_composition[0]:.3f}")
    5.09 bar, propane in the vapor 0.773
    """
    return _saturation_point(fluid, temperature, pressure, dew=False)


def dew_point(
    fluid: Fluid, *, temperature: QuantityLike | None = None, pressure: QuantityLike | None = None
) -> SaturationPoint:
    """Where vapor of the fluid's composition begins to condense, and the liquid that appears.

    Parameters, returns and raises as for `bubble_point`.

    Examples
    --------
    >>> from lpgrelease import Fluid, dew_point
    >>> blend = Fluid({"propane": 0.5, "n-butane": 0.5})
    >>> print(f"{dew_point(blend, temperature=293.15).pressure / 1e5:.2f} bar")
    3.38 bar
    """
    return _saturation_point(fluid, temperature, pressure, dew=True)


def _saturation_point(
    fluid: Fluid, temperature: QuantityLike | None, pressure: QuantityLike | None, *, dew: bool
) -> SaturationPoint:
    _require_fluid(fluid)
    by_t = exactly_one(temperature=temperature, pressure=pressure) == "temperature"
    if not fluid.is_blend:
        state = fluid.saturation(temperature=temperature, pressure=pressure)
        one = np.ones((*np.shape(state.temperature), 1))
        return SaturationPoint(
            temperature=state.temperature,
            pressure=state.pressure,
            liquid_composition=one,
            vapor_composition=one,
            provenance=state.provenance,
        )
    if by_t:
        given = fluid.saturation_range(temperature, "temperature")
    else:
        given = fluid.pressure_range(pressure, "pressure")
    flat, table = np.ravel(given), fluid.blend
    call: Callable[..., Point] = table.dew if dew else table.bubble
    point = call(temperature=flat) if by_t else call(pressure=flat)
    shape = np.shape(given)
    feed = np.broadcast_to(np.array(fluid.fractions), (*shape, len(fluid.fractions))).copy()
    incipient = _components_last(point.incipient, shape)
    return SaturationPoint(
        temperature=point.temperature.reshape(shape)[()],
        pressure=point.pressure.reshape(shape)[()],
        liquid_composition=incipient if dew else feed,
        vapor_composition=feed if dew else incipient,
        provenance=Provenance("dew point" if dew else "bubble point", SOURCES, fluid.credit),
    )


def equilibrium(
    fluid: Fluid,
    *,
    temperature: QuantityLike | None = None,
    pressure: QuantityLike | None = None,
    enthalpy: QuantityLike | None = None,
    entropy: QuantityLike | None = None,
    density: QuantityLike | None = None,
) -> EquilibriumState:
    """Liquid, vapor or both at two given properties.

    Parameters
    ----------
    fluid : Fluid
    temperature, pressure, enthalpy, entropy, density : number, array or quantity
        Two of them: (T, p), (p, h), (p, s) or (T, overall density); [K], [Pa], [J/kg], [J/kg/K], [kg/m3].
        Enthalpy and entropy have the reference state of the fluid's other results.

    Returns
    -------
    EquilibriumState
        Fields of the shape to which the arguments broadcast; compositions with one more axis, of components.

    Raises
    ------
    InputError, OutOfRangeError
        Another pair; outside the range served, or a state found there.
    ConvergenceError
        No solution found; with the state.

    Notes
    -----
    A blend is served at temperatures of its bubble line and as gas up to 500 K; at (T, p) and (T, density)
    up to 10 MPa, at (p, h) and (p, s) up to the bubble pressure at the end of the line.
    Newton's method on equal fugacities and the two properties at once. Which phases there are follows from
    bubble and dew point. A pure fluid at (T, p) is liquid above its saturation pressure, else vapor.

    References
    ----------
    peng1976new; michelsen2007thermodynamic, chapters 10 to 12.

    Examples
    --------
    >>> from lpgrelease import Fluid, equilibrium
    >>> blend = Fluid({"propane": 0.5, "n-butane": 0.5})
    >>> state = equilibrium(blend, temperature=293.15, pressure=4e5)
    >>> print(f"{state.vapor_fraction:.3f} vapor, propane {state.liquid_composition[0]:.3f} in the liquid")
    0.568 vapor, propane 0.322 in the liquid
    """
    _require_fluid(fluid)
    given = {
        "temperature": temperature,
        "pressure": pressure,
        "enthalpy": enthalpy,
        "entropy": entropy,
        "density": density,
    }
    pair = tuple(name for name, value in given.items() if value is not None)
    if pair not in PAIRS:
        raise InputError(
            f"give two properties, one of {', '.join('(' + ', '.join(p) + ')' for p in PAIRS)}; got {pair}"
        )
    highest = fluid.blend.pressure_limits[1] if fluid.is_blend and pair[0] == "pressure" else HIGHEST_PRESSURE
    values = {name: _take(fluid, name, given[name], highest) for name in pair}
    first, second = broadcast(**values)
    shape = first.shape
    solve = _of_blend if fluid.is_blend else _of_pure
    fields = solve(fluid, pair, np.ravel(first), np.ravel(second))
    shaped = {
        name: _components_last(value, shape) if value.ndim == 2 else value.reshape(shape)[()]
        for name, value in fields.items()
    }
    sources = SOURCES if fluid.is_blend else ()
    return EquilibriumState(**shaped, provenance=Provenance("phase equilibrium", sources, fluid.credit))


def _require_fluid(fluid: Fluid) -> None:
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid must be a Fluid, got {fluid!r}")


def _take(fluid: Fluid, name: str, value: QuantityLike | None, highest_pressure: float) -> FloatArray:
    low: float | None = None
    high: float | None = None
    if name == "temperature":
        low, high = fluid.lowest_temperature, fluid.highest_temperature
    elif name == "pressure":
        low, high = 1.0, highest_pressure
    elif name == "density":
        low = 1e-6
    why = f"range in which phases of {fluid.name} are served"
    return to_si(value, UNITS[name], name, lower=low, upper=high, why=why)


def _components_last(values: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    return np.ascontiguousarray(values.T).reshape(*shape, values.shape[0])


def _of_blend(
    fluid: Fluid, pair: tuple[str, ...], first: FloatArray, second: FloatArray
) -> dict[str, FloatArray]:
    table = fluid.blend
    solve: dict[tuple[str, ...], Callable[[FloatArray, FloatArray], Split]] = {
        PAIRS[0]: table.flash_pressure,
        PAIRS[1]: table.flash_enthalpy,
        PAIRS[2]: table.flash_entropy,
        PAIRS[3]: table.flash_density,
    }
    m = table.molar_mass
    if pair == PAIRS[3]:
        _refuse_dense(fluid, first, second)
    state = solve[pair](first, second)
    _require_in_range(fluid, state.temperature, state.pressure)
    return {
        "temperature": state.temperature,
        "pressure": state.pressure,
        "vapor_fraction": table.vapor_mass_fraction(state),
        "density": m / state.volume,
        "enthalpy": state.enthalpy / m,
        "entropy": state.entropy / m,
        "liquid_density": table.mixture.mass(state.liquid) / state.liquid_volume,
        "vapor_density": table.mixture.mass(state.vapor) / state.vapor_volume,
        "liquid_composition": state.liquid,
        "vapor_composition": state.vapor,
    }


def _refuse_dense(fluid: Fluid, t: FloatArray, density: FloatArray) -> None:
    """Raise where a density is above that of the liquid at the highest pressure."""
    highest = np.full_like(t, HIGHEST_PRESSURE)
    if fluid.is_blend:
        limit = fluid.blend.phase(t, highest, LIQUID)["density"]
    else:
        (start,) = fluid.table.saturated(t, "liquid_density")
        limit = helmholtz.density_from_pressure(fluid.table.equation, t, highest, start)
    bad = np.flatnonzero(density > limit * (1.0 + ROUND_OFF))
    if bad.size:
        value, high = float(density[bad[0]]), float(limit[bad[0]])
        why = f"up to the liquid's at {HIGHEST_PRESSURE / 1e6:g} MPa"
        raise OutOfRangeError("density", value, UNITS["density"], 0.0, high, why)


def _of_pure(
    fluid: Fluid, pair: tuple[str, ...], first: FloatArray, second: FloatArray
) -> dict[str, FloatArray]:
    """Wet states from the saturation table, others from the equation of state."""
    table = fluid.table
    names = ("liquid_density", "vapor_density", "liquid_enthalpy", "latent_heat", "liquid_entropy")
    if pair[0] == "temperature":
        t = first
        p = table.saturated(t, "pressure")[0]
    else:
        p = fluid.pressure_range(first, "pressure")
        t = table.saturation_temperature(p)
    rho_l, rho_v, h_l, latent, s_l = table.saturated(t, *names)
    if pair == PAIRS[0]:
        x = np.where(second > p, -1.0, 2.0)
        p = second
    elif pair == PAIRS[1]:
        x = (second - h_l) / latent
    elif pair == PAIRS[2]:
        x = (second - s_l) * t / latent
    else:
        _refuse_dense(fluid, t, second)
        x = (1.0 / second - 1.0 / rho_l) / (1.0 / rho_v - 1.0 / rho_l)
    t, p = np.array(t), np.array(p)
    h, s, rho = h_l + x * latent, s_l + x * latent / t, 1.0 / ((1.0 - x) / rho_l + x / rho_v)
    dry = (x < 0.0) | (x > 1.0)
    if dry.any():
        cold = x[dry] < 0.0
        start = np.where(cold, rho_l[dry], rho_v[dry])
        t_start = np.array(t[dry])
        if pair in PAIRS[1:3]:
            _require_caloric_range(fluid, pair[1], p[dry], second[dry])
            t_start[cold], start[cold] = _near_liquid(fluid, pair[1], p[dry][cold], second[dry][cold])
        t[dry], rho[dry] = _single(fluid, pair, p[dry], second[dry], t_start, start)
        state = helmholtz.evaluate(table.equation, t[dry], rho[dry])
        h[dry], s[dry] = state.enthalpy, state.entropy
        if pair == PAIRS[3]:
            p[dry] = state.pressure
        _require_in_range(fluid, t, p)
        residual = (state.pressure / p[dry] - 1.0) / np.maximum(state.stiffness, 1.0)
        require_converged(fluid.name, residual, t[dry], p[dry])
    one = np.ones((1, t.size))
    return {
        "temperature": t,
        "pressure": p,
        "vapor_fraction": np.clip(x, 0.0, 1.0),
        "density": rho,
        "enthalpy": h,
        "entropy": s,
        "liquid_density": np.where(dry, rho, rho_l),
        "vapor_density": np.where(dry, rho, rho_v),
        "liquid_composition": one,
        "vapor_composition": one,
    }


def _single(
    fluid: Fluid, pair: tuple[str, ...], p: FloatArray, wanted: FloatArray, t: FloatArray, start: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperature and density of a single phase."""
    table, equation = fluid.table, fluid.table.equation
    if pair == PAIRS[0]:
        p_sat, z = table.saturated(t, "pressure", "vapor_compressibility")
        # vapor far below saturation is far thinner than saturated vapor: too far off to start from
        thin = p / (table.gas_constant * t) / (1.0 + (z - 1.0) * np.minimum(p / p_sat, 1.0))
        return t, helmholtz.density_from_pressure(equation, t, p, np.where(p > p_sat, start, thin))
    if pair == PAIRS[1]:
        return helmholtz.gas_from_enthalpy(equation, p, wanted, t, start)
    if pair == PAIRS[2]:
        return helmholtz.gas_from_entropy(equation, p, wanted, t, start)
    return t, wanted


def _require_caloric_range(fluid: Fluid, name: str, p: FloatArray, wanted: FloatArray) -> None:
    """Raise where no temperature served has the enthalpy or entropy at p: Newton steps would go astray."""
    table, ends = fluid.table, []
    coldest, hottest = (
        np.full_like(p, table.lowest_temperature),
        np.full_like(p, table.highest_gas_temperature),
    )
    thick = table.saturated(coldest, "liquid_density")[0]
    for t, start in ((coldest, thick), (hottest, p / (table.gas_constant * hottest))):
        density = helmholtz.density_from_pressure(table.equation, t, p, start)
        ends.append(getattr(helmholtz.evaluate(table.equation, t, density), name))
    room = ROUND_OFF * (ends[1] - ends[0])
    bad = (wanted < ends[0] - room) | (wanted > ends[1] + room)
    if bad.any():
        low, high = (float(end[bad][0]) for end in ends)
        why = f"{name} of {fluid.name} at {float(p[bad][0]):.6g} Pa, at the temperatures served"
        raise OutOfRangeError(name, float(wanted[bad][0]), UNITS[name], low, high, why)


def _near_liquid(fluid: Fluid, name: str, p: FloatArray, wanted: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Temperature where saturated liquid has the enthalpy or entropy, and the density there at p."""
    table, caloric = fluid.table, f"liquid_{name}"
    low, high = np.full_like(p, table.lowest_temperature), table.saturation_temperature(p)
    low, _ = halved(lambda t: ~(table.saturated(t, caloric)[0] > wanted), low, high, HALVINGS)
    start = table.saturated(low, "liquid_density")[0]
    return low, helmholtz.density_from_pressure(table.equation, low, p, start)


def _require_in_range(fluid: Fluid, t: FloatArray, p: FloatArray) -> None:
    low, high = fluid.lowest_temperature, fluid.tables.highest_gas_temperature
    why = f"the range in which phases of {fluid.name} are served, left by the state asked for"
    for name, values, unit, lower, upper in (
        ("temperature", t, "K", low, high),
        ("pressure", p, "Pa", 0.0, HIGHEST_PRESSURE),
    ):
        bad = ~((values >= lower * (1.0 - ROUND_OFF)) & (values <= upper * (1.0 + ROUND_OFF)))
        if bad.any():
            raise OutOfRangeError(name, float(values[bad][0]), unit, lower, upper, why)
