"""Outlines of bays: what is a room, what is refused, and in which words."""

from math import cos, pi, sin

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Polygon, affinity, minimum_rotated_rectangle

from snapline_service.sites.outline import outline_faults

Ring = list[tuple[float, float]]
ROOM: Ring = [(0, 0), (15500, 0), (15500, 7600), (0, 7600)]
ELL: Ring = [(0, 0), (13200, 0), (13200, 5200), (8200, 5200), (8200, 9400), (0, 9400)]


def only(ring: Ring) -> tuple[str, str, str]:
    (fault,) = outline_faults(ring, "/ring")
    return fault.pointer, fault.detail, fault.mend


def scaled(ring: Ring, mm: float) -> Ring:
    """Return the corners in another unit, of which each has so many millimetres."""
    return [(x / mm, y / mm) for x, y in ring]


@pytest.mark.parametrize("ring", [ROOM, ELL], ids=["rectangle", "with a corner"])
@pytest.mark.parametrize("start", range(4))
def test_a_room_is_taken_from_whichever_corner_it_begins(ring: Ring, start: int) -> None:
    assert outline_faults(ring[start:] + ring[:start]) == []


def test_a_corner_in_the_middle_of_a_wall_is_a_corner() -> None:
    assert outline_faults([(0, 0), (7000, 0), *ROOM[1:]]) == []


@pytest.mark.parametrize("ring", [ROOM, ELL])
def test_a_clockwise_outline_is_refused_and_the_mend_is_its_reverse(ring: Ring) -> None:
    pointer, detail, mend = only(ring[::-1])
    assert pointer == "/ring"
    assert "clockwise" in detail
    assert "opposite order" in mend


def test_a_bow_tie_names_the_two_walls_that_cross() -> None:
    pointer, detail, _ = only([(0, 0), (15500, 0), (0, 7600), (15500, 7600)])
    assert pointer == "/ring/1"
    assert "wall 1, from (15,500, 0) to (0, 7,600), crosses wall 3, from (15,500, 7,600) to (0, 0)" in detail


def test_a_wall_that_runs_back_along_another_is_told() -> None:
    faults = outline_faults([(0, 0), (5000, 0), (5000, 5000), (5000, 2000), (0, 5000)])
    assert any("wall 1" in fault.detail and "runs back along wall 2" in fault.detail for fault in faults)


def test_a_corner_that_touches_a_wall_is_told() -> None:
    faults = outline_faults([(0, 0), (9000, 0), (9000, 5000), (4000, 0), (0, 5000)])
    assert {fault.pointer for fault in faults} == {"/0"}
    assert all("wall 0" in fault.detail and "touches" in fault.detail for fault in faults)


def test_a_ring_that_is_closed_by_hand_is_told_so() -> None:
    pointer, detail, mend = only([*ROOM, ROOM[0]])
    assert pointer == "/ring/4"
    assert "Corner 4 is corner 0 again" in detail
    assert "closes by itself" in mend


def test_a_repeated_corner_is_pointed_at() -> None:
    pointer, detail, _ = only([*ROOM[:2], (15500.4, 0.0), *ROOM[2:]])
    assert pointer == "/ring/2"
    assert "Corner 2 is corner 1 again" in detail


# The international foot and inch (exact since 1959) and the metric prefixes.
@pytest.mark.parametrize(
    ("unit", "mm"), [("metres", 1000.0), ("feet", 304.8), ("inches", 25.4), ("centimetres", 10.0)]
)
@pytest.mark.parametrize("ring", [ROOM, ELL], ids=["rectangle", "with a corner"])
def test_another_unit_is_recognised_and_the_size_in_mm_told(ring: Ring, unit: str, mm: float) -> None:
    _, detail, mend = only(scaled(ring, mm))
    assert "at least 2,000 mm" in detail
    assert unit in mend
    assert mend.startswith("Are these")
    long, short = max(x for x, _ in ring), max(y for _, y in ring)
    assert f"{long:,.0f} × {short:,.0f}" in mend


def test_what_no_unit_explains_is_just_too_small() -> None:
    _, detail, mend = only([(0, 0), (9000, 0), (9000, 1900), (0, 1900)])
    assert "9,000 × 1,900 mm" in detail
    assert mend == "Give its corners in millimetres."


@pytest.mark.parametrize(
    "ring", [[(0, 0), (5000, 0), (9000, 0)], [(0, 0)] * 3, [(0, 0), (5000, 5000), (9000, 9000)]]
)
def test_corners_on_one_line_are_no_room(ring: Ring) -> None:
    assert "× 0 mm" in only(ring)[1]


def test_a_room_of_more_than_200_m_is_not_in_mm() -> None:
    assert "longer than 200,000 mm" in only(scaled(ROOM, 0.001))[1]
    assert outline_faults([(0, 0), (200_000, 0), (200_000, 9000), (0, 9000)]) == []


def test_exactly_two_metres_will_do() -> None:
    assert outline_faults([(0, 0), (2000, 0), (2000, 2000), (0, 2000)]) == []


@given(
    corners=st.integers(3, 30),
    radii_mm=st.lists(st.floats(3000, 20_000), min_size=30, max_size=30),
    turned_deg=st.floats(0, 360),
    away_mm=st.tuples(st.floats(-50_000, 50_000), st.floats(-50_000, 50_000)),
)
def test_any_room_seen_from_its_middle_is_taken_wherever_it_stands(
    corners: int, radii_mm: list[float], turned_deg: float, away_mm: tuple[float, float]
) -> None:
    """A star-shaped ring by rising angle is simple and counter-clockwise; its reverse is the one fault."""
    angles = [2 * pi * number / corners for number in range(corners)]
    ring = [(r * cos(angle), r * sin(angle)) for angle, r in zip(angles, radii_mm, strict=False)]
    shape = affinity.translate(affinity.rotate(Polygon(ring), turned_deg), *away_mm)
    moved = [(x, y) for x, y, *_ in shape.exterior.coords][:-1]
    assert outline_faults(moved) == []
    assert ["clockwise" in fault.detail for fault in outline_faults(moved[::-1])] == [True]


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=3, max_size=8))
def test_what_is_taken_is_a_simple_polygon_and_what_is_refused_is_not(places: list[tuple[int, int]]) -> None:
    """By shapely as the reference: on a grid of 3 m no unit and no size is in doubt."""
    ring = [(3000.0 * x, 3000.0 * y) for x, y in places]
    polygon = Polygon(ring)
    around = minimum_rotated_rectangle(polygon)
    assume(isinstance(around, Polygon))
    # On this grid the narrowest rooms, such as a sliver along a diagonal, are refused for their size.
    assume(around.area / (around.length / 2) > 2000)
    simple = polygon.is_valid and polygon.exterior.is_ccw and len(set(ring)) == len(ring)
    assert (outline_faults(ring) == []) == simple
