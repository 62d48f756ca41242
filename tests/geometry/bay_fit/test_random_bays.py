"""Random bays against a naive grid of 20 mm that knows nothing of free space.

A grid proves a fit when it finds one, and nothing when it does not. But no clearance changes faster than the
vehicle moves, so half a diagonal of the grid, 14.2 mm, is all that it can miss. SNAPLINE_MANY_BAYS=500 tries
that many bays instead of 60.
"""

import os

import pytest

from geometry.bay_fit.reference import clearance, grid, parts_of, random_bays
from snapline_service.geometry.bay_fit import Bay, Procedure, fit

BAYS = int(os.environ.get("SNAPLINE_MANY_BAYS", "60"))
STEP_MM = 20.0
MISSED_MM = STEP_MM * 2**0.5 / 2
DEAD_BAND_MM = 0.5


CASES = list(random_bays(20_250_301, BAYS))


@pytest.mark.parametrize(("bay", "headings", "procedures"), CASES, ids=range(BAYS))
def test_no_answer_contradicts_the_grid(
    bay: Bay, headings: tuple[float, ...], procedures: tuple[Procedure, ...]
) -> None:
    answer = fit(bay, headings, procedures)
    parts = parts_of(procedures)
    on_grid = max(grid(bay, parts, heading, STEP_MM)[0] for heading in headings)
    if answer.one_pose:
        assert answer.pose is not None
        assert answer.margin_mm is not None
        pose = answer.pose
        found = clearance(bay, parts, pose.x_mm, pose.y_mm, pose.heading_deg)
        assert found == pytest.approx(answer.margin_mm, abs=DEAD_BAND_MM)
        assert on_grid - 0.1 <= answer.margin_mm <= max(on_grid, 0.0) + MISSED_MM
    else:
        assert on_grid <= DEAD_BAND_MM
    for stand in answer.poses:
        there = [part for one in procedures if one.name in stand.procedures for part in one.parts]
        assert clearance(bay, there, stand.x_mm, stand.y_mm, stand.heading_deg) > -DEAD_BAND_MM
    for name in answer.unservable:
        alone = next(list(one.parts) for one in procedures if one.name == name)
        assert max(grid(bay, alone, heading, STEP_MM)[0] for heading in headings) <= DEAD_BAND_MM


def test_the_random_bays_give_every_kind_of_answer() -> None:
    answers = [fit(*case) for case in random_bays(20_250_301, 60)]
    assert {len(answer.poses) for answer in answers} >= {0, 1}
    assert sum(answer.one_pose for answer in answers) > 10
    assert any(answer.unservable for answer in answers)
    assert any(answer.shortfall for answer in answers)
    assert any(answer.obstacles_to_clear for answer in answers)
