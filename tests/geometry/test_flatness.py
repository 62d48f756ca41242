"""The minimum zone against enumeration and simulation."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry import floor_otherwise as otherwise
from snapline_service.geometry import Position
from snapline_service.geometry.flatness import minimum_zone

SQUARE = [(0.0, 0.0), (2800.0, 0.0), (0.0, 1600.0), (2800.0, 1600.0)]


def points(places: list[tuple[float, float]], heights: list[float]) -> list[Position]:
    return [Position(x, y, z) for (x, y), z in zip(places, heights, strict=True)]


def test_a_plane_however_steep_has_no_zone_and_a_twist_has_its_own() -> None:
    steep = [0.2 * x - 0.1 * y + 500.0 for x, y in SQUARE]
    assert minimum_zone(points(SQUARE, steep)).band_mm == pytest.approx(0.0, abs=1e-9)
    # Two diagonals that miss each other by 8 mm where they cross: a band of 8 holds all four corners.
    assert minimum_zone(points(SQUARE, [4.0, -4.0, -4.0, 4.0])).band_mm == pytest.approx(8.0)


def test_one_hump_in_the_middle_of_a_line_of_feet() -> None:
    line = [*SQUARE, (5000.0, 0.0), (5000.0, 800.0), (5000.0, 1600.0)]
    zone = minimum_zone(points(line, [0, 0, 0, 0, 0, 3.0, 0]))
    assert zone.band_mm == pytest.approx(3.0)
    assert zone.above_middle_mm[5] == pytest.approx(1.5)


coordinates = st.floats(-6000, 6000)


@settings(max_examples=150)
@given(st.lists(st.tuples(coordinates, coordinates, st.floats(-30, 30)), min_size=0, max_size=7))
def test_the_zone_is_that_of_the_worst_four_points(more: list[tuple[float, float, float]]) -> None:
    places = [*SQUARE, *((x, y) for x, y, _ in more)]
    heights = [1.0, -2.0, 0.5, 4.0, *(z for _, _, z in more)]
    zone = minimum_zone(points(places, heights))
    (widest,) = otherwise.flatness(np.array(places), np.array(heights)[:, None])
    assert zone.band_mm == pytest.approx(widest, abs=1e-5)
    assert np.ptp(zone.above_middle_mm) == pytest.approx(zone.band_mm, abs=1e-5)
    assert zone.band_per_height @ np.array(heights) == pytest.approx(zone.band_mm, abs=1e-5)


def test_the_zone_follows_its_readings_as_a_simulation_says() -> None:
    """To first order: the four points that hold the zone must stay the same four."""
    places = [*SQUARE, (5000.0, 200.0), (5100.0, 800.0), (5000.0, 1500.0)]
    heights = [12.0, -9.0, 2.0, 14.0, 21.0, -6.0, 3.0]
    zone = minimum_zone(points(places, heights))
    rng = np.random.default_rng(7)
    drawn = np.array(heights)[:, None] + 0.02 * rng.standard_normal((7, 40_000))
    simulated = otherwise.flatness(np.array(places), drawn).std()
    assert 0.02 * np.linalg.norm(zone.band_per_height) == pytest.approx(simulated, rel=0.02)
