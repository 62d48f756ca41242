"""Bay fit against published geometry of rectangles.

J. E. Wetzel, Mathematics Magazine 73(3), 2000, p. 204, after W. B. Carver, American Mathematical Monthly 64
(1957): a p × q rectangle (p >= q) fits an a × b one (a >= b) if and only if p <= a and q <= b, or p > a,
q <= b and ((a + b) / (p + q))² + ((a − b) / (p − q))² >= 2. His counter-example: 9 × 4 does not fit 8 × 6.
All headings cannot be given to the service, so a list of them is: what fits at one of them must fit by the
condition, and what fits by the condition with room to spare must fit at one of them.
"""

from itertools import product

import numpy as np
import pytest

from geometry.bay_fit.reference import rectangle, sheet
from snapline_service.geometry.bay_fit import Bay, Part, Procedure, fit, fits

CLOSE_TOGETHER = tuple(np.arange(0.0, 180.0, 0.1).tolist())


def carver(p: float, q: float, a: float, b: float) -> bool:
    (p, q), (a, b) = sorted((p, q), reverse=True), sorted((a, b), reverse=True)
    if p <= a:
        return q <= b
    return q <= b and p != q and ((a + b) / (p + q)) ** 2 + ((a - b) / (p - q)) ** 2 >= 2


def can(p: float, q: float, a: float, b: float) -> bool:
    bay = Bay(rectangle(0, 0, a * 1000, b * 1000))
    return fits(bay, CLOSE_TOGETHER, [sheet(p * 1000, q * 1000)])


@pytest.mark.parametrize(
    ("p", "q", "a", "b", "does"),
    [
        (9, 4, 8, 6, False),  # Wetzel's own, although area, diagonal, perimeter and thickness would allow it
        (9, 1.05, 8, 6, True),  # published limit for p = 9 in 8 × 6: q = 1.06037437, computed independently
        (9, 1.07, 8, 6, False),
        (4.9, 0.6, 4, 4, True),
        (5.1, 0.4, 4, 4, True),
        (5, 1, 4.2, 4.2, False),
        (10.5, 0.5, 10, 5, True),
        (11, 1, 10, 5, False),
        (6.5, 0.2, 6, 3, True),
        (4.5, 1.9, 4.4, 3.0, False),
        (8, 6, 8, 6, True),  # what touches fits
    ],
)
def test_a_rectangle_in_a_rectangle(p: float, q: float, a: float, b: float, does: bool) -> None:
    assert can(p, q, a, b) is does
    assert carver(p, q, a, b) is does


def test_carvers_condition_over_many_rectangles() -> None:
    for p, q in product((3.0, 5.5, 8.4, 9.0), (0.5, 1.5, 3.0)):
        found = can(p, q, 8, 4)
        assert found <= carver(p, q, 8, 4), "what fits at a heading of the list fits"
        assert found >= carver(p + 0.05, q + 0.05, 8, 4), "what fits with room to spare fits at one of them"


@pytest.mark.parametrize(
    ("heading_deg", "length_m", "width_m"),
    [(30, 4.847114317, 3.895448267), (45, 4.525483400, 4.525483400)],
)
def test_a_turned_car_takes_its_bounding_box(heading_deg: float, length_m: float, width_m: float) -> None:
    """4.5 × 1.9 m turned by 30° and by 45°: computed by shapely and in closed form, equal to 1e-9."""
    car = sheet(4500, 1900)
    just = Bay(rectangle(0, 0, length_m * 1000 + 0.4, width_m * 1000 + 0.4))
    assert fits(just, [heading_deg], [car])
    for short in ((2.0, 0.0), (0.0, 2.0)):
        small = Bay(rectangle(0, 0, length_m * 1000 - short[0], width_m * 1000 - short[1]))
        answer = fit(small, [heading_deg], [car])
        assert not answer.one_pose
        assert min(one.missing_mm for one in answer.shortfall) == pytest.approx(2.0, abs=0.6)


def test_two_poses_where_two_procedures_exclude_each_other() -> None:
    """By hand: a post 3 m from the left wall lets the board stand ahead only, or the mat behind only."""
    bay = Bay(rectangle(0, 0, 10000, 4000))
    car = Part("car", "solid", rectangle(-2000, -900, 2000, 900))
    ahead = Procedure("ahead", (car, Part("board", "solid", rectangle(6000, -500, 6500, 500))))
    behind = Procedure("behind", (car, Part("mat", "solid", rectangle(-6500, -500, -6000, 500))))
    answer = fit(bay, [0], [ahead, behind])
    assert not answer.one_pose
    assert [stand.procedures for stand in answer.poses] == [("ahead",), ("behind",)]
    # Together they need 13 m, so either end wall would have to move out by three metres.
    assert {one.wall: round(one.missing_mm) for one in answer.shortfall} == {1: 3000, 3: 3000}
