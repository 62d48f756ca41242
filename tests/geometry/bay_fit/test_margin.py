"""The spare distance against hand cases, and against a grid that is refined round its best places."""

from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest

from geometry.bay_fit.reference import clearance, parts_of, random_bays, rectangle, sheet
from snapline_service.geometry.bay_fit import Bay, Obstacle, Part, fit, room_of, roomiest_stand

POST = Obstacle(rectangle(3000, 0, 3200, 1000))


@pytest.mark.parametrize(
    ("bay", "length", "width", "margin_mm"),
    [
        (
            Bay(rectangle(0, 0, 6000, 4000)),
            4500,
            1900,
            750.0,
        ),  # (6000 − 4500) / 2 is less than (4000 − 1900) / 2
        (Bay(rectangle(0, 0, 6000, 4000)), 6000, 4000, 0.0),
        (Bay(rectangle(0, 0, 6000, 4000)), 4500, 4000, 0.0),
        # Over the post there are 3,000 mm, of which the sheet takes 1,900.
        (Bay(rectangle(0, 0, 6000, 4000), (POST,)), 4500, 1900, 550.0),
        # A square of 1 m, at 45 degrees to the walls, in the corner triangle with legs of 4 m: the incircle's
        # radius would be 4000 (1 − 1/√2); the square's sides lie along the legs and its corner faces the
        # slanted wall, so x + y = 4000 − √2 d with x = y = d + 1000 gives d = 2000 / (2 + √2).
        (Bay(((0, 0), (4000, 0), (0, 4000))), 1000, 1000, 2000 / (2 + 2**0.5)),
    ],
)
def test_the_margin_by_hand(bay: Bay, length: float, width: float, margin_mm: float) -> None:
    assert fit(bay, [0], [sheet(length, width)]).margin_mm == pytest.approx(margin_mm, abs=0.01)


def test_a_post_s_corner_is_as_far_as_it_is() -> None:
    """By hand: a square of 200 mm in the lower left of a bay of 2 m whose upper right quarter is a post.

    Its near sides are d from the walls and its far corner √2 (800 − d) from the post's: these are equal at
    d = 800 √2 / (1 + √2).
    """
    bay = Bay(rectangle(0, 0, 2000, 2000), (Obstacle(rectangle(1000, 1000, 2000, 2000)),))
    margin_mm = 800 * 2**0.5 / (1 + 2**0.5)
    assert fit(bay, [0], [sheet(200, 200)]).margin_mm == pytest.approx(margin_mm, abs=0.1)


def refined(bay: Bay, parts: Sequence[Part], heading_deg: float) -> float:
    """Return the greatest clearance: a grid of 250 mm, then ever finer grids round its eight best places."""
    xs, ys = zip(*bay.ring, strict=True)
    spans = [np.arange(min(v) - 1000, max(v) + 1000, 250.0) for v in (xs, ys)]
    places = [(x, y) for x, y in product(*spans)]
    step = 250.0
    while step > 0.1:
        ranked = sorted(places, key=lambda at: -clearance(bay, parts, at[0], at[1], heading_deg))[:8]
        step /= 2.5
        places = [
            (x + i * step, y + j * step) for x, y in ranked for i, j in product((-2, -1, 0, 1, 2), repeat=2)
        ]
    return max(clearance(bay, parts, x, y, heading_deg) for x, y in ranked)


def test_the_margin_is_that_of_a_refined_grid() -> None:
    tried = 0
    for bay, headings, procedures in random_bays(20_250_303, 8):
        stand = roomiest_stand(room_of(bay), procedures[:1], headings[:1])
        if stand and stand.margin_mm > 1.0:
            tried += 1
            found = refined(bay, parts_of(procedures[:1]), headings[0])
            assert found - 0.2 <= stand.margin_mm
            assert clearance(bay, parts_of(procedures[:1]), stand.x_mm, stand.y_mm, stand.heading_deg) == (
                pytest.approx(stand.margin_mm, abs=1e-6)
            )
    assert tried >= 4
