"""A vehicle and a fixture on floors that are not level, against hand-made floors and another road."""

from dataclasses import replace
from math import atan, degrees, hypot, inf, nan, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry import floor_otherwise as otherwise
from snapline_service.errors import InvalidValue
from snapline_service.geometry import Position
from snapline_service.geometry.floor import FloorFigures, on_floor
from snapline_service.geometry.floor_points import WHEELS, Contact

PLACES = {
    "front_left": (2810.0, 780.0),
    "front_right": (2810.0, -780.0),
    "rear_left": (0.0, 790.0),
    "rear_right": (0.0, -790.0),
}
TRIPOD = ((5400.0, 500.0), (5400.0, -500.0), (4700.0, 0.0))
BOARD = Position(5100.0, 30.0, 1200.0)
LEVEL = dict.fromkeys(WHEELS, 0.0)


def contacts(heights: dict[str, float], **rates: float) -> dict[str, Contact]:
    return {name: Contact(*PLACES[name], heights[name], rates.get(name, 1.0)) for name in WHEELS}


def sloping(ahead: float, left: float, lift_mm: float = 0.0) -> dict[str, float]:
    return {name: lift_mm + ahead * x + left * y for name, (x, y) in PLACES.items()}


def feet(*heights: float) -> list[Position]:
    return [Position(x, y, z) for (x, y), z in zip(TRIPOD, heights, strict=True)]


ON_LEVEL = feet(0.0, 0.0, 0.0)


def test_on_a_level_floor_nothing_changes() -> None:
    value, u = on_floor(contacts(LEVEL), ON_LEVEL, BOARD)
    assert value.height_setting_mm == pytest.approx(1200.0, abs=1e-9)
    assert value.target_in_room.x_mm == pytest.approx(5100.0, abs=1e-9)
    assert (value.vehicle_pitch_deg, value.vehicle_roll_deg) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert (value.slope_mm_per_m, value.warp_mm) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert value.height_error_if_ignored_mm == pytest.approx(0.0, abs=1e-9)
    assert u is None


def test_five_mm_per_m_nose_up_moves_a_board_ahead_by_an_inch() -> None:
    """Common practice, no source: at a little over 5.1 m the setting of a 1,200 mm target moves 25.6 mm."""
    nose_up = contacts(sloping(0.005, 0.0))
    value, _ = on_floor(nose_up, ON_LEVEL, Position(5115.0, 0.0, 1200.0))
    assert value.height_setting_mm - 1200.0 == pytest.approx(25.6, abs=0.05)
    assert value.height_error_if_ignored_mm == pytest.approx(-25.6, abs=0.05)
    assert value.vehicle_pitch_deg < 0.0  # nose down would be positive


# 1 mm/m is 0.0572957604 degrees and so on: arctangents, computed independently.
@pytest.mark.parametrize(
    ("slope_mm_per_m", "angle_deg"),
    [(1, 0.0572957604), (2, 0.1145914062), (5, 0.2864765103), (10, 0.5729386977), (17.4550649, 1.0)],
)
def test_slopes_are_angles(slope_mm_per_m: float, angle_deg: float) -> None:
    slope = slope_mm_per_m / 1000.0
    up, _ = on_floor(contacts(sloping(slope, 0.0)), ON_LEVEL, BOARD)
    left_up, _ = on_floor(contacts(sloping(0.0, slope)), ON_LEVEL, BOARD)
    assert up.vehicle_pitch_deg == pytest.approx(-angle_deg, abs=2e-9)
    assert left_up.vehicle_roll_deg == pytest.approx(angle_deg, abs=2e-9)
    assert up.slope_mm_per_m == pytest.approx(slope_mm_per_m, abs=1e-9)
    assert left_up.slope_mm_per_m == pytest.approx(slope_mm_per_m, abs=1e-9)


