"""Verdicts and probabilities against published figures, and the box against scipy."""

from math import isclose

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import multivariate_normal, norm

from snapline_service.geometry.conformity import (
    Verdict,
    guard_band,
    judge,
    judge_all,
    outcome_of,
    probability_inside,
)
from snapline_service.geometry.normal_box import probability_in_box


def test_the_example_of_jcgm_106() -> None:
    # JCGM 106:2012, 7.4: best estimate 13.6, u 1.8, limits 12.5 and 16.3; printed as 0.66.
    assert probability_inside(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.6626297865, abs=1e-9)


@pytest.mark.parametrize(("value", "outside"), [(10.0, 0.012419), (10.5, 0.105738), (12.0, 0.993790)])
def test_specific_risk(value: float, outside: float) -> None:
    # Public tests of suncal (test_risk.py): limits 9 to 11, standard deviation 0.4.
    assert 1 - probability_inside(value, 0.4, 9, 11) == pytest.approx(outside, abs=1e-5)


@pytest.mark.parametrize(
    ("in_tolerance", "percent"),
    [(0.6, 4.83860), (0.7, 3.92234), (0.8, 2.85583), (0.9, 1.59995), (0.95, 0.87101), (0.99, 0.19992)],
)
def test_global_false_accept(in_tolerance: float, percent: float) -> None:
    # NCSLI RP-19, table in the public tests of suncal: limits of 1, what is measured has a standard
    # deviation of 1 / z((1 + in tolerance) / 2) and the measurement a quarter of it. Of each accepted reading
    # the probability to be outside is integrated, the true value given a reading being normal again.
    sd = 1 / norm.ppf((1 + in_tolerance) / 2)
    noise = sd / 4
    keeps = sd**2 / (sd**2 + noise**2)
    u = float(np.sqrt(keeps) * noise)
    reading = norm(0, np.hypot(sd, noise))

    def accepted_and_outside(y: float) -> float:
        return float(reading.pdf(y)) * (1 - probability_inside(keeps * y, u, -1, 1))

    assert 100 * quad(accepted_and_outside, -1, 1, epsabs=1e-12)[0] == pytest.approx(percent, abs=1e-5)


@pytest.mark.parametrize(
    ("confidence", "multiplier"),
    [(0.95, 1.644853627), (0.975, 1.959963985), (0.99, 2.326347874), (0.999, 3.090232306)],
)
def test_the_guard_band_is_the_normal_one_of_iso_14253_1(confidence: float, multiplier: float) -> None:
    # ISO 14253-1:2017 has 1.65 u for its default of 95 %, rounded.
    assert guard_band(2.0, 1 - confidence) == pytest.approx(2 * multiplier, abs=1e-8)


@pytest.mark.parametrize(
    ("guard_in_expanded", "risk"), [(0.0, 0.5), (0.83, 0.04846), (1.0, 0.02275), (1.5, 0.00135)]
)
def test_the_risk_at_the_edge_of_acceptance(guard_in_expanded: float, risk: float) -> None:
    # ILAC-G8:09/2019: guard band as a multiple of U = 2 u, and the specific risk at the acceptance limit.
    u, tolerance = 0.01, 1.0
    error = tolerance - guard_in_expanded * 2 * u
    assert 1 - judge(error, u, tolerance, 0.05).probability == pytest.approx(risk, abs=1e-5)


@pytest.mark.parametrize(
    ("error", "verdict"),
    [
        (0.0, "conforms"),
        (3.354, "conforms"),
        (3.356, "not_proven"),
        (5.0, "not_proven"),
        (6.644, "not_proven"),
        (6.646, "does_not_conform"),
    ],
)
def test_pass_fail_and_neither_as_in_ilac_g8(error: float, verdict: str) -> None:
    # ILAC-G8:09/2019, 4.2.3 with w = 1.645 u; its two conditional outcomes are 'not proven' here.
    for sign in (1, -1):
        assert judge(sign * error, 1.0, 5.0, 0.05).verdict == verdict


def test_a_verdict_that_just_conforms_can_have_a_probability_of_nine_tenths() -> None:
    found = judge(0.0, 1.0, guard_band(1.0, 0.05), 0.05)
    assert found.verdict == "conforms"
    assert found.probability == pytest.approx(0.90)


