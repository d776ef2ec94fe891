"""Properties against correlations of the library chemicals, fitted by others to measurements.

Transport properties that CoolProp lacks come from those correlations and must equal them in their range.
"""

from __future__ import annotations

import chemicals
import numpy as np
import pytest
import thermo
from chemicals import phase_change, thermal_conductivity, vapor_pressure, viscosity, volume
from strategies import FLUIDS

import lpgrelease as lr
from lpgrelease.constants import GAS_CONSTANT
from lpgrelease.fluids import fit_equations
from lpgrelease.fluids.fitted import equation_from, fitted_records

# chemicals 1.5 reads its tables with an argument that pandas 3 deprecates
pytestmark = [
    pytest.mark.filterwarnings("ignore:The 'float_precision' argument"),
    # thermo 0.6 does not close the list of CoolProp's fluids that it reads
    pytest.mark.filterwarnings("ignore:unclosed file:ResourceWarning"),
]

EQUATIONS = {
    "liquid_viscosity": (viscosity, "mu_data_Perrys_8E_2_313", chemicals.EQ101, 5),
    "vapor_viscosity": (viscosity, "mu_data_Perrys_8E_2_312", chemicals.EQ102, 4),
    "liquid_conductivity": (thermal_conductivity, "k_data_Perrys_8E_2_315", chemicals.EQ100, 5),
    "vapor_conductivity": (thermal_conductivity, "k_data_Perrys_8E_2_314", chemicals.EQ102, 4),
}
BUTENES = ("1-butene", "isobutene")
OTHERS = ("ethylene", "1,3-butadiene", "vinyl chloride", "methyl chloride", "ethylene oxide", "methylamine")
FALLBACKS = [
    *((name, field) for name in (*BUTENES, *OTHERS, "sulfur dioxide", "chlorine") for field in EQUATIONS),
    ("dimethyl ether", "liquid_conductivity"),
    ("dimethyl ether", "vapor_conductivity"),
]


@pytest.mark.parametrize(("name", "field"), FALLBACKS)
def test_transport_without_a_reference_correlation_equals_the_published_one(name, field):
    fluid = lr.Fluid(name)
    module, table, equation, number = EQUATIONS[field]
    row = getattr(module, table).loc[fluid.substance.cas]
    low, high = fluid.table.origin["transport_ranges"][field]
    assert low == max(row["Tmin"], fluid.lowest_temperature)
    assert high == min(row["Tmax"], fluid.highest_temperature)
    # the end of a range is a kink inside a segment of the table, at most 2 % of the range wide: keep off it
    margin = 0.02 * fluid.critical_temperature
    inside = [t for t in np.linspace(low, high, 60) if low == fluid.lowest_temperature or t > low + margin]
    inside = [t for t in inside if high == fluid.highest_temperature or t < high - margin]
    published = [equation(t, *(row[f"C{i}"] for i in range(1, number + 1))) for t in inside]
    served = fluid.saturated(np.array(inside), field)[0]
    np.testing.assert_allclose(served, published, rtol=1e-6)
    assert "green2007handbook" in fluid.table.origin["transport_sources"].values()


CORRELATED = {
    "liquid_viscosity": ("ViscosityLiquid", "REFPROP_FIT"),
    "vapor_viscosity": ("ViscosityGas", "REFPROP_FIT"),
    "liquid_conductivity": ("ThermalConductivityLiquid", "REFPROP_FIT"),
    "vapor_conductivity": ("ThermalConductivityGas", "REFPROP_FIT"),
    "surface_tension": ("SurfaceTension", "REFPROP_FIT"),
}


@pytest.mark.parametrize("field", CORRELATED)
@pytest.mark.parametrize("name", ["propylene oxide", "nitrous oxide"])
def test_transport_without_tables_of_chemicals_equals_the_correlation_of_thermo(name, field):
    fluid = lr.Fluid(name)
    if name == "nitrous oxide" and field == "surface_tension":
        assert fluid.table.origin["transport_sources"]["tension"] == "mulero2012tension"
        return
    kind, method = CORRELATED[field]
    model = getattr(thermo, kind)(CASRN=fluid.substance.cas)
    low, high = model.T_limits[method]
    low = max(low, fluid.lowest_temperature)
    inside = np.linspace(low, min(high, fluid.highest_temperature) - 0.02 * fluid.critical_temperature, 60)
    if field != "surface_tension":
        assert fluid.table.origin["transport_ranges"][field] == [low, min(high, fluid.highest_temperature)]
    published = [model.calculate(t, method) for t in inside]
    # 1.1e-6 at the triple point, where the viscosity of the liquid is steepest in a table of degree five
    np.testing.assert_allclose(fluid.saturated(inside, field)[0], published, rtol=2e-6)
    assert set(fluid.table.origin["transport_sources"].values()) <= {"bell2016thermo", "mulero2012tension"}