def test_the_plane_of_many_feet_is_their_least_squares_plane() -> None:
    """An exact case: z = 2x - 1.5y + 3 on a grid, with errors that a right fit leaves wholly as residuals."""
    errors = [[1, -1, 0, 1, -1], [-1, 1, 0, -1, 1], [0, 0, 0, 0, 0]]
    grid = [
        Position(100.0 * x, 100.0 * y, 2.0 * x - 1.5 * y + 3.0 + errors[y][x])
        for y in range(3)
        for x in range(5)
    ]
    for x, y in ((0, 0), (1, 0), (0, 1), (4, 2)):
        value, _ = on_floor(contacts(LEVEL), grid, Position(100.0 * x, 100.0 * y, 1000.0))
        assert 1000.0 - value.height_setting_mm == pytest.approx(2.0 * x - 1.5 * y + 3.0, abs=1e-12 * 1e3)
    tilt = value.fixture_tilt
    assert tilt is not None
    # Slopes of 20 mm/m up ahead and 15 mm/m down to the left, under a level vehicle.
    assert tilt.pitch_deg == pytest.approx(-degrees(atan(0.02)), abs=1e-9)
    assert tilt.roll_deg == pytest.approx(degrees(atan(-0.015 / sqrt(1 + 0.02**2))), abs=1e-9)
    assert tilt.angle_deg == pytest.approx(degrees(atan(hypot(0.02, 0.015))), abs=1e-9)


slopes = st.floats(-0.1, 0.1)


@given(slopes, slopes, st.floats(-1500, 1500), st.floats(0, 3000))
def test_on_one_sloping_plane_a_height_grows_only_by_being_measured_plumb(
    ahead: float, left: float, lift_mm: float, z_mm: float
) -> None:
    stand = [Position(x, y, lift_mm + ahead * x + left * y) for x, y in TRIPOD]
    value, _ = on_floor(contacts(sloping(ahead, left, lift_mm)), stand, replace(BOARD, z_mm=z_mm))
    assert value.height_setting_mm == pytest.approx(z_mm * sqrt(1 + ahead**2 + left**2), abs=1e-6)
    assert value.fixture_tilt is not None
    assert value.fixture_tilt.angle_deg == pytest.approx(0.0, abs=1e-6)
    assert value.warp_mm == pytest.approx(0.0, abs=1e-9)


def test_readings_on_turntables_or_a_lift_work_the_same_way() -> None:
    """The wheels stand 900 mm up on a lift that leans, the fixture on the floor: one level reads both."""
    leaning = sloping(0.002, -0.001)
    on_ground, _ = on_floor(contacts(leaning), feet(1.0, 2.0, 0.0), BOARD)
    lifted = {name: z + 900.0 for name, z in leaning.items()}
    on_lift, _ = on_floor(contacts(lifted), feet(1.0, 2.0, 0.0), BOARD)
    assert on_lift.height_setting_mm - on_ground.height_setting_mm == pytest.approx(900.0, abs=1e-9)
    assert on_lift.vehicle_pitch_deg == pytest.approx(on_ground.vehicle_pitch_deg, abs=1e-12)
    assert on_lift.fixture_tilt is not None
    assert on_ground.fixture_tilt is not None
    assert on_lift.fixture_tilt.angle_deg == pytest.approx(on_ground.fixture_tilt.angle_deg, abs=1e-9)


def test_a_twisted_floor_shows_as_warp_and_turns_nothing() -> None:
    twist = {"front_left": 3.0, "front_right": -3.0, "rear_left": -3.0, "rear_right": 3.0}
    square = {
        name: Contact(PLACES[name][0], 780.0 if name.endswith("left") else -780.0, z)
        for name, z in twist.items()
    }
    value, _ = on_floor(square, ON_LEVEL, BOARD)
    assert value.warp_mm == pytest.approx(3.0)
    assert (value.vehicle_pitch_deg, value.vehicle_roll_deg) == pytest.approx((0.0, 0.0), abs=1e-12)


