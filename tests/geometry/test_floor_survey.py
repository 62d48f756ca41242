"""Heights between the points of a surveyed floor."""

from math import cos, hypot, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import griddata

from snapline_service.errors import InvalidValue
from snapline_service.geometry import BayPose, Position
from snapline_service.geometry.floor_survey import FloorSurvey

RNG = np.random.default_rng(4)
SCATTERED = [Position(*row) for row in RNG.uniform((0, 0, -8), (12_000, 6_000, 8), (40, 3))]
GRID = [Position(x, y, 0.0) for x in range(0, 8001, 2000) for y in range(0, 4001, 2000)]
HERE = BayPose(0.0, 0.0, 0.0)


@settings(max_examples=100)
@given(st.floats(4_000, 8_000), st.floats(2_000, 4_000), st.floats(-360, 360), st.floats(-900, 900))
def test_heights_are_those_of_another_interpolation(
    x_mm: float, y_mm: float, heading_deg: float, ahead_mm: float
) -> None:
    """scipy's griddata, at the place in the bay that trigonometry gives."""
    found = FloorSurvey(SCATTERED, 0.4).floor_correction(
        BayPose(x_mm, y_mm, heading_deg), {"foot": (ahead_mm, 0.0)}
    )
    place = (x_mm + ahead_mm * cos(radians(heading_deg)), y_mm + ahead_mm * sin(radians(heading_deg)))
    surveyed = np.array([(p.x_mm, p.y_mm, p.z_mm) for p in SCATTERED])
    expected = griddata(surveyed[:, :2], surveyed[:, 2], [place], method="linear")
    assert found.z_mm == pytest.approx(expected, abs=1e-6)


@given(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.floats(0, 8000), st.floats(0, 4000))
def test_a_sloping_plane_is_met_everywhere(ahead: float, left: float, x_mm: float, y_mm: float) -> None:
    plane = [Position(p.x_mm, p.y_mm, 5.0 + ahead * p.x_mm + left * p.y_mm) for p in GRID]
    found = FloorSurvey(plane, 0.4).floor_correction(HERE, {"foot": (x_mm, y_mm)})
    assert found.z_mm[0] == pytest.approx(5.0 + ahead * x_mm + left * y_mm, abs=1e-6)


def test_points_that_share_readings_share_their_uncertainty() -> None:
    points = {"on a point": (2000.0, 2000.0), "halfway": (3000.0, 2000.0), "far away": (8000.0, 0.0)}
    found = FloorSurvey(GRID, 0.4).floor_correction(HERE, points)
    u = np.sqrt(np.diag(found.covariance_mm2))
    # The mean of two readings has their u over the root of two, and half of it in common with either.
    assert u == pytest.approx([0.4, 0.4 / np.sqrt(2), 0.4])
    assert found.covariance_mm2[0, 1] == pytest.approx(0.16 / 2)
    assert found.covariance_mm2[0, 2] == 0.0


def test_uncertainties_are_those_of_a_simulation() -> None:
    points = {"one": (4100.0, 2200.0), "two": (4300.0, 2500.0), "three": (7000.0, 3000.0)}
    found = FloorSurvey(SCATTERED, 0.7).floor_correction(HERE, points)
    drawn = []
    for _ in range(4_000):
        moved = [Position(p.x_mm, p.y_mm, p.z_mm + 0.7 * RNG.standard_normal()) for p in SCATTERED]
        drawn.append([p.z_mm for p in moved])
    surveyed = np.array([(p.x_mm, p.y_mm) for p in SCATTERED])
    simulated = griddata(surveyed, np.array(drawn).T, list(points.values()), method="linear")
    assert np.cov(simulated) == pytest.approx(found.covariance_mm2, abs=0.02)


def test_the_edge_belongs_to_the_floor_whichever_way_the_bay_is_turned() -> None:
    for heading_deg in (0.0, 37.0, 90.0, 213.0, -90.0):
        turned = BayPose(8000.0, 0.0, heading_deg)
        back = radians(-heading_deg)
        for x_mm, y_mm in ((0.0, 1300.0), (-3100.0, 0.0), (0.0, 4000.0)):
            local = (x_mm * cos(back) - y_mm * sin(back), x_mm * sin(back) + y_mm * cos(back))
            assert FloorSurvey(GRID, 0.4).floor_correction(turned, {"foot": local}).z_mm == [0.0]


def test_outside_the_survey_nothing_is_guessed() -> None:
    with pytest.raises(InvalidValue) as refused:
        FloorSurvey(GRID, 0.4).floor_correction(HERE, {"in": (10.0, 10.0), "the left foot": (8300.0, 4400.0)})
    assert "the left foot" in refused.value.detail
    assert f"{hypot(300, 400):.0f} mm outside" in refused.value.detail
    assert refused.value.mend


@pytest.mark.parametrize(
    ("points", "pointer"),
    [
        ([], "/survey"),
        (GRID[:2], "/survey"),
        (GRID[:3], "/survey"),  # three in a row
        ([*GRID, GRID[4]], "/survey/15"),
        ([*GRID, Position(1.0, 2.0, float("nan"))], "/survey/15/z_mm"),
        ([*GRID, Position(2e6, 2.0, 0.0)], "/survey/15/x_mm"),
    ],
)
def test_surveys_that_span_no_area_or_repeat_a_point_are_refused(
    points: list[Position], pointer: str
) -> None:
    with pytest.raises(InvalidValue) as refused:
        FloorSurvey(points, 0.4)
    assert refused.value.pointer == pointer
    assert refused.value.mend
