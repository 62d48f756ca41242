"""Least squares with correlated observations: Gauss–Newton, covariance, and tests for a bad observation.

The a priori covariance is believed: it is not scaled by what the residuals turn out to be. Formulas as in
P. J. G. Teunissen, Testing Theory (2000), after W. Baarda (1968).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_MAX_STEPS = 100
_MAX_ROUNDS = 10
# A step that changes the predictions by less than this, in standard deviations and relative to the misfit, is
# the last one: squared, as the descent compares it, it would soon drown in rounding.
_SETTLED = 1e-6
_SAME_PLACE = 1e-3  # standard deviations; the covariance of the observations is the same there
_HALVINGS = 30
_UNTESTABLE = 1e-9  # share of an observation that the others can check


class Model(Protocol):
    """What is predicted for the observations at given parameters, and how uncertain they are there."""

    def predict(self, at: Array) -> Array:
        """Return the predicted observations, shape (m,)."""

    def slopes(self, at: Array) -> Array:
        """Return their derivatives by the parameters, shape (m, n)."""

    def covariance(self, at: Array) -> Array:
        """Return the covariance of what was observed, shape (m, m), positive definite."""


@dataclass(frozen=True, slots=True, eq=False)
class Adjustment:
    """The best parameters, and what is left over.

    ``residuals`` are observed minus adjusted. ``weighted_residuals`` are S⁻¹e and ``weighted_covariance`` is
    their covariance S⁻¹QS⁻¹, S being the observations' covariance and Q that of e. ``whitening`` is the
    inverse of S's lower Cholesky factor. ``condition`` is that of the slopes, free of units: where it is
    very large the observations do not fix the parameters.
    """

    at: Array
    covariance: Array
    residuals: Array
    slopes: Array
    whitening: Array
    weighted_residuals: Array
    weighted_covariance: Array
    chi2: float
    settled: bool
    condition: float

    @property
    def dof(self) -> int:
        """Return how many observations are more than needed."""
        return len(self.residuals) - len(self.at)

    @property
    def testable(self) -> NDArray[np.bool_]:
        """Return which observations the others can check at all."""
        alone = np.sum(self.whitening**2, axis=0)  # diagonal of S⁻¹
        checked = np.diag(self.weighted_covariance) > _UNTESTABLE * alone
        return checked if self.dof > 0 else np.zeros_like(checked)


def adjust(model: Model, observed: Array, start: Array) -> Adjustment:
    """Fit a model to observations, starting from parameters near the wanted minimum.

    The covariance is renewed until it belongs to the place found. Raises numpy.linalg.LinAlgError for a
    covariance that is not positive definite.
    """
    at = np.asarray(start, dtype=np.float64)
    settled = False
    for _ in range(_MAX_ROUNDS):
        whitening = np.linalg.inv(np.linalg.cholesky(model.covariance(at)))
        before = at
        at, settled = _descend(model, whitening, observed, at)
        moved = whitening @ (model.predict(at) - model.predict(before))
        if not settled or np.linalg.norm(moved) < _SAME_PLACE:
            break
    return _described(model, whitening, observed, at, settled)


def _descend(model: Model, whitening: Array, observed: Array, at: Array) -> tuple[Array, bool]:
    """Return the minimum under a fixed covariance, and whether it was reached."""
    misfit = whitening @ (observed - model.predict(at))
    for _ in range(_MAX_STEPS):
        slopes = whitening @ model.slopes(at)
        step = np.asarray(np.linalg.lstsq(slopes, misfit)[0], dtype=np.float64)
        effect = np.linalg.norm(slopes @ step) / (1.0 + np.linalg.norm(misfit))
        if effect < _SETTLED:
            return at + step, True
        for trial in _shorter_and_shorter(at, step):
            new_misfit = whitening @ (observed - model.predict(trial))
            if new_misfit @ new_misfit < misfit @ misfit:
                at, misfit = trial, new_misfit
                break
        else:
            return at, False
    return at, False


def _shorter_and_shorter(at: Array, step: Array) -> Iterator[Array]:
    for halving in range(_HALVINGS):
        yield at + step * 0.5**halving


def _described(model: Model, whitening: Array, observed: Array, at: Array, settled: bool) -> Adjustment:
    residuals, slopes = observed - model.predict(at), model.slopes(at)
    white_slopes, white_residuals = whitening @ slopes, whitening @ residuals
    sizes = np.linalg.norm(white_slopes, axis=0)
    sizes[sizes == 0.0] = 1.0
    basis, singular, directions = np.linalg.svd(white_slopes / sizes, full_matrices=False)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        inverse = directions.T / singular / sizes[:, None]
        condition = float(singular[0] / singular[-1])
    # The part of each observation that no change of the parameters can explain.
    unexplained = whitening - basis @ (basis.T @ whitening)
    return Adjustment(
        at=at,
        covariance=inverse @ inverse.T,
        residuals=residuals,
        slopes=slopes,
        whitening=whitening,
        weighted_residuals=unexplained.T @ white_residuals,
        weighted_covariance=unexplained.T @ unexplained,
        chi2=float(white_residuals @ white_residuals),
        settled=settled,
        condition=condition,
    )
