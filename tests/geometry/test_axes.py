"""The sense of the axes: ISO 8855, as quoted by ASAM OSI (osi3::Orientation3d)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from snapline_service.geometry import BayPose, Pose, body_point_in_parent, in_bay, normalised_deg, rotation

angles_deg = st.floats(-360.0, 360.0)


def test_yaw_30_pitch_10_roll_5_gives_the_matrix_that_scipy_and_transforms3d_agree_on() -> None:
    expected = [
        [0.85286853, -0.48499054, 0.19338935],
        [0.49240388, 0.87029713, 0.01101461],
        [-0.17364818, 0.08583165, 0.98106026],
    ]
    np.testing.assert_allclose(rotation(30.0, 10.0, 5.0), expected, atol=1e-8)


@given(yaw=angles_deg, pitch=angles_deg, roll=angles_deg)
def test_rotation_is_yaw_then_pitch_then_roll_about_the_new_axes(
    yaw: float, pitch: float, roll: float
) -> None:
    expected = Rotation.from_euler("ZYX", [yaw, pitch, roll], degrees=True).as_matrix()
    np.testing.assert_allclose(rotation(yaw, pitch, roll), expected, atol=1e-12)


@pytest.mark.parametrize(
    ("attitude", "body_point", "expected"),
    [
        pytest.param((90, 0, 0), (1, 0, 0), (0, 1, 0), id="positive-yaw-turns-the-nose-left"),
        pytest.param((0, 10, 0), (1, 0, 0), (0.98480775, 0, -0.17364818), id="positive-pitch-is-nose-down"),
        pytest.param((0, 0, 10), (0, 1, 0), (0, 0.98480775, 0.17364818), id="positive-roll-lifts-the-left"),
    ],
)
def test_positive_angles(
    attitude: tuple[float, float, float],
    body_point: tuple[float, float, float],
    expected: tuple[float, float, float],
) -> None:
    pose = Pose(10.0, 20.0, 30.0, *attitude)
    moved = np.subtract(body_point_in_parent(pose, body_point), (10.0, 20.0, 30.0))
    np.testing.assert_allclose(moved, expected, atol=1e-8)


@pytest.mark.parametrize(
    ("angle_deg", "expected_deg"),
    [(0.1, 0.1), (180.0, 180.0), (-180.0, 180.0), (181.0, -179.0), (540.0, 180.0), (-360.0, 0.0)],
)
def test_equal_angles_have_one_name(angle_deg: float, expected_deg: float) -> None:
    assert normalised_deg(angle_deg) == expected_deg


@given(st.floats(-2000.0, 2000.0))
def test_a_normalised_angle_lies_above_minus_180_and_up_to_180_and_is_the_same_direction(
    angle_deg: float,
) -> None:
    normalised = normalised_deg(angle_deg)
    assert -180.0 < normalised <= 180.0
    assert (normalised - angle_deg) / 360.0 == pytest.approx(
        round((normalised - angle_deg) / 360.0), abs=1e-9
    )


@given(heading=angles_deg, yaw=angles_deg, x=st.floats(-1e4, 1e4), y=st.floats(-1e4, 1e4))
def test_a_pose_in_the_bay_is_the_product_of_both_transforms(
    heading: float, yaw: float, x: float, y: float
) -> None:
    pose = in_bay(Pose(x, y, 700.0, yaw, 10.0, 5.0), BayPose(4000.0, -2500.0, heading))
    turn, attitude = Rotation.from_euler("z", heading, degrees=True), [yaw, 10.0, 5.0]
    whole = turn * Rotation.from_euler("ZYX", attitude, degrees=True)
    place = np.add(turn.apply([x, y, 700.0]), [4000.0, -2500.0, 0.0])
    np.testing.assert_allclose((pose.x_mm, pose.y_mm, pose.z_mm), place, atol=1e-8)
    np.testing.assert_allclose(
        rotation(pose.yaw_deg, pose.pitch_deg, pose.roll_deg), whole.as_matrix(), atol=1e-12
    )