def test_transport_of_propylene_oxide_beside_others():
    fluid = lr.Fluid("propylene oxide")
    # a dictionary of chemicals on the web: 0.28 mPa s at 25 degC, 24.5 mN/m (at 15 degC, from memory of the
    # sheet it was taken from); vdi2010heatatlas at 307.5 K: 0.278 mPa s, vapor 9.1 uPa s, 147 mW/m/K,
    # vapor 12.1 mW/m/K, 19.9 mN/m. 10 % is what such correlations are good for; the conductivity of the
    # vapor 30 %: there the two sources are 26 % apart, and no measurement was found
    cool, warm = fluid.transport(temperature=298.15), fluid.transport(temperature=307.5)
    assert float(cool.liquid_viscosity) == pytest.approx(0.28e-3, rel=0.12)
    assert float(fluid.transport(temperature=288.15).surface_tension) == pytest.approx(24.5e-3, rel=0.01)
    assert float(warm.liquid_viscosity) == pytest.approx(0.278e-3, rel=0.1)
    assert float(warm.vapor_viscosity) == pytest.approx(9.1e-6, rel=0.1)
    assert float(warm.liquid_conductivity) == pytest.approx(0.147, rel=0.11)
    assert float(warm.vapor_conductivity) == pytest.approx(0.0121, rel=0.3)
    assert float(warm.surface_tension) == pytest.approx(19.9e-3, rel=0.1)


# -- other origins, as the library ships them: vdi2010heatatlas (PPDS equations), hankinson1979costald ----


def temperatures(fluid):
    """From 50 kPa to 60 degC or 0.9 of the critical temperature: what this library is for."""
    cold = fluid.lowest_temperature  # carbon dioxide and nitrous oxide: their triple points
    if fluid.name not in ("carbon dioxide", "nitrous oxide"):
        cold = float(fluid.saturation(pressure=50e3).temperature)
    return np.linspace(cold, min(333.15, 0.9 * fluid.critical_temperature), 20)


def row_of(module, table, name):
    frame = getattr(module, table)
    cas = lr.Fluid(name).substance.cas
    return frame.loc[cas] if cas in frame.index else None


IN_ATLAS = sorted(set(FLUIDS) - {"isobutene", "R134a", "propylene oxide"})


@pytest.mark.parametrize("name", IN_ATLAS)
def test_vapor_pressure_of_the_heat_atlas(name):
    fluid, row = lr.Fluid(name), row_of(vapor_pressure, "Psat_data_VDI_PPDS_3", name)
    t = temperatures(fluid)
    x = 1.0 - t / row.Tc
    wagner = row.A * x + row.B * x**1.5 + row.C * x**2.5 + row.D * x**5
    # 0.5 %: the scatter among good vapor pressure measurements, and critical constants that differ; chlorine
    # 1 %, methyl chloride 2 % (an equation of few terms), vinyl chloride 3 % (the atlas has a critical
    # temperature of 432 K, measured since at 425 K)
    wider = {"chlorine": 0.01, "methyl chloride": 0.02, "vinyl chloride": 0.03}
    np.testing.assert_allclose(
        fluid.saturation(temperature=t).pressure,
        row.Pc * np.exp(row.Tc / t * wagner),
        rtol=wider.get(name, 5e-3),
    )


@pytest.mark.parametrize("name", IN_ATLAS)
def test_latent_heat_of_the_heat_atlas(name):
    fluid, row = lr.Fluid(name), row_of(phase_change, "phase_change_data_VDI_PPDS_4", name)
    t = temperatures(fluid)
    x = 1.0 - t / row.Tc
    molar = row.A * x ** (1 / 3) + row.B * x ** (2 / 3) + row.C * x + row.D * x**2 + row.E * x**6
    atlas = GAS_CONSTANT * row.Tc * molar / fluid.molar_mass
    # 0.5 %: calorimetric scatter; dimethyl ether 2.5 %, the atlas predates wu2011ether; 1 % chlorine and the
    # two fitted here; ethylene oxide and vinyl chloride 2 %, whose equations are newer than the atlas too;
    # methyl chloride 3.5 % at 60 degC, where its equation is too steep
    wider = {
        "dimethyl ether": 0.025,
        "vinyl chloride": 0.02,
        "methyl chloride": 0.035,
        "ethylene oxide": 0.02,
    }
    wider |= dict.fromkeys(("chlorine", "1,3-butadiene", "methylamine"), 0.01)
    tolerance = wider.get(name, 0.005)
    np.testing.assert_allclose(fluid.saturation(temperature=t).latent_heat, atlas, rtol=tolerance)


