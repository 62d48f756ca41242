"""A car is brought to its place by tapes held square to two walls."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from snapline_service.geometry.squared_off import squared_off

ROOM = ((0.0, 0.0), (12_000.0, 0.0), (12_000.0, 6_000.0), (0.0, 6_000.0))


def test_in_a_rectangle_the_distances_are_the_coordinates() -> None:
    found = squared_off(ROOM, [(4_800.0, 2_500.0), (2_000.0, 2_500.0)])
    assert found is not None
    assert found.walls == (0, 3)
    assert found.distances_mm == ((2_500.0, 4_800.0), (2_500.0, 2_000.0))


def test_the_nearer_of_two_walls_is_taken() -> None:
    found = squared_off(ROOM, [(10_000.0, 5_000.0)])
    assert found is not None
    assert (found.walls, found.distances_mm) == ((1, 2), ((2_000.0, 1_000.0),))


def test_no_tape_goes_through_a_wall() -> None:
    """In an L the far arm's walls are out of reach of a point in the other arm."""
    ell = (
        (0.0, 0.0),
        (9_000.0, 0.0),
        (9_000.0, 3_000.0),
        (4_000.0, 3_000.0),
        (4_000.0, 8_000.0),
        (0.0, 8_000.0),
    )
    found = squared_off(ell, [(8_000.0, 1_000.0)])
    assert found is not None
    assert found.walls == (0, 1)
    upper = squared_off(ell, [(3_500.0, 7_900.0)])
    assert upper is not None
    assert upper.walls == (3, 4)


DOOR = ((0.0, 5_000.0), (0.0, 1_600.0))


def test_a_tape_is_held_to_a_solid_wall_though_a_door_is_nearer() -> None:
    found = squared_off(ROOM, [(2_000.0, 2_500.0)], [DOOR])
    assert found is not None
    assert (found.walls, found.across_doors) == ((0, 1), ())
    beside = squared_off(ROOM, [(2_000.0, 1_200.0)], [DOOR])
    assert beside is not None
    assert (beside.walls, beside.across_doors) == ((0, 3), ())


def test_between_two_doors_a_string_across_one_has_to_do() -> None:
    other = ((12_000.0, 1_600.0), (12_000.0, 5_000.0))
    found = squared_off(ROOM, [(2_000.0, 2_500.0)], [DOOR, other])
    assert found is not None
    assert (found.walls, found.across_doors) == ((0, 3), (3,))


def test_no_tape_lies_over_what_stands_on_the_floor() -> None:
    post = Polygon([(3_900.0, 900.0), (4_100.0, 900.0), (4_100.0, 1_100.0), (3_900.0, 1_100.0)])
    found = squared_off(ROOM, [(4_000.0, 2_500.0)], barred=[post])
    assert found is not None
    assert found.walls == (2, 3)


def test_a_point_between_parallel_walls_alone_cannot_be_told() -> None:
    """A triangle so flat that no two walls cross at 30 degrees or more."""
    assert squared_off(((0.0, 0.0), (20_000.0, 0.0), (10_000.0, 2_000.0)), [(10_000.0, 700.0)]) is None


@given(st.floats(0.0, 2 * math.pi), st.floats(500.0, 11_500.0), st.floats(500.0, 5_500.0))
def test_turning_the_bay_changes_no_distance(turn: float, x_mm: float, y_mm: float) -> None:
    def turned(point: tuple[float, float]) -> tuple[float, float]:
        c, s = math.cos(turn), math.sin(turn)
        return c * point[0] - s * point[1] + 700.0, s * point[0] + c * point[1] - 300.0

    found = squared_off([turned(corner) for corner in ROOM], [turned((x_mm, y_mm))])
    assert found is not None
    nearest = [min(x_mm, 12_000.0 - x_mm), min(y_mm, 6_000.0 - y_mm)]
    assert sorted(found.distances_mm[0]) == pytest.approx(sorted(nearest), abs=1e-6)
