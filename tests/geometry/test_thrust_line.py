"""The thrust line from rear toe: (right - left) / 2, toe-in positive, turned positive to the left."""

from math import atan2, degrees, radians, sqrt, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapline_service.geometry.thrust_line import from_rear_toe


# Derivation: the bisector of the two rear wheels' directions. Print-outs count the same angle to the right.
@pytest.mark.parametrize(
    ("left_deg", "right_deg", "to_the_right_deg"),
    [(0.15, 0.05, 0.05), (0.15, -0.05, 0.10), (0.1, 0.1, 0.0), (-0.2, 0.1, -0.15)],
)
def test_more_toe_in_on_the_left_turns_it_to_the_right(
    left_deg: float, right_deg: float, to_the_right_deg: float
) -> None:
    assert from_rear_toe(left_deg, right_deg).thrust_yaw_deg == pytest.approx(-to_the_right_deg)


@given(st.floats(-3, 3), st.floats(-3, 3))
def test_it_bisects_the_two_wheels(left_deg: float, right_deg: float) -> None:
    # Seen from above a left wheel with toe-in points right (negative yaw), a right one left.
    wheels = [np.array([1.0, tan(radians(angle))]) for angle in (-left_deg, right_deg)]
    unit = sum(wheel / np.hypot(*wheel) for wheel in wheels)
    assert from_rear_toe(left_deg, right_deg).thrust_yaw_deg == pytest.approx(
        degrees(atan2(unit[1], unit[0])), abs=1e-9
    )


def test_two_independent_readings_make_it_surer_than_one() -> None:
    rng = np.random.default_rng(3)
    yaw = (rng.normal(0.1, 0.03, 200_000) - rng.normal(0.1, 0.03, 200_000)) / 2
    u_deg = from_rear_toe(0.1, 0.1, 0.03).u_deg
    assert u_deg == pytest.approx(0.03 / sqrt(2))
    assert u_deg == pytest.approx(float(yaw.std()), rel=0.01)
    assert from_rear_toe(0.1, 0.1).u_deg is None
