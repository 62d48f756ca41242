"""Which further distance would help most, worked out before anybody measures it.

A new distance is predicted from those there are; what it tells beyond the prediction has the variance g. It
takes (C r)²/g from the variances of the pose, and adds a²/g to how well each observation is checked, r and a
being its derivatives by pose and by observation with the prediction taken off.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray

from snapline_service.geometry.as_set_distances import Distances
from snapline_service.geometry.as_set_values import Body, Distance
from snapline_service.geometry.least_squares import Adjustment
from snapline_service.geometry.marks import Marks

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Extra:
    """A distance worth measuring, and the standard uncertainties of the wanted quantities with it."""

    mark: str
    foot: int
    u: Array


@dataclass(frozen=True, slots=True, eq=False)
class Extras:
    """Distances that were not measured, and what each would tell."""

    candidates: tuple[Distance, ...]
    gains: Array  # C r, shape (candidates, parameters)
    shares: Array  # a of the observations there are and of the new one, shape (candidates, m + 1)
    variances: Array  # g
    fitted: Adjustment

    def for_proof(self, wanted: Array, tolerances: Array) -> Extra | None:
        """Return the one that makes the largest u / tolerance smallest, of quantities linear in the pose."""
        if not self.candidates:
            return None
        now = np.einsum("ij,jk,ik->i", wanted, self.fitted.covariance, wanted)
        left = np.maximum(now - (self.gains @ wanted.T) ** 2 / self.variances[:, None], 0.0)
        best = int(np.argmin((left / tolerances**2).max(axis=1).round(12)))
        return Extra(self.candidates[best].mark, self.candidates[best].foot, np.sqrt(left[best]))

    def for_check(self) -> Distance | None:
        """Return the one that leaves the smallest slip anywhere to go unnoticed."""
        if not self.candidates:
            return None
        checked = np.append(np.diag(self.fitted.weighted_covariance), 0.0)
        checked = checked + self.shares**2 / self.variances[:, None]
        return self.candidates[int(np.argmax(checked.min(axis=1).round(12)))]

    def for_locating(self, rows: Sequence[int]) -> Distance | None:
        """Return the one with which the tests of some observations, all equal now, differ most."""
        if not self.candidates:
            return None
        shares = self.shares[:, list(rows)]
        now = self.fitted.weighted_covariance[np.ix_(rows, rows)]
        then = now + shares[:, :, None] * shares[:, None, :] / self.variances[:, None, None]
        scatter = np.sqrt(np.einsum("kii->ki", then))
        alike = np.abs(then) / (scatter[:, :, None] * scatter[:, None, :])
        alike[:, np.arange(len(rows)), np.arange(len(rows))] = 0.0
        return self.candidates[int(np.argmin(alike.max(axis=(1, 2)).round(12)))]


def not_measured(marks: Iterable[str], feet: int, distances: Sequence[Distance]) -> tuple[Distance, ...]:
    """Return the distances from marks to the feet of a body that nobody measured, with the same tape."""
    taken = {(one.mark, one.foot) for one in distances}
    u_mm = median(one.u_mm for one in distances)
    pairs = ((mark, foot) for mark in marks for foot in range(feet))
    return tuple(Distance(mark, foot, 0.0, u_mm) for mark, foot in pairs if (mark, foot) not in taken)


def extras(
    model: Distances,
    fitted: Adjustment,
    marks: Marks,
    bodies: Sequence[Body],
    candidates: Sequence[Distance],
) -> Extras:
    """Return what each of some further distances would tell."""
    if not candidates:
        nothing = np.zeros((0, 0))
        return Extras((), nothing, nothing, nothing, fitted)
    new = Distances(marks, bodies, candidates)
    new_slopes, new_spread = new.slopes(fitted.at), new.spread(fitted.at)
    shared = new_spread @ marks.covariance_mm2 @ model.spread(fitted.at).T
    weights = fitted.whitening.T @ fitted.whitening
    predicted = shared @ weights
    slopes = new_slopes - predicted @ fitted.slopes
    own = np.array([one.u_mm**2 for one in candidates]) + np.einsum(
        "ij,jk,ik->i", new_spread, marks.covariance_mm2, new_spread
    )
    gains = slopes @ fitted.covariance
    by_observation = predicted + gains @ fitted.slopes.T @ weights
    return Extras(
        tuple(candidates),
        gains,
        np.hstack([-by_observation, np.ones((len(candidates), 1))]),
        own - np.einsum("ij,ij->i", predicted, shared) + np.einsum("ij,ij->i", gains, slopes),
        fitted,
    )