def test_without_uncertainty_the_limit_itself_decides() -> None:
    assert judge(2.0, 0.0, 2.0, 0.05) == Verdict("conforms", 1.0)
    assert judge(2.01, 0.0, 2.0, 0.05) == Verdict("does_not_conform", 0.0)


@given(
    error=st.floats(-50, 50),
    u=st.floats(0.01, 20),
    tolerance=st.floats(0.01, 50),
    alpha=st.sampled_from([0.01, 0.05, 0.1]),
)
def test_probability_and_verdict_agree(error: float, u: float, tolerance: float, alpha: float) -> None:
    found = judge(error, u, tolerance, alpha)
    expected = norm.cdf(tolerance, error, u) - norm.cdf(-tolerance, error, u)
    assert found.probability == pytest.approx(expected, abs=1e-12)
    if found.verdict == "conforms":
        assert found.probability >= 1 - 2 * alpha - 1e-12
    if found.verdict == "does_not_conform":
        assert found.probability <= alpha + 1e-12


COMPONENTS = st.lists(st.floats(-3, 3), min_size=9, max_size=9)


@given(
    components=COMPONENTS,
    off=st.lists(st.floats(-3, 3), min_size=3, max_size=3),
    wide=st.lists(st.floats(0.2, 5), min_size=3, max_size=3),
    size=st.sampled_from([1, 2, 3]),
)
def test_the_box_agrees_with_scipy(
    components: list[float], off: list[float], wide: list[float], size: int
) -> None:
    root = np.array(components).reshape(3, 3)[:size, :size]
    covariance = root @ root.T + 0.05 * np.eye(size)
    u = np.sqrt(np.diag(covariance))
    low = u * (np.array(off) - np.array(wide))[:size]
    high = u * (np.array(off) + np.array(wide))[:size]
    expected = multivariate_normal.cdf(
        high, np.zeros(size), covariance, lower_limit=low, abseps=1e-6, releps=1e-6, rng=1
    )
    assert probability_in_box(low, high, covariance) == pytest.approx(float(expected), abs=1e-4)


@pytest.mark.parametrize("covariance", [0.0, 5e-324, 1e-310, -1e-300, 1e-12])
def test_the_box_of_quantities_that_hardly_know_of_each_other_is_the_product(covariance: float) -> None:
    """They are independent as far as doubles tell, so the probabilities multiply."""
    matrix = np.eye(3)
    matrix[0, 1] = matrix[1, 0] = covariance
    low, high = np.array([-1.0, -8.5, -2.0]), np.array([1.5, 0.5, 3.0])
    expected = float(np.prod(norm.cdf(high) - norm.cdf(low)))
    assert probability_in_box(low, high, matrix) == pytest.approx(expected, abs=1e-9)


def test_the_box_where_quantities_determine_each_other() -> None:
    # One quantity told three times: the box is then an interval.
    same = np.ones((3, 3))
    found = probability_in_box(np.array([-1.0, -2.0, -3.0]), np.array([1.0, 2.0, 0.5]), same)
    assert found == pytest.approx(norm.cdf(0.5) - norm.cdf(-1.0), abs=1e-4)


def test_independent_axes_multiply_and_an_axis_without_tolerance_takes_no_part() -> None:
    errors = {"x_mm": 1.0, "y_mm": -0.5, "yaw_deg": 0.1}
    covariance = np.diag([1.0, 4.0, 0.01])
    verdicts, joint = judge_all(errors, covariance, {"x_mm": 3.0, "yaw_deg": 0.3}, 0.05)
    assert verdicts["y_mm"] is None
    assert joint
    assert isclose(joint, probability_inside(1, 1, -3, 3) * probability_inside(0.1, 0.1, -0.3, 0.3))
    assert judge_all(errors, covariance, {}, 0.05) == (dict.fromkeys(errors), None)


def test_the_outcome_is_the_worst_verdict_of_measurements_that_agree() -> None:
    good, open_, bad = (Verdict(v, 0.5) for v in ("conforms", "not_proven", "does_not_conform"))
    assert outcome_of(True, [good, None, good]) == "conforms"
    assert outcome_of(True, [good, open_]) == "not_proven"
    assert outcome_of(True, [bad, open_]) == "does_not_conform"
    assert outcome_of(False, [good]) == "measurements_disagree"
    assert outcome_of(None, [good]) == "not_proven"
    assert outcome_of(None, [bad]) == "does_not_conform"
    assert outcome_of(True, [None, None]) == "not_proven"
