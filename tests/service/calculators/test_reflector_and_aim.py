"""POST /v1/geometry/reflector and /v1/geometry/aim-tolerance against published figures."""

from collections.abc import Callable
from math import radians, tan
from typing import Any

import pytest

Calculate = Callable[[str, dict[str, Any]], dict[str, Any]]
M_PER_MM = 1000.0


@pytest.mark.parametrize(
    ("body", "dbsm", "tolerance_db"),
    [
        # Printed for 5.405 GHz corner reflectors: ESA STEP forum, topic 14333.
        ({"shape": "dihedral", "width_mm": 1500, "height_mm": 1500, "frequency_ghz": 5.405}, 46.17, 0.01),
        ({"shape": "trihedral_triangular", "leg_mm": 2500, "frequency_ghz": 5.405}, 47.26, 0.01),
        # The formulas of Skolnik's Radar Handbook with the exact speed of light, computed elsewhere.
        ({"shape": "trihedral_triangular", "leg_mm": 100, "frequency_ghz": 76.5}, 14.358, 0.001),
        ({"shape": "trihedral_triangular", "leg_mm": 100, "frequency_ghz": 77}, 14.414, 0.001),
        ({"shape": "trihedral_triangular", "leg_mm": 150, "frequency_ghz": 24.125}, 11.377, 0.001),
        ({"shape": "trihedral_square", "leg_mm": 100, "frequency_ghz": 77}, 14.414 + 9.542, 0.001),
        ({"shape": "plate", "width_mm": 100, "height_mm": 100, "frequency_ghz": 77}, 19.185, 0.001),
        (
            {"shape": "dihedral", "width_mm": 100, "height_mm": 100, "frequency_ghz": 77},
            19.185 + 3.010,
            0.001,
        ),
        ({"shape": "trihedral_triangular", "leg_mm": 77.561, "frequency_ghz": 77}, 10.0, 0.001),
    ],
)
def test_reflectors_have_their_published_cross_section(
    calculate: Calculate, body: dict[str, Any], dbsm: float, tolerance_db: float
) -> None:
    answer = calculate("reflector", body)
    assert set(answer) == {"rcs_m2", "rcs_dbsm", "wavelength_mm"}
    assert answer["rcs_dbsm"] == pytest.approx(dbsm, abs=tolerance_db)
    assert answer["rcs_m2"] == pytest.approx(10 ** (answer["rcs_dbsm"] / 10))
    assert calculate("reflector", {"leg_mm": None, "width_mm": None, "height_mm": None} | body) == answer


@pytest.mark.parametrize(
    ("frequency_ghz", "wavelength_mm"),
    [(76.5, 3.9188557), (77, 3.8934085), (79, 3.7948412), (24.125, 12.4266304)],
)
def test_the_wavelength_is_that_of_the_exact_speed_of_light(
    calculate: Calculate, frequency_ghz: float, wavelength_mm: float
) -> None:
    body = {"shape": "plate", "width_mm": 1, "height_mm": 1, "frequency_ghz": frequency_ghz}
    assert calculate("reflector", body)["wavelength_mm"] == pytest.approx(wavelength_mm, abs=1e-7)


# Lateral error = range times the tangent: 1 degree at 100 m is 1.745506 m, and so on.
@pytest.mark.parametrize(
    ("range_m", "angle_deg", "miss_m"),
    [
        (100, 1.0, 1.745506),
        (100, 0.1, 0.174533),
        (100, 0.5, 0.872687),
        (100, 2.0, 3.492077),
        (50, 1.0, 0.872753),
        (150, 1.0, 2.618260),
    ],
)
def test_one_degree_at_a_hundred_metres(
    calculate: Calculate, range_m: float, angle_deg: float, miss_m: float
) -> None:
    body = {
        "sensor": {"x_mm": 3700, "y_mm": 10, "z_mm": 600, "yaw_deg": 0, "pitch_deg": 0},
        "nominal": {"x_mm": 3700 + range_m * M_PER_MM, "y_mm": 10, "z_mm": 600},
        "allowed_yaw_deg": angle_deg,
    }
    answer = calculate("aim-tolerance", body)
    assert set(answer) == {"along_mm", "lateral_mm", "height_mm"}
    assert answer["lateral_mm"] / M_PER_MM == pytest.approx(miss_m, abs=1e-6)
    # Straight ahead no shift along the line of sight turns it, and height was not limited.
    assert (answer["along_mm"], answer["height_mm"]) == (None, None)
    both = calculate("aim-tolerance", body | {"allowed_elevation_deg": angle_deg})
    assert both["height_mm"] / M_PER_MM == pytest.approx(miss_m, abs=1e-6)
    assert calculate("aim-tolerance", body | {"allowed_elevation_deg": None}) == answer


def test_along_and_lateral_are_those_of_the_sensors_aim(calculate: Calculate) -> None:
    # The sensor looks left; the target stands 2 m out, so a shift along the car is across the sight.
    body = {
        "sensor": {"x_mm": 1000, "y_mm": 900, "z_mm": 600, "yaw_deg": 90},
        "nominal": {"x_mm": 1000, "y_mm": 2900, "z_mm": 600},
        "allowed_yaw_deg": 0.5,
    }
    answer = calculate("aim-tolerance", body)
    assert answer["lateral_mm"] == pytest.approx(2000 * tan(radians(0.5)))
    assert answer["along_mm"] is None
