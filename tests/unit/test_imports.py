"""Importing stays light: heavy packages load only when asked for, seen in fresh processes."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("CoolProp", "thermo", "chemicals", "pint", "scipy", "pandas", "xarray", "matplotlib")
HEAVY += ("pyarrow", "tqdm", "SALib", "dask")


def loaded_after(code: str) -> set[str]:
    """Heavy packages that a fresh interpreter has loaded after running `code`."""
    report = f"import sys; print(*[name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", f"{code}\n{report}"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


def test_the_probe_sees_what_is_loaded():
    assert "pint" in loaded_after("import pint")


@pytest.mark.parametrize(
    "code",
    [
        "import lpgrelease",
        "import lpgrelease as lr; lr.Fluid('propane').saturation(temperature=[290.0, 300.0])",
        "import lpgrelease as lr\n"
        "fluid = lr.Fluid('ammonia')\n"
        "repr(fluid.saturation(pressure=2e5)); fluid.transport(temperature=250.0)\n"
        "fluid.gas(temperature=300.0, pressure=1e5); fluid.liquid(temperature=250.0, pressure=1e6)\n"
        "fluid.flammable_limits, fluid.heat_of_combustion, lr.gauge(1e5)\n"
        "try: fluid.saturation(temperature='300')\n"
        "except lr.InputError: pass",
        "import lpgrelease as lr; lr.study; lr.uniform(0.0, 1.0)",
    ],
    ids=["import", "saturation", "every property", "studies"],
)
def test_nothing_heavy_is_loaded(code):
    assert loaded_after(code) == set()


def test_a_quantity_view_loads_what_pint_loads():
    code = "import lpgrelease as lr; lr.Fluid('propane').saturation(temperature=300.0).q.pressure"
    assert loaded_after(code) == loaded_after("import pint")


def test_the_package_imports_without_its_optional_packages():
    blocked = f"import sys\nfor name in {HEAVY!r}: sys.modules[name] = None\n"
    code = f"{blocked}import lpgrelease as lr\nlr.Fluid('propane').saturation(temperature=300.0)"
    report = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert report.returncode == 0, report.stderr
