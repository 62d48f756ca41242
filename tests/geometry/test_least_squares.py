"""The least-squares engine against certified and published results."""

from collections.abc import Callable
from dataclasses import dataclass
from math import acos, atan2, hypot, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from published import published
from snapline_service.geometry.least_squares import Adjustment, adjust
from snapline_service.geometry.uncertainty import combined

Array = NDArray[np.float64]


@dataclass
class Curve:
    """Any model: its slopes by central differences, so that nothing here knows the engine's own formulas."""

    of: Callable[[Array], Array]
    spread: Array
    step: Array

    def predict(self, at: Array) -> Array:
        return self.of(at)

    def slopes(self, at: Array) -> Array:
        steps = np.diag(self.step)
        both = [(self.of(at + step) - self.of(at - step)) / (2 * step.max()) for step in steps]
        return np.array(both).T

    def covariance(self, at: Array) -> Array:  # noqa: ARG002 - the same everywhere
        return self.spread


def nist(name: str, first: int, last: int) -> tuple[Array, Array]:
    """Return y and x of a file of the NIST Statistical Reference Datasets, lines counted from 1."""
    lines = published(name).read_text().splitlines()[first - 1 : last]
    y, x = np.array([[float(number) for number in line.split()] for line in lines]).T
    return y, x


def estimated_sd(found: Adjustment) -> tuple[list[float], float]:
    """Return the standard deviations with the scatter estimated from the residuals, as NIST states them."""
    scatter = sqrt(found.chi2 / found.dof)
    return [scatter * sqrt(variance) for variance in np.diag(found.covariance)], scatter


def test_the_straight_line_norris() -> None:
    # NIST StRD, Norris (J. Norris, Calibration of Ozone Monitors), certified values.
    y, x = nist("nist/Norris.dat", 61, 96)
    assert len(y) == 36
    line = Curve(lambda b: b[0] + b[1] * x, np.eye(36), np.array([1e-2, 1e-2]))
    found = adjust(line, y, np.zeros(2))
    sd, scatter = estimated_sd(found)
    assert found.at == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert sd == pytest.approx([0.232818234301152, 0.429796848199937e-03], rel=1e-8)
    assert scatter == pytest.approx(0.884796396144373, rel=1e-9)
    assert found.dof == 34


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)])
def test_the_curve_misra1a_from_either_start(start: tuple[float, float]) -> None:
    # NIST StRD, Misra1a (D. Misra 1978), certified values and both of its starting points.
    y, x = nist("nist/Misra1a.dat", 61, 74)
    curve = Curve(lambda b: b[0] * (1 - np.exp(-b[1] * x)), np.eye(14), np.array([1e-3, 1e-9]))
    found = adjust(curve, y, np.array(start))
    sd, scatter = estimated_sd(found)
    assert found.settled
    assert found.at == pytest.approx([2.3894212918e02, 5.5015643181e-04], rel=1e-6)
    assert sd == pytest.approx([2.7070075241, 7.2668688436e-06], rel=1e-6)
    assert found.chi2 == pytest.approx(1.2455138894e-01, rel=1e-6)
    assert scatter == pytest.approx(1.0187876330e-01, rel=1e-6)


@pytest.mark.parametrize("start", [(6860.0, 3727.0), (6500.0, 3000.0), (9000.0, 5000.0)])
def test_a_point_from_three_distances(start: tuple[float, float]) -> None:
    # C. D. Ghilani, Adjustment Computations, example 14.2 (feet): inputs as published, result by scipy.
    control = np.array([(865.40, 4527.15), (2432.55, 2047.25), (2865.22, 27.15)])
    distances = np.array([6049.00, 4736.83, 5446.49])
    model = Curve(lambda p: np.hypot(*(p - control).T), np.eye(3), np.array([1e-2, 1e-2]))
    found = adjust(model, distances, np.array(start))
    (qxx, qxy), (_, qyy) = found.covariance
    assert found.at == pytest.approx([6861.31679, 3727.81857], abs=1e-4)
    assert -found.residuals == pytest.approx([-0.03737, 0.07679, -0.04737], abs=1e-5)
    assert (qxx, qxy, qyy) == pytest.approx((0.630189, -0.728354, 2.494689), rel=1e-5)
    sd, scatter = estimated_sd(found)
    assert scatter == pytest.approx(0.097659, abs=1e-6)
    assert sd == pytest.approx([0.07753, 0.15425], abs=1e-5)
    axes = scatter * np.sqrt(np.linalg.eigvalsh(found.covariance))
    assert axes == pytest.approx([0.06015, 0.16182], abs=1e-5)


