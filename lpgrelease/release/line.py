"""A hose or pipe between a container and the air or a flare: what it passes, with friction."""

from __future__ import annotations

import numpy as np

from lpgrelease.constants import STANDARD_ATMOSPHERE, STANDARD_GRAVITY
from lpgrelease.errors import InputError, OutOfRangeError
from lpgrelease.fluids import Fluid, helmholtz
from lpgrelease.fluids.table import FluidTable
from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si
from lpgrelease.release.inlet import TwoPhaseInlet, equilibrium_nozzle
from lpgrelease.release.line_path import LineEnd, LineInlet, LineShape, solve_line
from lpgrelease.release.line_rise import raised_liquid, raised_mixture
from lpgrelease.release.nozzle import isentropic_nozzle
from lpgrelease.release.rate import ReleaseRate, ambient, served_by
from lpgrelease.release.superheat import HIGHEST_REDUCED_PRESSURE, superheat_patch
from lpgrelease.release.throat import equilibrium_density
from lpgrelease.results import BoolArray, Provenance, Result, in_unit, plain, quantity, result

__all__ = ["Line", "flowing", "line_inlet", "line_release", "line_shape"]

HIGHEST_RISE = 200.0
"""Beyond it [m] a rise is no longer small against the pressures here."""


@result
class Line(Result):
    """A hose or pipe of one bore, from a container to its outlet.

    Parameters
    ----------
    diameter : number, array or quantity
        Bore D [m].
    length : number, array or quantity
        L [m], 0 or more.
    roughness : number, array or quantity
        Height of the wall's roughness [m], up to 0.05 D: 4.6e-5 new steel pipe, 1.5e-6 drawn tube
        (white2006viscous); a smooth hose lies between.
    fittings : number or array
        Sum of the loss coefficients K of inlet, valves and bends, each on the bore's velocity head
        (`loss_coefficient`): 0.5 for a sharp-edged inlet (crane2013flow).
    rise : number, array or quantity
        Height of the outlet above the inlet [m]; negative if below.
    discharge_coefficient : number or array
        Of the outlet, on the bore's area: 1 for an open end, less for a nozzle, tip or half-open valve.
    height : number, array or quantity
        Height of the inlet above the container's lowest inside point [m].

    Raises
    ------
    InputError, OutOfRangeError

    Examples
    --------
    >>> hose = Line(diameter=0.025, length=30.0)
    >>> print(f"{hose.area * 1e4:.3f} cm2")
    4.909 cm2
    """

    diameter: QuantityLike = quantity("m", "bore D")
    length: QuantityLike = quantity("m", "length L")
    roughness: QuantityLike = quantity("m", "roughness of the wall", default=4.6e-5)
    fittings: QuantityLike = quantity("", "sum of the loss coefficients K", default=0.5)
    rise: QuantityLike = quantity("m", "height of the outlet above the inlet", default=0.0)
    discharge_coefficient: QuantityLike = quantity("", "discharge coefficient of the outlet", default=1.0)
    height: QuantityLike = quantity(
        "m", "height of the inlet above the container's lowest point", default=0.0
    )
    provenance: Provenance = plain("where the numbers come from", default=Provenance("line as given"))

    def __post_init__(self) -> None:
        """Take every number to SI and check it."""
        checked = {
            "diameter": to_si(self.diameter, "m", "diameter", lower=0.0, open_lower=True),
            "length": to_si(self.length, "m", "length", lower=0.0),
            "roughness": to_si(self.roughness, "m", "roughness", lower=0.0),
            "fittings": to_si(self.fittings, "", "fittings", lower=0.0),
            "rise": to_si(self.rise, "m", "rise", lower=-HIGHEST_RISE, upper=HIGHEST_RISE),
            "discharge_coefficient": to_si(
                self.discharge_coefficient, "", "discharge_coefficient", lower=0.0, upper=1.0, open_lower=True
            ),
            "height": to_si(self.height, "m", "height", lower=0.0),
        }
        shaped = dict(zip(checked, broadcast(**checked), strict=True))
        ratio = shaped["roughness"] / shaped["diameter"]
        to_si(ratio, "", "roughness/diameter", upper=0.05, why="the range of the friction factor")
        for name, value in checked.items():
            object.__setattr__(self, name, value)

    @property
    @in_unit("m**2")
    def area(self) -> FloatArray:
        """Area of the bore A = pi D**2 / 4 [m2]."""
        area: FloatArray = 0.25 * np.pi * self.diameter * self.diameter
        return area

    @property
    @in_unit("m**2")
    def effective_area(self) -> FloatArray:
        """Of the outlet, C_d A [m2]."""
        effective: FloatArray = self.discharge_coefficient * self.area
        return effective


