"""Placements with a range of distance, and how the car comes in: what the plan asks beyond the calculator."""

import pytest

from geometry.bay_fit.reference import rectangle
from snapline_service.geometry.bay_fit import (
    Bay,
    Door,
    Obstacle,
    Part,
    Procedure,
    Sliding,
    fit,
    fits,
    room_of,
    roomiest_stand,
    shortfalls,
    ways_in,
)

OUTLINE = rectangle(-1000, -900, 3500, 900)
CAR = Part("car", "solid", OUTLINE, 0.0, 1500.0)
BOARD = (Part("board", "solid", rectangle(5000, -1200, 5200, 1200)),)
RANGE = Sliding("board", BOARD, (-800.0, 0.0))


@pytest.mark.parametrize(("length", "does"), [(6200, True), (5500, True), (5401, True), (5398, False)])
def test_a_range_of_distance_is_used_to_its_end_and_no_farther(length: float, does: bool) -> None:
    # By hand: 1,000 mm behind the origin, the board's far side 5,200 to 4,400 mm ahead of it.
    bay = Bay(rectangle(0, 0, length, 4000))
    assert fits(bay, [0], [Procedure("front", (CAR,), (RANGE,))]) is does
    assert fits(bay, [0], [Procedure("front", (CAR, *BOARD))]) is (length >= 6200)


def test_the_board_stands_where_the_least_distance_is_greatest() -> None:
    # 6,000 mm: with the board slid in all the way 600 mm are to spare, 300 at each end.
    stand = roomiest_stand(
        room_of(Bay(rectangle(0, 0, 6000, 4000))), [Procedure("front", (CAR,), (RANGE,))], [0]
    )
    assert stand is not None
    assert stand.margin_mm == pytest.approx(300.0, abs=0.2)
    (slid,) = stand.slid
    assert (slid.procedure, slid.name) == ("front", "board")
    assert slid.share == pytest.approx(1.0, abs=0.01)
    assert stand.x_mm == pytest.approx(1300.0, abs=0.5)


def test_things_that_slide_together_keep_together() -> None:
    """The room to walk behind the board ends at the wall, so that it holds the board back."""
    walk = Part("walk", "walking_margin", rectangle(5200, -1200, 5900, 1200))
    together = Procedure("front", (CAR,), (Sliding("board", (*BOARD, walk), (-800.0, 0.0)),))
    assert fits(Bay(rectangle(0, 0, 6101, 4000)), [0], [together])
    assert not fits(Bay(rectangle(0, 0, 6098, 4000)), [0], [together])


def test_a_range_is_turned_with_the_car() -> None:
    tall = Bay(rectangle(0, 0, 4000, 5401))
    assert fits(tall, [90], [Procedure("front", (CAR,), (RANGE,))])
    assert not fits(tall, [0], [Procedure("front", (CAR,), (RANGE,))])


def test_a_shortfall_counts_the_range() -> None:
    bay = Bay(rectangle(0, 0, 5000, 4000))
    found = {one.wall: one.missing_mm for one in shortfalls(bay, [Procedure("front", (CAR,), (RANGE,))], [0])}
    assert found == pytest.approx({1: 400.0, 3: 400.0}, abs=1.5)


def test_a_post_within_the_range_is_passed_on_either_side() -> None:
    # Post at 4,600 to 4,900 mm ahead of where the car must stand: before or behind it there is room.
    post = Obstacle(rectangle(5600, 1500, 5900, 2500))
    close = Bay(rectangle(0, 0, 5500 + 401, 4000), (post,))
    assert fits(close, [0], [Procedure("front", (CAR,), (RANGE,))])
    assert not fits(close, [0], [Procedure("front", (CAR, *BOARD))])


ROOM = rectangle(0, 0, 7000, 4000)
WIDE = Door((0.0, 3200.0), (0.0, 800.0))


@pytest.mark.parametrize(
    ("doors", "obstacles", "headings", "does"),
    [
        ((WIDE,), (), [0], True),  # forwards, with the door behind
        ((WIDE,), (), [180], True),  # backwards
        ((WIDE,), (), [90], False),  # there is no door in that wall
        ((), (), [0], False),
        ((Door((0.0, 2700.0), (0.0, 800.0)),), (), [0], True),  # 1,900 mm for 1,800 and 2 × 50
        ((Door((0.0, 2690.0), (0.0, 800.0)),), (), [0], False),
        ((WIDE,), (Obstacle(rectangle(300, 1900, 500, 2100)),), [0], False),  # a bollard in the doorway
        ((WIDE,), (Obstacle(rectangle(300, 1900, 500, 2100), 1500.0),), [0], True),  # a lamp above it
        # At 8 degrees off the door's axis: 1,900 mm in a gap of 2,400 mm, whatever lies outside.
        ((WIDE,), (), [8], True),
    ],
)
def test_the_car_must_be_able_to_come_in(
    doors: tuple[Door, ...], obstacles: tuple[Obstacle, ...], headings: list[float], does: bool
) -> None:
    strips = ways_in(OUTLINE, beside_mm=50.0, height_mm=1500.0)
    parked = Procedure("parked", (CAR,), (), strips)
    room = rectangle(0, 0, 7000, 5000) if headings == [90] else ROOM
    assert fits(Bay(room, obstacles, doors), headings, [parked]) is does
    assert fits(Bay(room, obstacles, doors), headings, [Procedure("parked", (CAR,))])


def test_a_car_that_comes_in_stands_before_its_door() -> None:
    strips = ways_in(OUTLINE, beside_mm=50.0)
    side_door = Door((0.0, 3950.0), (0.0, 1950.0))
    answer = fit(
        Bay(rectangle(0, 0, 7000, 6000), (), (side_door,)), [0], [Procedure("parked", (CAR,), (), strips)]
    )
    assert answer.pose is not None
    assert 2900.0 - 0.2 <= answer.pose.y_mm <= 3000.0 + 0.2
