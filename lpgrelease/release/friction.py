"""Friction factor of a pipe."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray, QuantityLike, broadcast, to_si

__all__ = ["darcy_friction_factor"]


def darcy_friction_factor(
    reynolds_number: QuantityLike, *, relative_roughness: QuantityLike = 0.0
) -> FloatArray:
    """Darcy friction factor at any Reynolds number, laminar to fully rough.

    Parameters
    ----------
    reynolds_number : number or array
        Re, above 0.
    relative_roughness : number or array
        Roughness over diameter, 0 to 0.05.

    Returns
    -------
    float or ndarray
        f (four times the Fanning factor).

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    f = 8 [(8/Re)**12 + (A + B)**-1.5]**(1/12), A = [2.457 ln(1/((7/Re)**0.9 + 0.27 e/d))]**16,
    B = (37530/Re)**16 (churchill1977friction): within a few percent of the implicit equation of
    colebrook1939turbulent from Re 4000 on; between laminar and turbulent flow no formula is sure. It is
    smooth throughout, as the flow through a line must be. A test holds it to the same formula in the library
    fluids, which takes numbers one by one.

    References
    ----------
    churchill1977friction, colebrook1939turbulent.

    Examples
    --------
    >>> print(f"{darcy_friction_factor(1e6, relative_roughness=1e-3):.4f}")
    0.0200
    """
    re = to_si(reynolds_number, "", "reynolds_number", lower=0.0, open_lower=True)
    rough = to_si(
        relative_roughness, "", "relative_roughness", lower=0.0, upper=0.05, why="roughness over diameter"
    )
    re, rough = broadcast(reynolds_number=re, relative_roughness=rough)
    return friction_factor(re, rough)


def friction_factor(re: FloatArray, rough: FloatArray) -> FloatArray:
    """`darcy_friction_factor`, unchecked."""
    a = (-2.457 * np.log((7.0 / re) ** 0.9 + 0.27 * rough)) ** 16
    b = (37530.0 / re) ** 16
    f: FloatArray = 8.0 * ((8.0 / re) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)
    return f