def line_release(
    fluid: Fluid,
    line: Line,
    *,
    temperature: QuantityLike,
    pressure: QuantityLike | None = None,
    vapor_fraction: QuantityLike = 1.0,
    ambient_pressure: QuantityLike = STANDARD_ATMOSPHERE,
) -> ReleaseRate:
    """Flow from rest through a line with friction: real vapor, boiling liquid, or liquid.

    Parameters
    ----------
    fluid : Fluid
        Pure.
    line : Line
    temperature : number, array or quantity
        Inside the container, T0 [K].
    pressure : number, array or quantity, optional
        Inside, p0 [Pa]: a vapor below saturation (with `vapor_fraction` 1) or a liquid padded above it (with
        0). None: saturated.
    vapor_fraction : number or array
        At the inlet, x0: 1 vapor, 0 liquid, a mixture between.
    ambient_pressure : number, array or quantity
        [Pa], absolute.

    Returns
    -------
    ReleaseRate
        `mass_flux` is over the bore; the throat is that of the outlet.

    Raises
    ------
    InputError, OutOfRangeError
        A blend; vapor hotter than served, with the hottest that is served at its pressure.

    Notes
    -----
    Adiabatic, steady, one velocity, equilibrium between liquid and vapor (leung1986omega's
    model with friction): h + G**2 v**2/2 = h0, T ds = (G**2 v**2/2) dN, N = f L/D + sum of K
    (shapiro1953dynamics for the ideal gas), an isentropic inlet, and an outlet that may choke. f by
    churchill1977friction at the inlet's viscosity (mixtures: mcadams1942vaporization). The rise is
    taken at the inlet. Without length, fittings and rise it is `vapor_release` or `two_phase_release` through
    an opening of the same area and coefficient. Heat from outside is left out. A liquid in a line
    shorter than about 0.1 m does not reach equilibrium and passes more (`two_phase_release`). Up to 0.7
    of the critical pressure, and at any such pressure 120 K of superheat (more where that is low), up to the
    limit of the equation of state, into air of 50 kPa or more.

    References
    ----------
    shapiro1953dynamics, leung1986omega, churchill1977friction, mcadams1942vaporization.

    Examples
    --------
    >>> from lpgrelease import Fluid
    >>> hose = Line(diameter=0.0508, length=30.0)
    >>> rate = line_release(Fluid("propane"), hose, temperature=293.15)
    >>> print(f"{rate.mass_flow:.2f} kg/s, choked: {rate.choked}")
    1.91 kg/s, choked: True
    """
    if not isinstance(fluid, Fluid):
        raise InputError(f"fluid must be a Fluid, got {fluid!r}")
    if not isinstance(line, Line):
        raise InputError(f"line must be a Line, got {line!r}")
    if fluid.is_blend:
        raise InputError(f"fluid: line_release serves pure fluids only, and {fluid.name} is a blend")
    p_amb = ambient(fluid, ambient_pressure)
    state = _at_rest(fluid, temperature, pressure, vapor_fraction)
    given = dict(
        zip(("temperature", "pressure", "vapor_fraction", "enthalpy", "entropy"), state, strict=True)
    )
    parts = broadcast(
        **given,
        ambient_pressure=p_amb,
        diameter=line.diameter,
        length=line.length,
        roughness=line.roughness,
        fittings=line.fittings,
        rise=line.rise,
        discharge_coefficient=line.discharge_coefficient,
    )
    shape = parts[0].shape
    t, p, x, h, s, p_amb, *bore, rise, c_d = (np.ravel(a) for a in parts)
    diameter, length, roughness, fittings = bore
    inlet = line_inlet(fluid.table, t, p, x, h, s, p_amb, rise)
    _require_served(fluid.table, inlet, t, p, h)
    end = flowing(fluid.table, inlet, line_shape(diameter, length, roughness, fittings, c_d))
    density = equilibrium_density(fluid.table, end.pressure, end.temperature, end.vapor_fraction)
    flux = end.flux.reshape(shape)[()]
    return ReleaseRate(
        mass_flow=flux * line.area,
        mass_flux=flux,
        choked=end.choked.reshape(shape)[()],
        throat_pressure=end.pressure.reshape(shape)[()],
        throat_temperature=end.temperature.reshape(shape)[()],
        throat_vapor_fraction=end.vapor_fraction.reshape(shape)[()],
        throat_density=density.reshape(shape)[()],
        total_enthalpy=inlet.enthalpy.reshape(shape)[()],
        provenance=served_by(
            fluid,
            "adiabatic line with friction: equilibrium, one velocity",
            "shapiro1953dynamics",
            "leung1986omega",
            "churchill1977friction",
            "mcadams1942vaporization",
        ),
    )


