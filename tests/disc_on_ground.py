"""A cold disc on ground that freezes, in two dimensions: finite volumes, independent of the package."""

from __future__ import annotations

import dataclasses

import numpy as np
from scipy.sparse import csc_matrix, diags
from scipy.sparse.linalg import splu


@dataclasses.dataclass
class DiscOnGround:
    """Radius [m] and ground; temperatures in degC. The surface beside the disc is insulated."""

    radius: float
    thawed: tuple[float, float]
    """Conductivity [W/m/K] and heat capacity per volume [J/m3/K]."""
    frozen: tuple[float, float]
    latent: float
    start: float
    disc: float
    freezing_range: float = 3.0

    def __post_init__(self) -> None:
        """Lay out the cells: fine below the disc and about its edge."""
        z = stretched(6e-4, 1.24, 12.0)
        out = stretched(0.006 * self.radius, 1.4, 12.0 * self.radius + 8.0)
        edge = stretched(0.006 * self.radius, 1.4, 0.99 * self.radius)
        inner = self.radius - edge[::-1]
        r = np.concatenate([[0.0], inner[inner > 1e-9 * self.radius], self.radius + out[1:]])
        self.r, self.z = r, z
        self.dz = np.diff(z)
        self.ring = np.pi * np.diff(r**2)
        self.cold = 0.5 * (r[1:] + r[:-1]) < self.radius
        self.volume = self.ring[:, None] * self.dz[None, :]
        self.pairs = self._pairs()

    def _pairs(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Neighbors, and area over distance of each pair [m]."""
        index = np.arange(self.volume.size).reshape(self.volume.shape)
        middle_r, middle_z = 0.5 * (self.r[1:] + self.r[:-1]), 0.5 * (self.z[1:] + self.z[:-1])
        down = self.ring[:, None] / np.diff(middle_z)[None, :]
        out = (2 * np.pi * self.r[1:-1] / np.diff(middle_r))[:, None] * self.dz[None, :]
        first = np.concatenate([index[:, :-1].ravel(), index[:-1].ravel()])
        second = np.concatenate([index[:, 1:].ravel(), index[1:].ravel()])
        return first, second, np.concatenate([down.ravel(), out.ravel()])

    def potential(self, T):
        """Integral of the conductivity from the freezing point [W/m], and the conductivity."""
        k = np.where(T < 0.0, self.frozen[0], self.thawed[0])
        return k * T, k

    def stored(self, T):
        """Heat per volume, and its rise by the temperature."""
        C = np.where(T < 0.0, self.frozen[1], self.thawed[1])
        melted = np.clip(1.0 + T / self.freezing_range, 0.0, 1.0)
        slope = np.where((melted > 0.0) & (melted < 1.0), self.latent / self.freezing_range, 0.0)
        return C * T + self.latent * melted, C + slope

    def heat(self, end: float, growth: float = 0.1, first: float = 0.2):
        """Times, and heat through the disc since the start [J]: implicit steps, balances exact."""
        T = np.full(self.volume.size, self.start)
        volume, n = self.volume.ravel(), self.volume.size
        H = volume * self.stored(T)[0]
        one, two, shape = self.pairs
        top = np.zeros(self.volume.shape)
        top[self.cold, 0] = self.ring[self.cold] / (0.5 * self.dz[0])
        top = top.ravel()
        U_disc = self.potential(np.array(self.disc))[0]
        times, heats, t, heat = [0.0], [0.0], 0.0, 0.0
        while t < end:
            dt = min(max(first, growth * t), end - t)
            for _ in range(2):
                U, k = self.potential(T)
                h, C = self.stored(T)
                flow = shape * (U[two] - U[one])
                gain = np.bincount(one, flow, n) - np.bincount(two, flow, n) - top * (U - U_disc)
                matrix = diags(volume * C + dt * top * k) + dt * csc_matrix(
                    (
                        np.concatenate([shape * k[one], -shape * k[two], shape * k[two], -shape * k[one]]),
                        (np.concatenate([one, one, two, two]), np.concatenate([one, two, two, one])),
                    ),
                    shape=(n, n),
                )
                T = T + splu(matrix.tocsc()).solve(H - volume * h + dt * gain)
            U = self.potential(T)[0]
            flow = shape * (U[two] - U[one])
            out = top * (U - U_disc)
            H = H + dt * (np.bincount(one, flow, n) - np.bincount(two, flow, n) - out)
            t, heat = t + dt, heat + dt * out.sum()
            times.append(t)
            heats.append(heat)
        return np.array(times), np.array(heats)


def stretched(first: float, factor: float, end: float) -> np.ndarray:
    """Points from 0 to `end`, each step longer than the last."""
    steps = [first]
    while sum(steps) < end:
        steps.append(steps[-1] * factor)
    x = np.concatenate([[0.0], np.cumsum(steps)])
    return x * (end / x[-1])
