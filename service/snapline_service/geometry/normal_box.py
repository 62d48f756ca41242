"""The probability of a box under a normal distribution of up to three correlated quantities.

Exact to about 1e-9 and the same every time, where the usual lattice rules for many dimensions are random:
two quantities by Owen's T function (D. B. Owen, Annals of Mathematical Statistics 27, 1956), the third by
Gauss–Legendre quadrature over the first.
"""

from collections.abc import Iterator

import numpy as np
import scipy
from numpy.typing import NDArray

Array = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(20)
_FAR = 8.5  # standard deviations; beyond lies 1e-17
_LEAST_SLOPE = 1e-9  # what leans less on the first than this stays where it is over all of its range
_LEAST_VARIANCE = 1e-9  # kept free, so that quantities which determine each other stay computable


def probability_in_box(low: Array, high: Array, covariance: Array) -> float:
    """Return the probability that centred normal quantities lie between their limits, all at once."""
    u = np.sqrt(np.diag(covariance))
    low, high = low / u, high / u
    correlation = covariance / np.outer(u, u)
    if len(u) == 1:
        return float(scipy.special.ndtr(high[0]) - scipy.special.ndtr(low[0]))
    if len(u) == 2:
        return float(_rectangle(low, high, _bounded(correlation[0, 1])))
    return _over_the_first(low, high, correlation)


def _over_the_first(low: Array, high: Array, correlation: Array) -> float:
    slope = correlation[0, 1:]
    spread = np.sqrt(np.maximum(1.0 - slope**2, _LEAST_VARIANCE))
    rho = _bounded((correlation[1, 2] - slope[0] * slope[1]) / (spread[0] * spread[1]))
    start, end = max(low[0], -_FAR), min(high[0], _FAR)
    if start >= end:
        return 0.0
    bends = (place for place in _bends(low, high, slope, spread) if start < place < end)
    edges = np.array([start, *sorted(bends), end])
    half = np.diff(edges) / 2.0
    first = ((edges[:-1] + half)[:, None] + half[:, None] * _NODES).ravel()
    weights = (half[:, None] * _WEIGHTS).ravel() * np.exp(-(first**2) / 2.0) / np.sqrt(2.0 * np.pi)
    shift = slope[:, None] * first
    inside = _rectangle(
        (low[1:, None] - shift) / spread[:, None], (high[1:, None] - shift) / spread[:, None], rho
    )
    return float(np.clip(weights @ inside, 0.0, 1.0))


def _bends(low: Array, high: Array, slope: Array, spread: Array) -> Iterator[float]:
    """Yield the places between which the probability of the other two changes smoothly."""
    for limits in (low, high):
        for limit, along, width in zip(limits[1:], slope, spread, strict=True):
            if abs(along) > _LEAST_SLOPE:
                yield from ((limit + side * width) / along for side in (-_FAR, -2.0, 0.0, 2.0, _FAR))


def _rectangle(low: Array, high: Array, rho: float) -> Array:
    """Return the probability of rectangles under the standard bivariate normal distribution."""
    (a, c), (b, d) = low, high
    found = _corner(b, d, rho) - _corner(a, d, rho) - _corner(b, c, rho) + _corner(a, c, rho)
    return np.maximum(found, 0.0)


def _corner(h: Array, k: Array, rho: float) -> Array:
    """Return P(X < h and Y < k)."""
    h, k = (np.where(np.abs(v) < 1e-200, 1e-200, v) for v in (h, k))
    root = np.sqrt(1.0 - rho * rho)
    opposite = np.where(h * k < 0.0, 0.5, 0.0)
    both = scipy.special.owens_t(h, (k / h - rho) / root) + scipy.special.owens_t(k, (h / k - rho) / root)
    return np.asarray((scipy.special.ndtr(h) + scipy.special.ndtr(k)) / 2.0 - both - opposite)


def _bounded(rho: float) -> float:
    limit = float(np.sqrt(1.0 - _LEAST_VARIANCE))
    return min(max(float(rho), -limit), limit)