def test_the_springs_forces_balance() -> None:
    """Statics: the forces that the plane leaves in the springs have no sum and no moment."""
    heights = {"front_left": 9.0, "front_right": 2.0, "rear_left": -4.0, "rear_right": 1.0}
    rates = {"front_left": 31.0, "front_right": 33.0, "rear_left": 24.0, "rear_right": 22.0}
    standing = contacts(heights, **rates)
    forces = {}
    for name, (x, y) in PLACES.items():
        # The plane's height at a contact: the setting of a point there above a level floor at zero.
        here, _ = on_floor(standing, ON_LEVEL, Position(0.0, 0.0, 0.0))
        b = np.tan(np.radians(-here.vehicle_pitch_deg))
        c = np.tan(np.radians(here.vehicle_roll_deg)) * sqrt(1 + b * b)
        forces[name] = rates[name] * (heights[name] - (here.target_in_room.z_mm + b * x + c * y))
    assert sum(forces.values()) == pytest.approx(0.0, abs=1e-9)
    assert sum(f * PLACES[name][0] for name, f in forces.items()) == pytest.approx(0.0, abs=1e-6)
    assert sum(f * PLACES[name][1] for name, f in forces.items()) == pytest.approx(0.0, abs=1e-6)
    assert max(map(abs, forces.values())) > 1.0


def test_two_feet_are_level_across_and_one_foot_is_level() -> None:
    across = [Position(5100.0, 500.0, 4.0), Position(5100.0, -500.0, 0.0)]
    for ahead_mm in (-300.0, 0.0, 300.0):
        target = Position(5100.0 + ahead_mm, 250.0, 1200.0)
        value, _ = on_floor(contacts(LEVEL), across, target)
        assert value.height_setting_mm == pytest.approx(1197.0, abs=1e-9)
        assert value.fixture_tilt is None
    in_line = [*across, Position(5100.0, 0.0, 2.0)]
    assert on_floor(contacts(LEVEL), in_line, BOARD)[0].fixture_tilt is None
    one, _ = on_floor(contacts(LEVEL), across[:1], Position(9000.0, -3000.0, 1200.0))
    assert one.height_setting_mm == pytest.approx(1196.0, abs=1e-9)


def columns(value: FloorFigures) -> list[float]:
    tilt = value.fixture_tilt
    assert tilt is not None
    room = value.target_in_room
    return [
        value.vehicle_pitch_deg,
        value.vehicle_roll_deg,
        room.x_mm,
        room.y_mm,
        room.z_mm,
        value.height_setting_mm,
        value.slope_mm_per_m,
        value.warp_mm,
        tilt.pitch_deg,
        tilt.roll_deg,
        tilt.angle_deg,
    ]


def by_another_road(
    standing: dict[str, Contact], stand: list[Position], target: Position, heights: Any
) -> otherwise.Figures:
    wheels = [standing[name] for name in WHEELS]
    return otherwise.figures(
        np.array([(w.x_mm, w.y_mm) for w in wheels]),
        np.array([w.rate for w in wheels]),
        np.array([(f.x_mm, f.y_mm) for f in stand]),
        np.array([target.x_mm, target.y_mm, target.z_mm]),
        heights,
    )


def heights_of(standing: dict[str, Contact], stand: list[Position]) -> Any:
    return np.array([standing[name].z_mm for name in WHEELS] + [foot.z_mm for foot in stand])


uneven = st.floats(-40, 40)


@settings(max_examples=200)
@given(
    st.lists(uneven, min_size=4, max_size=4),
    st.lists(uneven, min_size=3, max_size=3),
    st.lists(st.floats(0.5, 5), min_size=4, max_size=4),
    st.tuples(st.floats(-8000, 8000), st.floats(-3000, 3000), st.floats(-100, 2500)),
)
def test_two_ways_agree(
    wheel_heights: list[float],
    foot_heights: list[float],
    rates: list[float],
    target: tuple[float, float, float],
) -> None:
    standing = contacts(
        dict(zip(WHEELS, wheel_heights, strict=True)), **dict(zip(WHEELS, rates, strict=True))
    )
    stand, point = feet(*foot_heights), Position(*target)
    value, _ = on_floor(standing, stand, point)
    other = by_another_road(standing, stand, point, heights_of(standing, stand)[:, None])
    assert columns(value) == pytest.approx([float(figure[0]) for figure in other], abs=1e-6)
    assert value.height_error_if_ignored_mm == pytest.approx(point.z_mm - value.height_setting_mm)