def line_shape(
    diameter: FloatArray,
    length: FloatArray,
    roughness: FloatArray,
    fittings: FloatArray,
    coefficient: FloatArray,
) -> LineShape:
    """Geometry as the path needs it; arrays of one shape."""
    return LineShape(length / diameter, diameter, roughness / diameter, fittings, coefficient)


def flowing(table: FluidTable, inlet: LineInlet, shape: LineShape) -> LineEnd:
    """Solve the lines that flow; zero for the others."""
    flows = (inlet.pressure > inlet.ambient_pressure) & (inlet.nozzle_flux > 0.0)
    size = flows.size
    end = LineEnd(
        np.zeros(size),
        np.zeros(size, dtype=np.bool_),
        np.array(inlet.ambient_pressure),
        np.array(inlet.temperature),
        np.array(inlet.vapor_fraction),
    )
    if flows.any():
        some = solve_line(table, LineInlet(*(a[flows] for a in inlet)), LineShape(*(a[flows] for a in shape)))
        for whole, part in zip(end, some, strict=True):
            whole[flows] = part
    return end


def _at_rest(
    fluid: Fluid, temperature: QuantityLike, pressure: QuantityLike | None, vapor_fraction: QuantityLike
) -> tuple[FloatArray, ...]:
    """Check the inlet's arguments: T0, p0, x0, h0, s0."""
    x = to_si(vapor_fraction, "", "vapor_fraction", lower=0.0, upper=1.0, why="a mass fraction")
    limit = HIGHEST_REDUCED_PRESSURE * fluid.critical_pressure
    why = f"lines are served up to {HIGHEST_REDUCED_PRESSURE:g} of the critical pressure at saturation"
    if pressure is None:
        t = fluid.saturation_range(temperature, "temperature")
        p, h_l, latent, s_l = fluid.saturated(
            t, "pressure", "liquid_enthalpy", "latent_heat", "liquid_entropy"
        )
        to_si(p, "Pa", "saturation pressure", upper=limit, why=why)
        t, p, x, h_l, latent, s_l = broadcast(
            temperature=t, pressure=p, vapor_fraction=x, enthalpy=h_l, latent_heat=latent, entropy=s_l
        )
        return t, p, x, h_l + x * latent, s_l + x * latent / t
    kinds = np.unique(x)
    if kinds.size != 1 or kinds[0] not in (0.0, 1.0):
        raise InputError("with pressure, vapor_fraction is 1 (vapor) or 0 (liquid) for the whole call")
    state = (fluid.gas if kinds[0] == 1.0 else fluid.liquid)(temperature=temperature, pressure=pressure)
    t, p, x = broadcast(temperature=state.temperature, pressure=state.pressure, vapor_fraction=x)
    at = state.pressure if kinds[0] == 1.0 else fluid.saturated(state.temperature, "pressure")[0]
    to_si(at, "Pa", "pressure" if kinds[0] == 1.0 else "saturation pressure", upper=limit, why=why)
    return t, p, x, state.enthalpy, state.entropy


