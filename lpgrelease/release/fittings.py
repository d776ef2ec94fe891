"""Loss coefficients of a line's inlet, valves and bends."""

from __future__ import annotations

import numpy as np

from lpgrelease.quantities import FloatArray, QuantityLike, require_word, to_si

__all__ = ["FITTINGS", "loss_coefficient"]

INLETS = {"rounded inlet": 0.04, "sharp inlet": 0.5, "projecting inlet": 0.78}
"""K itself."""
FACTORS = {
    "ball valve": 3.0,
    "gate valve": 8.0,
    "plug valve": 18.0,
    "angle valve": 150.0,
    "globe valve": 340.0,
    "swing check valve": 100.0,
    "lift check valve": 600.0,
    "long-radius elbow": 14.0,
    "45-degree elbow": 16.0,
    "standard elbow": 30.0,
    "return bend": 50.0,
    "tee, straight through": 20.0,
    "tee, through the branch": 60.0,
}
"""K over the friction factor of rough flow in clean commercial steel pipe of the same bore."""
FITTINGS = (*INLETS, *FACTORS)
SMALLEST, LARGEST = 0.01, 0.6
"""Bores [m] for which the factors are made."""


def loss_coefficient(*fittings: str, diameter: QuantityLike) -> FloatArray:
    """Sum of the loss coefficients K of fittings, for `Line`.

    Parameters
    ----------
    fittings : str
        Names of `FITTINGS`, each as often as it is there; valves wide open and of the line's full bore.
    diameter : number, array or quantity
        Bore D of the line and its fittings [m], 0.01 to 0.6.

    Returns
    -------
    float or ndarray
        Sum of K, shaped like `diameter`.

    Raises
    ------
    InputError, OutOfRangeError

    Notes
    -----
    K of an inlet is a number; of valves and bends it is a number times the friction factor of rough flow in
    steel pipe, f_T = (9.8055 + 0.8556 ln D)**-2 with D in meters, also in a smooth hose (crane2013flow; both
    through the library fluids, to which a test compares them; of tees from memory). A valve of reduced bore
    or one that is not wide open takes many times as much; excess-flow valves, couplings and breakaway devices
    are the makers'. The outlet's velocity head is no fitting: it is part of the flow.

    References
    ----------
    crane2013flow.

    Examples
    --------
    >>> from lpgrelease import Line
    >>> K = loss_coefficient("sharp inlet", "ball valve", "standard elbow", "standard elbow", diameter=0.0508)
    >>> print(f"{K:.2f}")
    1.70
    >>> hose = Line(diameter=0.0508, length=15.0, fittings=K)
    """
    for name in fittings:
        require_word(name, FITTINGS, "fitting")
    bore = to_si(diameter, "m", "diameter", lower=SMALLEST, upper=LARGEST, why="sizes of pipe")
    of_pipe = 1.0 / np.square(9.8055 + 0.8556 * np.log(bore))
    fixed = sum(INLETS.get(name, 0.0) for name in fittings)
    loss: FloatArray = fixed + of_pipe * sum(FACTORS.get(name, 0.0) for name in fittings)
    return loss