def test_uncertainties_are_those_of_a_simulation() -> None:
    """JCGM 101: 200,000 draws of correlated readings through the other road, within 2 %."""
    standing = contacts(
        {"front_left": 14.0, "front_right": 6.0, "rear_left": -3.0, "rear_right": 1.0},
        front_left=30.0,
        front_right=30.0,
        rear_left=24.0,
        rear_right=24.0,
    )
    stand = feet(11.0, 3.0, 8.0)
    rng = np.random.default_rng(20261125)
    mixing = 0.5 * np.eye(7) + 0.1 * rng.standard_normal((7, 7))
    covariance = mixing @ mixing.T
    value, u = on_floor(standing, stand, BOARD, covariance)
    assert u is not None
    drawn = heights_of(standing, stand)[:, None] + mixing @ rng.standard_normal((7, 200_000))
    simulated = [figure.std() for figure in by_another_road(standing, stand, BOARD, drawn)]
    assert columns(u) == pytest.approx(simulated, rel=0.02)
    assert u.height_error_if_ignored_mm == u.height_setting_mm
    assert value.slope_mm_per_m > 2.0


def test_the_uncertainty_of_a_slope_that_is_not_there_is_that_of_its_worst_direction() -> None:
    _, u = on_floor(contacts(LEVEL), ON_LEVEL, BOARD, 0.25 * np.eye(7))
    assert u is not None
    # By hand: four readings of 0.5 mm at about ±785 mm across, so 0.5 / (2 · 785 mm) = 0.318 mm/m.
    assert u.slope_mm_per_m == pytest.approx(0.318, abs=0.001)
    assert u.vehicle_roll_deg == pytest.approx(0.0182, abs=0.0001)


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"front_left": {"x_mm": -2810.0}}, "/wheels/front_left/x_mm"),
        ({"rear_right": {"y_mm": 800.0}}, "/wheels/rear_left/y_mm"),
        ({"front_right": {"x_mm": 2810.0, "y_mm": 780.0}}, "/wheels/front_left/y_mm"),
        ({"rear_left": {"rate": -1.0}}, "/wheels/rear_left/rate"),
        ({"rear_left": {"rate": 0.0}}, "/wheels/rear_left/rate"),
        ({"rear_left": {"rate": 2000.0}}, "/wheels"),
        ({"rear_left": {"z_mm": nan}}, "/wheels/rear_left/z_mm"),
        ({"front_right": {"x_mm": inf}}, "/wheels/front_right/x_mm"),
        ({"front_left": {"z_mm": 1500.0}, "front_right": {"z_mm": 1500.0}}, "/wheels"),
        # All four on one line that runs ahead and to the left, as slips of the pen can make it.
        (
            {
                "front_left": {"x_mm": 3000.0, "y_mm": 3000.0},
                "front_right": {"x_mm": 2990.0, "y_mm": 2985.0},
                "rear_left": {"x_mm": 10.0, "y_mm": 15.0},
                "rear_right": {"x_mm": 0.0, "y_mm": 0.0},
            },
            "/wheels",
        ),
    ],
)
def test_contacts_that_cannot_be_are_refused(changes: dict[str, dict[str, float]], pointer: str) -> None:
    standing = contacts(LEVEL)
    for name, fields in changes.items():
        standing[name] = replace(standing[name], **fields)
    with pytest.raises(InvalidValue) as refused:
        on_floor(standing, ON_LEVEL, BOARD)
    assert refused.value.pointer == pointer
    assert refused.value.mend


def test_a_missing_wheel_no_foot_feet_in_one_place_and_a_step_are_refused() -> None:
    three = {name: contact for name, contact in contacts(LEVEL).items() if name != "rear_right"}
    twice = [ON_LEVEL[0], ON_LEVEL[1], replace(ON_LEVEL[0], z_mm=2.0)]
    for standing, stand, target, pointer in (
        (three, ON_LEVEL, BOARD, "/wheels/rear_right"),
        (contacts(LEVEL), [], BOARD, "/feet"),
        (contacts(LEVEL), twice, BOARD, "/feet/2"),
        (contacts(LEVEL), feet(0.0, 0.0, 200.0), BOARD, "/feet"),
        (contacts(LEVEL), feet(0.0, nan, 0.0), BOARD, "/feet/1/z_mm"),
        (contacts(LEVEL), ON_LEVEL, Position(0.0, 2e6, 0.0), "/target/y_mm"),
    ):
        with pytest.raises(InvalidValue) as refused:
            on_floor(standing, stand, target)
        assert refused.value.pointer == pointer
        assert refused.value.mend
