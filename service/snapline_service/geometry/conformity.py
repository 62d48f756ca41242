"""Is it inside its tolerance, given how uncertain it is? JCGM 106:2012 with a guard band of z(1 − α) u.

The guard band is the one of ISO 14253-1 for α = 0.05 (1.645 u): the risk at each limit is α, so that a value
which just conforms can have a two-sided probability of only 1 − 2 α.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
import scipy
from numpy.typing import NDArray

from snapline_service.geometry.normal_box import probability_in_box

Array = NDArray[np.float64]
Judgement = Literal["conforms", "not_proven", "does_not_conform"]
Outcome = Literal["conforms", "not_proven", "does_not_conform", "measurements_disagree"]
_FROM_BEST: tuple[Outcome, ...] = get_args(Outcome)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What can be said of one axis, and the probability that its true error is inside both limits."""

    verdict: Judgement
    probability: float


def judge(error: float, u: float, tolerance: float, alpha: float) -> Verdict:
    """Judge an error with its standard uncertainty against limits of plus and minus a tolerance."""
    guard = guard_band(u, alpha)
    if abs(error) + guard <= tolerance:
        verdict: Judgement = "conforms"
    elif abs(error) - guard > tolerance:
        verdict = "does_not_conform"
    else:
        verdict = "not_proven"
    return Verdict(verdict, probability_inside(error, u, -tolerance, tolerance))


def judge_all(
    errors: Mapping[str, float],
    covariance: Array,
    tolerances: Mapping[str, float | None],
    alpha: float,
) -> tuple[dict[str, Verdict | None], float | None]:
    """Judge up to three correlated errors, each against its tolerance, and all of them together.

    An axis without a tolerance has no verdict and no part in the joint probability, which is None of none.
    """
    u = np.sqrt(np.diag(covariance))
    limits = {axis: limit for axis in errors if (limit := tolerances.get(axis)) is not None}
    verdicts = {
        axis: judge(error, float(u[row]), limits[axis], alpha) if axis in limits else None
        for row, (axis, error) in enumerate(errors.items())
    }
    if not limits:
        return verdicts, None
    rows = [row for row, axis in enumerate(errors) if axis in limits]
    half = np.array(list(limits.values()))
    middle = np.array([errors[axis] for axis in limits])
    return verdicts, probability_in_box(-half - middle, half - middle, covariance[np.ix_(rows, rows)])


def guard_band(u: float, alpha: float) -> float:
    """Return how far inside a limit a value must lie for a risk of ``alpha`` there."""
    return float(scipy.special.ndtri(1.0 - alpha)) * u


def probability_inside(value: float, u: float, low: float, high: float) -> float:
    """Return the probability that a quantity with a normal distribution lies between two limits."""
    if u == 0.0:
        return 1.0 if low <= value <= high else 0.0
    # Counted from the nearer tail, so that small probabilities keep their digits.
    side = -1.0 if value + value < low + high else 1.0
    from_low, from_high = sorted((side * (low - value) / u, side * (high - value) / u))
    return float(scipy.special.ndtr(from_high) - scipy.special.ndtr(from_low))


def outcome_of(agree: bool | None, verdicts: Iterable[Verdict | None]) -> Outcome:
    """Return what measurements prove as a whole: the worst verdict, if they agree with each other.

    Where nothing was to spare (``agree`` is None), or no axis has a tolerance, it is not proven at best.
    """
    if agree is False:
        return "measurements_disagree"
    found: list[str] = [one.verdict for one in verdicts if one is not None]
    if agree is None or not found:
        found.append("not_proven")
    return worst(found)


def worst(outcomes: Iterable[str]) -> Outcome:
    """Return the worst of some outcomes."""
    return _FROM_BEST[max(_FROM_BEST.index(one) for one in outcomes)]