def _require_served(table: FluidTable, inlet: LineInlet, t: FloatArray, p: FloatArray, h: FloatArray) -> None:
    """Raise where vapor is hotter than served anywhere between the inlet and the ambient pressure.

    On the way down the superheat h0 - h_v(p) grows as h_v falls.
    """
    # only a liquid stands higher, and it has no superheat
    top = np.minimum(p, HIGHEST_REDUCED_PRESSURE * table.critical_pressure)
    ends = table.saturation_temperature(np.array([np.minimum(top, inlet.ambient_pressure), top]))
    at_low, at_inlet = table.saturated(ends, "vapor_enthalpy")[0]
    patch = superheat_patch(table)
    beyond = inlet.enthalpy - np.minimum(at_low, at_inlet) - patch.largest
    if not (beyond > 0.0).any():
        return
    worst = np.array([np.argmax(beyond)])
    hottest = (h - beyond)[worst]
    t_s, p_0 = ends[1, worst], p[worst]
    rho, c_p = table.saturated(t_s, "vapor_density", "vapor_heat_capacity")
    stretch = 1.0 + (hottest - at_inlet[worst]) / (c_p * t_s)
    t_top, _ = helmholtz.gas_from_enthalpy(table.equation, p_0, hottest, t_s * stretch, rho / stretch)
    why = (
        f"superheated vapor that lines serve at {p_0[0]:.6g} Pa, from saturation to where it may expand to "
        f"{inlet.ambient_pressure[worst][0]:.6g} Pa"
    )
    raise OutOfRangeError("temperature", float(t[worst][0]), "K", float(t_s[0]), float(t_top[0]), why)


def line_inlet(
    table: FluidTable,
    t: FloatArray,
    p: FloatArray,
    x: FloatArray,
    h: FloatArray,
    s: FloatArray,
    p_amb: FloatArray,
    rise: FloatArray,
) -> LineInlet:
    """Take the rise and find where a liquid boils and what an ideal nozzle would pass; 1-d arrays."""
    below = np.minimum(t, table.highest_temperature)
    p_s, rho_l, rho_v, mu_l, mu_v = table.saturated(
        below, "pressure", "liquid_density", "vapor_density", "liquid_viscosity", "vapor_viscosity"
    )
    work = STANDARD_GRAVITY * rise
    head = h - work
    liquid = x == 0.0
    wet = (x > 0.0) & (p >= p_s * (1.0 - 1e-12))
    density = np.where(liquid, rho_l, p / (table.gas_constant * t))
    density = np.where(wet, 1.0 / (x / rho_v + (1.0 - x) / rho_l), density)
    top = p - density * work
    # what of a mixture's path is all liquid has the liquid's volume, not the mixture's
    v = 1.0 / np.where(x < 1.0, rho_l, density)
    p_b, p_h, t_top = np.array(top), np.array(top), np.array(t)
    mixed = np.flatnonzero((x > 0.0) & (x < 1.0) & (rise != 0.0))
    if mixed.size:
        t_top[mixed], liquid[mixed] = raised_mixture(table, *(a[mixed] for a in (t, s, work, head)))
        at = table.saturated(t_top[mixed], "pressure", "liquid_enthalpy")
        top[mixed] = p_b[mixed] = p_h[mixed] = at[0]
        # one that a fall turns to liquid goes on from there as liquid does
        p, p_s, h = np.array(p), np.array(p_s), np.array(h)
        p[mixed], p_s[mixed], h[mixed] = at[0], at[0], at[1]
    some = np.flatnonzero(liquid)
    if some.size:
        values = raised_liquid(table, *(a[some] for a in (t_top, p, h, s, h - head, p_s)))
        top[some], p_b[some], p_h[some], t_top[some], v[some] = values
    flux = np.zeros(t.shape)
    flows = top > p_amb
    if flows.any():
        flux[flows] = _nozzle_flux(
            table,
            *(a[flows] for a in (t_top, top, head, s, p_b, p_amb)),
            liquid=liquid[flows],
        )
    viscosity = 1.0 / (x / mu_v + (1.0 - x) / mu_l)
    return LineInlet(top, t_top, x, head, s, p_b, p_h, v, viscosity, flux, p_amb)


def _nozzle_flux(
    table: FluidTable,
    t: FloatArray,
    p: FloatArray,
    h: FloatArray,
    s: FloatArray,
    p_b: FloatArray,
    p_amb: FloatArray,
    *,
    liquid: BoolArray,
) -> FloatArray:
    """Flux of an ideal nozzle from the line's inlet to the ambient pressure."""
    if not liquid.any():
        return isentropic_nozzle(
            table, enthalpy=h, entropy=s, temperature=t, pressure=p, back_pressure=p_amb
        ).flux
    nothing = np.zeros(t.shape)
    p_sat = np.where(liquid, p_b, p)
    inlet = TwoPhaseInlet(t, nothing, p, p_sat, nothing, nothing, h, s, nothing, nothing, p_amb)
    return equilibrium_nozzle(table, inlet).flux
