"""Release rates through openings and lines, the jets behind them, and the drops these carry."""

from lpgrelease.release.drops import (
    DropFall,
    RainOut,
    aerodynamic_drop_diameter,
    drop_fall,
    rain_out_by_flash,
    terminal_velocity,
)
from lpgrelease.release.fittings import FITTINGS, loss_coefficient
from lpgrelease.release.friction import darcy_friction_factor
from lpgrelease.release.guidance import DischargeGuidance, discharge_guidance, slit_diameter
from lpgrelease.release.ideal_gas import critical_flow_function, critical_pressure_ratio, ideal_gas_release
from lpgrelease.release.inlet import isentrope_flux
from lpgrelease.release.jet import Jet, expanded_jet
from lpgrelease.release.line import Line, line_release
from lpgrelease.release.line_coefficient import LineCoefficient
from lpgrelease.release.liquid import liquid_release
from lpgrelease.release.non_equilibrium import (
    boiling_delay,
    equilibrium_rate_flux,
    frozen_nozzle,
    length_relaxed_flux,
)
from lpgrelease.release.omega import (
    omega_critical_ratio,
    omega_flow,
    omega_from_densities,
    omega_from_properties,
)
from lpgrelease.release.opening import Opening
from lpgrelease.release.rate import ReleaseRate
from lpgrelease.release.two_phase import two_phase_release
from lpgrelease.release.vapor import vapor_release

__all__ = [
    "FITTINGS",
    "DischargeGuidance",
    "DropFall",
    "Jet",
    "Line",
    "LineCoefficient",
    "Opening",
    "RainOut",
    "ReleaseRate",
    "aerodynamic_drop_diameter",
    "boiling_delay",
    "critical_flow_function",
    "critical_pressure_ratio",
    "darcy_friction_factor",
    "discharge_guidance",
    "drop_fall",
    "equilibrium_rate_flux",
    "expanded_jet",
    "frozen_nozzle",
    "ideal_gas_release",
    "isentrope_flux",
    "length_relaxed_flux",
    "line_release",
    "liquid_release",
    "loss_coefficient",
    "omega_critical_ratio",
    "omega_flow",
    "omega_from_densities",
    "omega_from_properties",
    "rain_out_by_flash",
    "slit_diameter",
    "terminal_velocity",
    "two_phase_release",
    "vapor_release",
]
