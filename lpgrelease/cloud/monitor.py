"""What a combustible-gas monitor shows when it was calibrated on another gas."""

from __future__ import annotations

import csv
from importlib import resources

from lpgrelease.errors import InputError
from lpgrelease.fluids import Fluid
from lpgrelease.quantities import FloatArray
from lpgrelease.results import Result, plain, quantity, result

__all__ = ["MonitorReading", "sensor_correction_factor"]


def _read() -> dict[tuple[str, str], float]:
    text = (resources.files("lpgrelease") / "data" / "monitor_response.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#"))
    return {(row["fluid"], row["calibration_gas"]): float(row["factor"]) for row in rows}


_FACTORS = _read()


@result
class MonitorReading(Result):
    """Gas at a point, and what a monitor there shows of it."""

    mole_fraction: FloatArray = quantity("", "mole fraction of the gas")
    percent_of_limit: FloatArray = quantity("", "percent of its lower flammable limit, in truth")
    reading: FloatArray = quantity("", "percent of the lower limit on the display")
    correction_factor: FloatArray = quantity("", "by which the reading must be multiplied")
    cautions: tuple[str, ...] = plain("what to keep in mind before acting on it", default=())


def sensor_correction_factor(fluid: Fluid, calibration_gas: str = "methane") -> float:
    """Factor by which a catalytic monitor's reading is multiplied for `fluid`.

    Parameters
    ----------
    fluid : Fluid
        The gas that is there.
    calibration_gas : str
        The gas on which the monitor was calibrated: "methane", "propane", "n-butane", "n-pentane",
        "hydrogen".

    Returns
    -------
    float
        Above 1: the monitor shows too little.

    Raises
    ------
    InputError
        No published factor for the pair.

    Notes
    -----
    Published lists differ by about a quarter between makes; the list of the monitor in hand comes first.
    References: sacor2019catalogue; rae2016factors.

    Examples
    --------
    >>> from lpgrelease import Fluid
    >>> sensor_correction_factor(Fluid("propane"), "methane")
    1.62
    """
    if not isinstance(calibration_gas, str):
        raise InputError(f"calibration_gas must be a str, got {calibration_gas!r}")
    factor = _FACTORS.get((fluid.name, calibration_gas))
    if factor is None:
        known = ", ".join(gas for name, gas in _FACTORS if name == fluid.name) or "none"
        raise InputError(
            f"no published factor for {fluid.name} on a sensor calibrated with {calibration_gas!r}; known: "
            f"{known}; give correction_factor from the monitor's own list"
        )
    return factor
