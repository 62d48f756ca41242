"""Whether the observations agree with each other and, if not, which one is wrong.

The global test compares e'S⁻¹e with χ²(1 − α, dof). The w-test of one observation (Baarda 1968) is
w = (S⁻¹e)ᵢ / √qᵢ with qᵢ = (S⁻¹QS⁻¹)ᵢᵢ; a slip of δ₀/√qᵢ would be found with a power of 80 %.
"""

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from snapline_service.geometry.least_squares import Adjustment

POWER = 0.80
# Two tests that are this much the same cannot tell which of the two observations is wrong.
_SAME = 0.99


@dataclass(frozen=True, slots=True)
class GlobalTest:
    """Whether the observations agree as a whole; with nothing to spare there is no test and no answer."""

    value: float
    dof: int
    critical: float | None
    passed: bool | None


@dataclass(frozen=True, slots=True)
class Checked:
    """One observation. A positive ``w`` is one that came out too large; ``mdb`` is the smallest slip found.

    Both are None where no other observation checks it.
    """

    residual: float
    w: float | None
    mdb: float | None
    suspect: bool


def global_test(adjustment: Adjustment, alpha: float) -> GlobalTest:
    """Test all observations together at the level ``alpha``."""
    value, dof = adjustment.chi2, adjustment.dof
    if dof == 0:
        return GlobalTest(value, dof, None, None)
    critical = float(scipy.special.chdtri(dof, alpha))
    return GlobalTest(value, dof, critical, value <= critical)


def w_tests(adjustment: Adjustment, alpha: float) -> tuple[Checked, ...]:
    """Test each observation at the level ``alpha``, two-sided.

    Suspect is the one that stands out most, together with those that cannot be told apart from it. It is
    nobody where that is every one that can be tested: a slip was found and not located.
    """
    testable = adjustment.testable
    scatter = np.sqrt(np.where(testable, np.diag(adjustment.weighted_covariance), 1.0))
    w = np.where(testable, adjustment.weighted_residuals / scatter, 0.0)
    smallest = detectable(alpha) / scatter
    suspects = _suspects(adjustment, w, scatter, float(scipy.special.ndtri(1.0 - alpha / 2.0)))
    return tuple(
        Checked(
            residual=float(adjustment.residuals[i]),
            w=float(w[i]) if testable[i] else None,
            mdb=float(smallest[i]) if testable[i] else None,
            suspect=bool(suspects[i]),
        )
        for i in range(len(w))
    )


def detectable(alpha: float) -> float:
    """Return δ₀: how many standard deviations a slip needs to be found (4.13 at α = 0.001)."""
    return float(scipy.special.ndtri(1.0 - alpha / 2.0) + scipy.special.ndtri(POWER))


def _suspects(
    adjustment: Adjustment, w: NDArray[np.float64], scatter: NDArray[np.float64], critical: float
) -> NDArray[np.bool_]:
    testable, worst = adjustment.testable, int(np.argmax(np.abs(w)))
    if abs(w[worst]) <= critical:
        return np.zeros_like(testable)
    alike = np.abs(adjustment.weighted_covariance[worst]) > _SAME * scatter[worst] * scatter
    located = bool(np.any(testable & ~alike))
    return testable & alike if located else np.zeros_like(testable)