def test_correlated_inputs_as_in_gum_h2() -> None:
    # GUM (JCGM 100:2008) H.2: resistance, reactance and impedance from five readings of V, I and phi, which
    # are correlated. Figures as quoted by the tests of suncal and of GTC. With as many observations as
    # parameters the covariance of an adjustment is J S J^T.
    volts = (5.007, 4.994, 5.005, 4.990, 4.999)
    amperes = (19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3)
    radians = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)
    readings = np.array([volts, amperes, radians])
    spread = np.cov(readings) / 5
    means = readings.mean(axis=1)

    def from_r_and_x(p: Array) -> Array:
        r, x, i = p
        return np.array([i * hypot(r, x), i, atan2(x, r)])

    def from_r_and_z(p: Array) -> Array:
        r, z, i = p
        return np.array([i * z, i, acos(r / z)])

    step, start = np.array([1e-3, 1e-3, 1e-8]), np.array([120.0, 210.0, 0.02])
    rx = adjust(Curve(from_r_and_x, spread, step), means, start)
    rz = adjust(Curve(from_r_and_z, spread, step), means, np.array([120.0, 250.0, 0.02]))
    assert rx.at[:2] == pytest.approx([127.732, 219.847], abs=5e-4)
    assert rz.at[1] == pytest.approx(254.260, abs=5e-4)
    assert np.sqrt(np.diag(rx.covariance))[:2] == pytest.approx([0.071, 0.295], abs=6e-4)
    assert sqrt(rz.covariance[1, 1]) == pytest.approx(0.236, abs=5e-4)
    assert correlation(rx) == pytest.approx(-0.588, abs=5e-4)
    assert correlation(rz) == pytest.approx(-0.485, abs=5e-4)


def correlation(found: Adjustment) -> float:
    return float(found.covariance[0, 1] / sqrt(found.covariance[0, 0] * found.covariance[1, 1]))


def test_two_tapes_to_a_point_ahead() -> None:
    # Closed form for marks 1.56 m apart and a point 3 m ahead: 2.810062 sd across, 0.730616 sd ahead.
    marks = np.array([(-0.78, 0.0), (0.78, 0.0)])
    model = Curve(lambda p: np.hypot(*(p - marks).T), np.eye(2) * 0.002**2, np.array([1e-6, 1e-6]))
    tapes = np.hypot(0.78, 3.0)
    found = adjust(model, np.array([tapes, tapes]), np.array([0.1, 2.5]))
    assert np.sqrt(np.diag(found.covariance)) / 0.002 == pytest.approx([2.810062, 0.730616], abs=1e-6)
    assert found.dof == 0
    assert not found.testable.any()


def test_observations_that_fix_nothing_are_told_by_their_condition() -> None:
    sideways = Curve(lambda p: np.array([p[0], 2 * p[0]]), np.eye(2), np.array([1e-3, 1e-3]))
    assert adjust(sideways, np.array([1.0, 2.0]), np.zeros(2)).condition > 1e6


def test_independent_inputs_as_in_gum_h1() -> None:
    # GUM (JCGM 100:2008) H.1, end gauge: l = ls + d - ls (da theta + as dtheta). The combined standard
    # uncertainty is printed as 32 nm, GTC has 31.66 nm; the four largest parts are 25, 9.7, 2.9 and 16.6 nm.
    length_nm = 50_000_623.0
    slopes = {
        "standard": 1.0,
        "difference": 1.0,
        "expansion": 0.0,  # nothing at a mean difference of zero
        "temperature": 0.0,
        "expansion difference": -length_nm * -0.1,
        "temperature difference": -length_nm * 11.5e-6,
    }
    u = {
        "standard": 25.0,
        "difference": hypot(5.8, 3.9, 6.7),
        "expansion": 1.2e-6,
        "temperature": 0.41,
        "expansion difference": 0.58e-6,
        "temperature difference": 0.029,
    }
    assert combined(slopes, u) == pytest.approx(31.66, abs=0.05)
    parts = [combined({name: slopes[name]}, u) for name in u if slopes[name]]
    assert parts == pytest.approx([25, 9.7, 2.9, 16.6], abs=0.1)
