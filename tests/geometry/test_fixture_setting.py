"""A rigid fixture that follows its points: place, yaw, and how far each point may be off."""

from math import atan2, cos, degrees, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.circles import two_points
from snapline_service.geometry.fixture_setting import (
    GUARD,
    Axis,
    Proof,
    body,
    joint_covariance,
    tolerance_of_each_point,
    u_of,
)
from snapline_service.geometry.marks import independent
from snapline_service.geometry.setting_out import Best, best_of, directions, rank, reachable
from snapline_service.geometry.tapes import tape

REFERENCE = (5200.0, 40.0)
FEET = [(5000.0, 560.0), (5000.0, -480.0)]
LIMITS: dict[Axis, float] = {"along": 5.0, "lateral": 3.0, "yaw": 0.3}


def test_yaw_of_a_rigid_body_is_that_of_its_feet() -> None:
    held = body(FEET, REFERENCE, 0.0, LIMITS, reference_is_a_point=False)
    # Turned 0.02 degrees about the reference and shifted by (1, -2): small, so linear to 1e-6.
    turn = radians(0.02)
    errors = []
    for x, y in FEET:
        arm = (x - REFERENCE[0], y - REFERENCE[1])
        errors += [
            arm[0] * cos(turn) - arm[1] * sin(turn) - arm[0] + 1.0,
            arm[0] * sin(turn) + arm[1] * cos(turn) - arm[1] - 2.0,
        ]
    found = {axis: float(row @ np.array(errors)) for axis, row in held.rows.items()}
    assert found == pytest.approx({"along": 1.0, "lateral": -2.0, "yaw": 0.02}, abs=1e-4)


def test_a_single_point_gives_a_place_and_no_yaw() -> None:
    held = body([REFERENCE], REFERENCE, 90.0, LIMITS, reference_is_a_point=True)
    assert set(held.rows) == set(held.limits) == {"along", "lateral"}
    assert held.rows["along"] @ np.array([1.0, 2.0]) == pytest.approx(2.0)
    assert held.rows["lateral"] @ np.array([1.0, 2.0]) == pytest.approx(-1.0)


def test_a_plumbed_reference_gives_the_place_and_the_feet_the_yaw() -> None:
    held = body([REFERENCE, *FEET], REFERENCE, 0.0, LIMITS, reference_is_a_point=True)
    errors = np.array([1.0, 2.0, 0.5, 0.0, -0.5, 0.0])
    assert held.rows["along"] @ errors == pytest.approx(1.0)
    assert held.rows["lateral"] @ errors == pytest.approx(2.0)
    # The left foot half a millimetre ahead and the right one behind, 1,040 mm apart: turned to the right.
    assert held.rows["yaw"] @ errors == pytest.approx(-degrees(atan2(1.0, 1040.0)), rel=1e-5)


@settings(max_examples=80)
@given(
    st.lists(st.tuples(st.floats(-700, 700), st.floats(-700, 700)), min_size=2, max_size=4, unique=True),
    st.floats(-180, 180),
    st.floats(-180, 180),
)
def test_points_within_their_tolerance_keep_every_axis_within_its_own(
    arms: list[tuple[float, float]], aim_deg: float, sight_deg: float
) -> None:
    spread = np.ptp(np.array(arms), axis=0)
    if np.hypot(*spread) < 100.0:
        return
    points = [(REFERENCE[0] + x, REFERENCE[1] + y) for x, y in arms]
    held = body(points, REFERENCE, aim_deg, LIMITS, reference_is_a_point=False)
    basis = directions((cos(radians(sight_deg)), sin(radians(sight_deg))))
    allowed = tolerance_of_each_point(held, [basis] * len(points))
    worst = dict.fromkeys(LIMITS, 0.0)
    size = np.array([min(allowed.critical_mm, 1e6), min(allowed.other_mm, 1e6)])
    for axis, row in held.rows.items():
        parts = np.abs(row.reshape(-1, 2) @ basis.T) * size
        worst[axis] = float(parts.sum())
    assert all(worst[axis] <= limit * (1 + 1e-9) for axis, limit in LIMITS.items())
    # And nothing is given away: some axis is used up.
    assert max(worst[axis] / limit for axis, limit in LIMITS.items()) == pytest.approx(1.0)


MARKS = {"a": (2810.0, 945.0), "b": (2810.0, -945.0), "c": (3700.0, 0.0)}


def test_simulated_feet_turn_as_the_joint_covariance_says() -> None:
    # Both feet from shared marks: yaw by simulation of exact circles, 1 % of sd.
    rng = np.random.default_rng(11)
    two = tape("II", 10000.0)
    marks = independent(
        {**MARKS, "left": FEET[0], "right": FEET[1]}, {**dict.fromkeys("abc", 1.5), "left": 0.0, "right": 0.0}
    )
    found: list[Best] = []
    for target in FEET:
        usable, _ = reachable(marks, target, two, [None] * 5, only=("a", "b", "c"))
        best = best_of(usable, rank(usable, directions((1.0, 0.0)), 0.3), target)
        assert best
        found.append(best)
    held = body(FEET, REFERENCE, 0.0, LIMITS, reference_is_a_point=False)
    covariance = joint_covariance(marks, ["left", "right"], found)
    yaws: list[float] = []
    laterals: list[float] = []
    for _ in range(20_000):
        at = {name: np.array(point) + rng.normal(0, 1.5, 2) for name, point in MARKS.items()}
        stood = []
        for foot, best in zip(FEET, found, strict=True):
            (one, two_name), (d_one, d_two) = best.marks, best.distances_mm
            a, b = (d + rng.normal(0, u) for d, u in zip((d_one, d_two), best.u_tape_mm, strict=True))
            meet = two_points(tuple(at[one]), tuple(at[two_name]), a, b)
            assert meet
            stood.append(min(meet, key=lambda p: abs(p[0] - foot[0]) + abs(p[1] - foot[1])))
        across = np.array(stood[0]) - np.array(stood[1])
        yaws.append(degrees(atan2(-across[0], across[1])))
        arm_mm = REFERENCE[0] - FEET[0][0]
        laterals.append((stood[0][1] + stood[1][1]) / 2 + arm_mm * radians(yaws[-1]))
    assert u_of(held.rows["yaw"], covariance) == pytest.approx(float(np.std(yaws)), rel=0.02)
    assert u_of(held.rows["lateral"], covariance) == pytest.approx(float(np.std(laterals)), rel=0.02)
    # Taken for independent, the feet would give another place and another yaw than they do.
    apart = np.zeros_like(covariance)
    apart[:2, :2], apart[2:, 2:] = covariance[:2, :2], covariance[2:, 2:]
    for axis in ("lateral", "yaw"):
        row = held.rows[axis]
        assert abs(u_of(row, apart) / u_of(row, covariance) - 1) > 0.05


def test_a_guard_band_of_1_645_u_must_leave_room() -> None:
    # JCGM 106 and ISO 14253-1: a risk of 5 % at one limit takes 1.6449 u off the tolerance.
    assert pytest.approx(1.644853627, abs=1e-9) == GUARD
    assert Proof("lateral", 3.0, 1.0).acceptance == pytest.approx(3.0 - 1.644853627)
    assert Proof("lateral", 3.0, 1.83).acceptance is None