@pytest.mark.parametrize("name", IN_ATLAS)
def test_liquid_density_of_the_heat_atlas(name):
    fluid, row = lr.Fluid(name), row_of(volume, "rho_data_VDI_PPDS_2", name)
    t = temperatures(fluid)
    x = 1.0 - t / row.Tc
    atlas = row.rhoc + row.A * x**0.35 + row.B * x ** (2 / 3) + row.C * x + row.D * x ** (4 / 3)
    # 0.5 %: spread of density measurements; dimethyl ether 1.5 %, whose data at the time were sparse; 1 %
    # vinyl chloride and ethylene oxide, whose equations are newer than the atlas
    wider = {"dimethyl ether": 0.015, "vinyl chloride": 0.01, "ethylene oxide": 0.01}
    tolerance = wider.get(name, 0.005)
    np.testing.assert_allclose(fluid.saturation(temperature=t).liquid_density, atlas, rtol=tolerance)


# ethylene is left out: the volume the library ships for it gives densities 15 to 21 % above all others;
# the others are not in the table
NOT_IN_COSTALD = {"dimethyl ether", "vinyl chloride", "methyl chloride", "methylamine", "R134a"}
NOT_IN_COSTALD |= {"propylene oxide"}


@pytest.mark.parametrize("name", sorted(set(FLUIDS) - NOT_IN_COSTALD - {"ethylene"}))
def test_liquid_density_of_costald(name):
    fluid, row = lr.Fluid(name), row_of(volume, "rho_data_COSTALD", name)
    t = temperatures(fluid)
    cold = [chemicals.COSTALD(one, fluid.critical_temperature, row.Vchar, row.omega_SRK) for one in t]
    # hankinson1979costald: some 0.4 % on average for hydrocarbons (from memory), and made for them:
    # 1 %, and 2 % for polar ammonia and for nitrous oxide
    tolerance = 0.02 if name in ("ammonia", "nitrous oxide") else 0.01
    np.testing.assert_allclose(
        fluid.saturation(temperature=t).liquid_density, fluid.molar_mass / np.array(cold), rtol=tolerance
    )


@pytest.mark.parametrize("name", sorted(set(FLUIDS) - {"R134a", "propylene oxide"}))
def test_perrys_tables_as_the_library_evaluates_them(name):
    fluid = lr.Fluid(name)
    cas, t = fluid.substance.cas, temperatures(fluid)
    state = fluid.saturation(temperature=t)
    heat = phase_change.phase_change_data_Perrys2_150.loc[cas]
    latent = [
        chemicals.EQ106(one, heat.Tc, *(heat[f"C{i}"] for i in range(1, 5))) / fluid.molar_mass for one in t
    ]
    pressure = vapor_pressure.Psat_data_Perrys2_8.loc[cas]
    vapor = [chemicals.EQ101(one, *(pressure[f"C{i}"] for i in range(1, 6))) for one in t]
    density = volume.rho_data_Perry_8E_105_l.loc[cas]
    liquid = [chemicals.EQ105(one, *(density[f"C{i}"] for i in range(1, 5))) * fluid.molar_mass for one in t]
    # green2007handbook, Tables 2-8, 2-32 and 2-150: regressions rated 1, 3 or 5 %; 3 % covers all but the
    # vapor pressures of sulfur dioxide and of nitrous oxide (which vdi2010heatatlas gives within 0.5 %)
    wider = 0.05 if name in ("sulfur dioxide", "nitrous oxide") else 0.03
    np.testing.assert_allclose(state.latent_heat, latent, rtol=0.03)
    np.testing.assert_allclose(state.pressure, vapor, rtol=wider)
    np.testing.assert_allclose(state.liquid_density, liquid, rtol=0.03)


# -- equations fitted here ------------------------------------------------------------------------------

# vapor pressure (by Gibbs energy over RT), density, latent heat, heat capacity, second virial coefficient:
# worst relative errors that the page on fluid properties tells, to 0.995 of the critical temperature
WORST = {
    "1,3-butadiene": {"gibbs": 2e-3, "density": 1e-3, "latent": 0.015, "heat": 0.02, "virial": 0.06},
    "methylamine": {"gibbs": 2e-3, "density": 1e-3, "latent": 0.025, "heat": 0.06, "virial": 0.16},
    "propylene oxide": {"gibbs": 1.5e-3, "density": 2e-3, "latent": 0.002, "heat": 0.01, "virial": 0.15},
}


@pytest.mark.parametrize("name", WORST)
def test_fitted_equations_are_as_near_their_data_as_told(name):
    record = fitted_records()[name]
    data = fit_equations.data_of(lr.Fluid(name).substance)
    found = fit_equations.residuals(equation_from(record), data)
    for kind, limit in WORST[name].items():
        worst = np.abs(found[kind]).max()
        assert worst == pytest.approx(record["worst"][kind], rel=1e-6)
        assert worst < limit
