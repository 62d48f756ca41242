"""Shortfalls against bays whose rings are really redrawn, on rectangles and L-shapes."""

from collections.abc import Sequence

import pytest

from geometry.bay_fit.reference import random_bays, rectangle
from snapline_service.geometry.bay_fit import (
    Bay,
    Cause,
    Door,
    Obstacle,
    Part,
    Procedure,
    fit,
    fits,
    shortfalls,
)

Ring = tuple[tuple[float, float], ...]
CAR = Part("car", "solid", rectangle(-1000, -900, 3500, 900), 0.0, 1500.0)
BOARD = Part("board", "solid", rectangle(5000, -1200, 5200, 1200), 0.0, 2000.0)
FRONT = Procedure("front camera", (CAR, BOARD))


def amounts(bay: Bay, headings: Sequence[float], *procedures: Procedure) -> dict[int, float]:
    return {one.wall: one.missing_mm for one in shortfalls(bay, procedures, headings)}


def test_a_rectangle_is_short_by_what_is_missing_of_the_length() -> None:
    # By hand: from 1,000 mm behind the origin to 5,200 mm ahead of it are 6,200 mm.
    answer = fit(Bay(rectangle(0, 0, 6000, 4000)), [0], [FRONT])
    assert [(one.wall, one.outward) for one in answer.shortfall] == [(1, (1.0, 0.0)), (3, (-1.0, 0.0))]
    assert [one.missing_mm for one in answer.shortfall] == pytest.approx([200.0, 200.0], abs=0.3)
    assert [one.because for one in answer.shortfall] == [
        Cause("front camera", "board"),
        Cause("front camera", "car"),
    ]


def test_the_least_over_the_headings_counts() -> None:
    # At 90 degrees 6,200 mm are needed upwards of 4,000 there are; at 0 degrees 200 mm are missing.
    found = amounts(Bay(rectangle(0, 0, 6000, 4000)), [90, 0], FRONT)
    assert found == pytest.approx({0: 2200.0, 1: 200.0, 2: 2200.0, 3: 200.0}, abs=0.3)


def test_walls_keep_the_numbers_of_a_ring_that_runs_clockwise() -> None:
    clockwise = ((0, 0), (0, 4000), (6000, 4000), (6000, 0))
    found = {one.wall: one.outward for one in shortfalls(Bay(clockwise), [FRONT], [0])}
    assert found == {0: (-1.0, 0.0), 2: (1.0, 0.0)}


def test_a_bay_that_is_short_both_ways_is_not_helped_by_one_wall() -> None:
    assert amounts(Bay(rectangle(0, 0, 6000, 2300)), [0], FRONT) == {}


def test_a_ceiling_that_is_too_low_is_not_helped_by_a_wall() -> None:
    assert amounts(Bay(rectangle(0, 0, 6000, 4000), ceiling_mm=1900.0), [0], FRONT) == {}


def test_an_obstacle_stays_where_it_is() -> None:
    # By hand: a post across the bay leaves 6,100 mm before it, where 100 mm are missing, and 1,700 mm behind
    # it, where 4,500 mm are; past either of its ends a sheet 2,400 mm wide needs as much.
    post = Obstacle(rectangle(6100, 0, 6300, 4000))
    whole = Procedure("whole", (Part("sheet", "solid", rectangle(0, 0, 6200, 2400)),))
    found = amounts(Bay(rectangle(0, 0, 8000, 4000), (post,)), [0], whole)
    assert found == pytest.approx({0: 2400.0, 1: 4500.0, 2: 2400.0, 3: 100.0}, abs=0.3)


@pytest.mark.parametrize("wall", range(6))
def test_an_l_shape_redrawn_by_hand(wall: int) -> None:
    """Each wall of an L moved out by hand: neighbours become longer, or shorter at the inner corner."""

    def ring(by_mm: float) -> Ring:
        x = [0.0, 5900.0, 2300.0]
        y = [0.0, 2300.0, 5900.0]
        x[1] += by_mm * (wall == 1)
        x[2] += by_mm * (wall == 3)
        x[0] -= by_mm * (wall == 5)
        y[1] += by_mm * (wall == 2)
        y[2] += by_mm * (wall == 4)
        y[0] -= by_mm * (wall == 0)
        return (x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[2], y[1]), (x[2], y[2]), (x[0], y[2])

    headings = (0, 90, 180, 270)
    found = amounts(Bay(ring(0)), headings, FRONT)
    # At 0 degrees the 2,400 mm of the board lack 100 mm across the arm: no wall alone helps both ways.
    low, high = 0.0, 8000.0
    if not fits(Bay(ring(high)), headings, [FRONT]):
        assert wall not in found
        return
    while high - low > 0.5:
        middle = (low + high) / 2
        low, high = (low, middle) if fits(Bay(ring(middle)), headings, [FRONT]) else (middle, high)
    assert found[wall] == pytest.approx(high, abs=3.0)


def test_a_door_moves_with_its_wall() -> None:
    """By hand: 1,400 mm of clear zone behind the car go out through the door; ahead 200 mm are missing."""
    zone = Part("zone", "clear_zone", rectangle(-2400, -600, -1000, 600))
    rear = Procedure("rear radar", (CAR, zone, BOARD))
    ring = rectangle(0, 0, 6000, 4000)
    through = Bay(ring, (), (Door((0, 3000), (0, 1000), open=True),))
    assert amounts(through, [0], rear) == pytest.approx({1: 200.0, 3: 200.0}, abs=1.5)
    shut = Bay(ring, (), (Door((0, 3000), (0, 1000), open=False),))
    assert amounts(shut, [0], rear) == pytest.approx({1: 1600.0, 3: 1600.0}, abs=1.5)


def test_a_slanted_wall_slides_between_its_neighbours() -> None:
    """By hand: a cut-off corner with legs of 500 mm is 500 / √2 from where the corner was.

    The two walls across from it would each have to move by a whole leg; the other two do not help.
    """
    bay = Bay(((0, 0), (6200, 0), (6200, 3500), (5700, 4000), (0, 4000)))
    wide = Procedure("wide", (Part("sheet", "solid", rectangle(0, 0, 6200, 4000)),))
    assert amounts(bay, [0], wide) == pytest.approx({0: 500, 2: 500 / 2**0.5, 4: 500}, abs=0.3)


def test_random_bays_fit_once_a_wall_has_moved_and_not_before() -> None:
    """On rectangles and rings with a corner cut off: the redrawn ring fits 3 mm later and not 3 mm sooner."""
    tried = 0
    for bay, headings, procedures in random_bays(20_250_302, 60):
        if len(bay.ring) == 4:
            for one in fit(bay, headings, procedures).shortfall:
                tried += 1
                for off_mm, does in ((3.0, True), (-3.0, False)):
                    grown = redrawn(bay, one.wall, one.outward, one.missing_mm + off_mm)
                    assert fits(grown, headings, procedures) is does
    assert tried >= 5


def redrawn(bay: Bay, wall: int, outward: tuple[float, float], by_mm: float) -> Bay:
    """Return a rectangular bay with one of its walls moved outward."""
    ring = list(bay.ring)
    for corner in (wall, (wall + 1) % 4):
        ring[corner] = (ring[corner][0] + outward[0] * by_mm, ring[corner][1] + outward[1] * by_mm)
    return Bay(tuple(ring), bay.obstacles)
