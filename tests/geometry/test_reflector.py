"""Radar cross-sections against published figures."""

from math import inf, nan
from typing import Any

import pytest

from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.geometry import cross_section, leg_for


def test_the_reflectors_of_a_satellite_calibration_site() -> None:
    """ESA STEP forum, topic 14333: 5.405 GHz, dihedral 1.5 m square 46.17, trihedral 2.5 m 47.26 dBm2."""
    dihedral = cross_section("dihedral", 5.405, width_mm=1500.0, height_mm=1500.0)
    trihedral = cross_section("trihedral_triangular", 5.405, leg_mm=2500.0)
    assert dihedral.rcs_dbsm == pytest.approx(46.17, abs=0.005)
    assert trihedral.rcs_dbsm == pytest.approx(47.26, abs=0.005)


def test_the_peak_of_a_simulated_trihedral() -> None:
    """Public test of Aresys perseo_quality: leg 0.7 m at a wavelength of 0.055 m peaks at 332.4722407 m2."""
    answer = cross_section("trihedral_triangular", 0.299792458 / 0.055, leg_mm=700.0)
    assert answer.wavelength_mm == pytest.approx(55.0)
    assert answer.rcs_m2 == pytest.approx(332.4722407, abs=1e-7)


# Computed independently from the formulas in Skolnik's Radar Handbook with exact c.
AUTOMOTIVE = [
    (76.5, 3.9188557, 14.358, 21.401, 77.814),
    (77.0, 3.8934085, 14.414, 21.458, 77.561),
    (79.0, 3.7948412, 14.637, 21.681, 76.573),
    (24.125, 12.4266304, 4.334, 11.377, 138.565),
]


@pytest.mark.parametrize(
    ("frequency_ghz", "wavelength_mm", "of_100_mm", "of_150_mm", "for_10_dbsm"), AUTOMOTIVE
)
def test_triangular_trihedrals_at_automotive_frequencies(
    frequency_ghz: float, wavelength_mm: float, of_100_mm: float, of_150_mm: float, for_10_dbsm: float
) -> None:
    small = cross_section("trihedral_triangular", frequency_ghz, leg_mm=100.0)
    large = cross_section("trihedral_triangular", frequency_ghz, leg_mm=150.0)
    assert small.wavelength_mm == pytest.approx(wavelength_mm, abs=1e-7)
    assert (small.rcs_dbsm, large.rcs_dbsm) == pytest.approx((of_100_mm, of_150_mm), abs=0.001)
    assert leg_for("trihedral_triangular", 10.0, frequency_ghz) == pytest.approx(for_10_dbsm, abs=0.001)


def test_other_shapes_stand_in_fixed_relation() -> None:
    triangular = cross_section("trihedral_triangular", 77.0, leg_mm=100.0)
    square = cross_section("trihedral_square", 77.0, leg_mm=100.0)
    plate = cross_section("plate", 77.0, width_mm=100.0, height_mm=100.0)
    dihedral = cross_section("dihedral", 77.0, width_mm=100.0, height_mm=100.0)
    assert square.rcs_dbsm - triangular.rcs_dbsm == pytest.approx(9.542, abs=0.001)
    assert plate.rcs_dbsm == pytest.approx(19.185, abs=0.001)
    assert dihedral.rcs_dbsm - plate.rcs_dbsm == pytest.approx(3.010, abs=0.001)


def test_the_outer_edge_instead_of_the_leg_would_be_6_02_db_too_much() -> None:
    leg = cross_section("trihedral_triangular", 77.0, leg_mm=100.0)
    edge = cross_section("trihedral_triangular", 77.0, leg_mm=100.0 * 2**0.5)
    assert edge.rcs_dbsm - leg.rcs_dbsm == pytest.approx(6.02, abs=0.005)


def test_only_the_area_of_a_plate_counts() -> None:
    wide = cross_section("plate", 77.0, width_mm=400.0, height_mm=25.0)
    assert wide.rcs_m2 == pytest.approx(cross_section("plate", 77.0, width_mm=100.0, height_mm=100.0).rcs_m2)


@pytest.mark.parametrize("shape", ["trihedral_triangular", "trihedral_square"])
@pytest.mark.parametrize("leg_mm", [20.0, 100.0, 2500.0])
def test_the_leg_for_a_cross_section_gives_that_cross_section(shape: str, leg_mm: float) -> None:
    answer = cross_section(shape, 76.5, leg_mm=leg_mm)
    assert leg_for(shape, answer.rcs_dbsm, 76.5) == pytest.approx(leg_mm, rel=1e-12)


@pytest.mark.parametrize(
    ("shape", "sizes", "pointer", "mend"),
    [
        pytest.param("trihedral_square", {}, "/leg_mm", "leg_mm", id="leg-missing"),
        pytest.param(
            "dihedral", {"height_mm": 1.0}, "/width_mm", "width_mm and height_mm", id="width-missing"
        ),
        pytest.param("plate", {"width_mm": 1.0}, "/height_mm", "width_mm and height_mm", id="height-missing"),
        pytest.param(
            "trihedral_square", {"leg_mm": 1.0, "width_mm": 1.0}, "/width_mm", "leg_mm", id="width-extra"
        ),
        pytest.param(
            "plate", {"width_mm": 1.0, "height_mm": 1.0, "leg_mm": 1.0}, "/leg_mm", "width_mm", id="leg-extra"
        ),
        pytest.param("plate", {"width_mm": 1.0, "height_mm": 0.0}, "/height_mm", "above 0", id="height-zero"),
        pytest.param("trihedral_square", {"leg_mm": -5.0}, "/leg_mm", "above 0", id="leg-negative"),
        pytest.param("trihedral_square", {"leg_mm": nan}, "/leg_mm", "above 0", id="leg-not-a-number"),
        pytest.param("trihedral_square", {"leg_mm": 1_000_001.0}, "/leg_mm", "1 km", id="leg-too-long"),
        pytest.param("trihedral_square", {"leg_mm": 1e-200}, "/leg_mm", "wavelength", id="leg-vanishing"),
    ],
)
def test_sizes_that_the_shape_cannot_have(shape: str, sizes: dict[str, Any], pointer: str, mend: str) -> None:
    with pytest.raises(InvalidValue) as refusal:
        cross_section(shape, 77.0, **sizes)
    assert refusal.value.pointer == pointer
    assert mend in refusal.value.mend


@pytest.mark.parametrize("frequency_ghz", [0.0, -77.0, nan, inf, 1e9])
def test_a_frequency_that_cannot_be(frequency_ghz: float) -> None:
    with pytest.raises(InvalidValue) as refusal:
        cross_section("plate", frequency_ghz, width_mm=100.0, height_mm=100.0)
    assert refusal.value.pointer == "/frequency_ghz"


def test_an_unknown_shape_comes_back_with_the_known_ones() -> None:
    with pytest.raises(UnknownName) as refusal:
        cross_section("trihedral_triangle", 77.0, leg_mm=100.0)
    assert refusal.value.pointer == "/shape"
    assert "'trihedral_triangular'" in refusal.value.mend


def test_no_leg_for_a_plate_or_for_an_impossible_figure() -> None:
    with pytest.raises(InvalidValue) as refusal:
        leg_for("plate", 10.0, 77.0)
    assert refusal.value.pointer == "/shape"
    with pytest.raises(InvalidValue) as refusal:
        leg_for("trihedral_square", nan, 77.0)
    assert refusal.value.pointer == "/rcs_dbsm"
