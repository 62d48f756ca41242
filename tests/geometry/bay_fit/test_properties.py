"""What must hold of any bay, with real cars (Cars93: Lock, J. Stat. Education 1(1), 1993)."""

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from geometry.bay_fit.reference import rectangle
from snapline_service.geometry import VehicleGeometry, vehicle_outline
from snapline_service.geometry.bay_fit import (
    CONTACT_MM,
    Bay,
    Door,
    Obstacle,
    Part,
    Procedure,
    fit,
    fits,
    room_of,
    roomiest_stand,
)
from snapline_service.geometry.bay_fit.pieces import polygons_in
from snapline_service.geometry.bay_fit.space import space_of

Cars = list[VehicleGeometry]
Size = tuple[float, float]
Posts = list[tuple[float, float, float]]
cars = st.integers(0, 92)
sizes = st.tuples(st.floats(5000, 9000), st.floats(2500, 6000))
posts = st.lists(st.tuples(st.floats(0, 8000), st.floats(0, 5000), st.floats(100, 500)), max_size=3)


def with_board(car: VehicleGeometry) -> Procedure:
    (rear, right), _, (front, left), _ = vehicle_outline(car)
    length, width = front - rear, left - right
    body = Part("car", "solid", rectangle(-length / 4, -width / 2, 3 * length / 4, width / 2))
    return Procedure("board", (body, Part("board", "solid", rectangle(length, -700, length + 200, 700))))


def bay_of(size: Size, stands: Posts, grow: float = 0.0) -> Bay:
    obstacles = tuple(Obstacle(rectangle(x, y, x + side, y + side)) for x, y, side in stands)
    return Bay(rectangle(-grow, -grow, size[0] + grow, size[1] + grow), obstacles)


@settings(max_examples=60, deadline=None)
@given(number=cars, size=sizes, stands=posts, more=st.floats(1, 2000))
def test_growing_a_bay_never_makes_a_fitting_car_unfit(
    cars93: list[VehicleGeometry],
    number: int,
    size: tuple[float, float],
    stands: list[tuple[float, float, float]],
    more: float,
) -> None:
    if fits(bay_of(size, stands), [0, 90], [with_board(cars93[number])]):
        assert fits(bay_of(size, stands, more), [0, 90], [with_board(cars93[number])])


@settings(max_examples=60, deadline=None)
@given(number=cars, size=sizes, heading_deg=st.floats(0, 359))
def test_in_a_bay_without_anything_a_car_that_fits_fits_turned_round(
    cars93: Cars, number: int, size: Size, heading_deg: float
) -> None:
    bay = bay_of(size, [])
    stands = [
        roomiest_stand(room_of(bay), [with_board(cars93[number])], [h])
        for h in (heading_deg, heading_deg + 180)
    ]
    assert (stands[0] is None) == (stands[1] is None)
    if stands[0] and stands[1]:
        assert stands[0].margin_mm == pytest.approx(stands[1].margin_mm, abs=0.05)


