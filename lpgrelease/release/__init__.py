"""Release rates through openings: vapor, liquid and boiling mixtures."""

from lpgrelease.release.liquid import liquid_release
from lpgrelease.release.opening import Opening
from lpgrelease.release.rate import ReleaseRate
from lpgrelease.release.two_phase import two_phase_release
from lpgrelease.release.vapor import vapor_release

__all__ = ["Opening", "ReleaseRate", "liquid_release", "two_phase_release", "vapor_release"]
