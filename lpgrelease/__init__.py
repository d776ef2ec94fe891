"""Thermodynamics and release physics of liquefied gases.

The public names, loaded when first used so that ``import lpgrelease`` costs little more than NumPy.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

_HOMES = {
    "errors": ("ConvergenceError", "InputError", "LpgReleaseError", "OutOfRangeError", "ValidityWarning"),
    "quantities": ("gauge",),
    "fluids": ("Fluid",),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = ["__version__", *_HOME_OF]

if TYPE_CHECKING:
    from lpgrelease.errors import (
        ConvergenceError,
        InputError,
        LpgReleaseError,
        OutOfRangeError,
        ValidityWarning,
    )
    from lpgrelease.fluids import Fluid
    from lpgrelease.quantities import gauge


def __getattr__(name: str) -> Any:
    home = _HOME_OF.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{home}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