@settings(max_examples=40, deadline=None)
@given(number=cars, size=sizes, stands=posts, placed=st.tuples(st.floats(0, 359), st.floats(-5e4, 5e4)))
def test_turning_and_shifting_bay_and_headings_changes_nothing(
    cars93: Cars, number: int, size: Size, stands: Posts, placed: tuple[float, float]
) -> None:
    turn_deg, shift = placed
    bay, turn = bay_of(size, stands), np.radians(turn_deg)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    def there(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((float(x), float(y)) for x, y in np.array(points) @ spin.T + shift)

    moved = Bay(there(bay.ring), tuple(Obstacle(there(one.polygon)) for one in bay.obstacles))
    one, other = (
        fit(bay, [0], [with_board(cars93[number])]),
        fit(moved, [turn_deg], [with_board(cars93[number])]),
    )
    if max(one.margin_mm or 0.0, other.margin_mm or 0.0) > 1.0:  # at a mere touch either may be right
        assert one.margin_mm == pytest.approx(other.margin_mm, rel=0.01, abs=0.1)


@settings(max_examples=60, deadline=None)
@given(number=cars, size=sizes, stands=posts, out=st.lists(st.floats(-12, 12), min_size=8, max_size=8))
@example(83, (6293.0, 2500.0), [(0.0, 422.0, 102.0), (5064.0, 4.0, 102.0)], [0.0] * 8)
def test_no_pose_leaves_more_room_than_the_one_that_is_given(
    cars93: Cars, number: int, size: Size, stands: Posts, out: list[float]
) -> None:
    """Source: GEOS's largest inscribed circle, a quadtree (reference library); walls are seldom straight."""
    (x, y), procedures = size, [with_board(cars93[number])]
    dented = zip(rectangle(0, 0, x, y), [(x / 2, 0), (x, y / 2), (x / 2, y), (0, y / 2)], strict=True)
    ring = [
        (px + dx, py + dx) for (px, py), dx in zip([p for pair in dented for p in pair], out, strict=True)
    ]
    room = room_of(Bay(tuple(ring), bay_of(size, stands).obstacles))
    stand = roomiest_stand(room, procedures, [0])
    if stand:
        free = polygons_in(space_of(room, procedures, 0).fixed)
        greatest_mm = max(shapely.maximum_inscribed_circle(part, 0.05).length for part in free)
        assert stand.margin_mm <= greatest_mm + 0.1
        assert stand.margin_mm >= greatest_mm - CONTACT_MM - 0.1 - 0.01 * greatest_mm


@settings(max_examples=25, deadline=None)
@given(number=cars, size=sizes, stands=posts)
def test_a_wall_moved_out_by_its_shortfall_makes_it_fit_and_by_less_does_not(
    cars93: list[VehicleGeometry],
    number: int,
    size: tuple[float, float],
    stands: list[tuple[float, float, float]],
) -> None:
    bay, asked = bay_of(size, stands), [with_board(cars93[number])]
    for one in fit(bay, [0], asked).shortfall:
        assert fits(_moved(bay, one.wall, one.outward, one.missing_mm + 3.0), [0], asked)
        if one.missing_mm > 3.5:
            assert not fits(_moved(bay, one.wall, one.outward, one.missing_mm - 3.0), [0], asked)


def _moved(bay: Bay, wall: int, outward: tuple[float, float], by_mm: float) -> Bay:
    """Return a rectangle with one of its walls moved."""
    ring = [list(corner) for corner in bay.ring]
    for corner in (wall, (wall + 1) % len(ring)):
        ring[corner] = [ring[corner][axis] + outward[axis] * by_mm for axis in (0, 1)]
    return Bay(tuple((x, y) for x, y in ring), bay.obstacles)


@pytest.mark.parametrize("number", range(0, 93, 10))
def test_clearing_what_is_named_makes_it_fit(cars93: Cars, number: int) -> None:
    """A post in the middle leaves less than any car on every side of it; a pipe in a corner is in no way."""
    car = Procedure("car", with_board(cars93[number]).parts[:1])
    post = Obstacle(rectangle(3100, 1350, 3400, 1650))
    pipe = Obstacle(rectangle(0, 0, 100, 100))
    bay = Bay(rectangle(0, 0, 6500, 3000), (pipe, post))
    answer = fit(bay, [0], [car])
    assert answer.obstacles_to_clear == (1,)
    assert fits(Bay(bay.ring, (pipe,)), [0], [car])


CAR = Part("car", "solid", rectangle(-1000, -900, 3500, 900), 0.0, 1500.0)
ZONE = rectangle(-6000, -600, -1000, 600)
DOOR = Door((0.0, 3000.0), (0.0, 1000.0), open=True)
ROOM = rectangle(0, 0, 6000, 4000)


@pytest.mark.parametrize(
    ("kind", "door", "does"),
    [
        ("clear_zone", DOOR, True),
        ("clear_zone", Door(DOOR.start, DOOR.end, open=False), False),
        ("solid", DOOR, False),
        ("walking_margin", DOOR, False),
        ("clear_zone", Door((0.0, 2100.0), (0.0, 1000.0), open=True), False),  # narrower than the zone
    ],
)
def test_only_a_clear_zone_reaches_out_and_only_through_an_open_door(
    kind: str, door: Door, does: bool
) -> None:
    zone = Part("zone", kind, ZONE)  # type: ignore[arg-type]
    assert fits(Bay(ROOM, (), (door,)), [0], [Procedure("rear", (CAR, zone))]) is does


@pytest.mark.parametrize(
    ("z_min", "z_max", "does"), [(0, None, False), (1500, None, True), (1499, 3000, False), (0, 900, False)]
)
def test_what_hangs_above_a_part_is_not_in_its_way(z_min: float, z_max: float | None, does: bool) -> None:
    beam = Obstacle(rectangle(2000, 0, 2300, 4000), z_min, z_max)
    assert fits(Bay(ROOM, (beam,)), [0], [Procedure("car", (CAR,))]) is does


def test_a_ceiling_that_is_too_low_leaves_no_room() -> None:
    assert fits(Bay(ROOM, ceiling_mm=1500.0), [0], [Procedure("car", (CAR,))])
    assert not fits(Bay(ROOM, ceiling_mm=1490.0), [0], [Procedure("car", (CAR,))])
