"""Tapes by their classes, laser meters, and the figures printed for them."""

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.geometry.tapes import instrument, laser_meter, printed_mm, tape


# Directive 2014/32/EU, annex X, MI-008: a + b L mm; I 0.1/0.1, II 0.3/0.2, III 0.6/0.4, L in begun metres.
@pytest.mark.parametrize(
    ("tape_class", "length_mm", "mpe_mm"),
    [
        ("I", 1.0, 0.2),
        ("I", 10000.0, 1.1),
        ("II", 1000.0, 0.5),
        ("II", 1000.1, 0.7),
        ("II", 9999.0, 2.3),
        ("III", 2999.9, 1.8),
        ("III", 3000.0, 1.8),
        ("III", 3000.1, 2.2),
    ],
)
def test_the_permissible_error_counts_every_begun_metre(
    tape_class: str, length_mm: float, mpe_mm: float
) -> None:
    found = tape(tape_class, 10000.0)
    assert found.mpe_mm(np.array([length_mm]))[0] == pytest.approx(mpe_mm, abs=1e-12)
    assert found.u_of_mm(length_mm) == pytest.approx(sqrt(mpe_mm**2 / 3 + 0.5**2))


def test_whole_metres_that_rounding_has_lifted_stay_whole_metres() -> None:
    length = np.array([np.hypot(1800.0, 2400.0) * (1 + 1e-15)])
    assert tape("II", 5000.0).mpe_mm(length)[0] == pytest.approx(0.9)


def test_a_laser_meter_has_one_error_at_any_distance() -> None:
    meter = laser_meter(1.5, 50000.0)
    assert meter.mpe_mm(np.array([100.0, 40000.0])).tolist() == [1.5, 1.5]
    assert meter.u_of_mm(12345.0) == pytest.approx(sqrt(1.5**2 / 3 + 0.25))


@pytest.mark.parametrize(("units", "half_mm"), [("mm", 0.5), ("in", 25.4 / 32)])
def test_a_printed_figure_is_off_by_half_a_step_at_most(units: str, half_mm: float) -> None:
    lengths = [1000 + 0.037 * step for step in range(3000)]
    off = [printed_mm(length, units) - length for length in lengths]
    assert max(map(abs, off)) <= half_mm + 1e-9
    # The figures' rounding is rectangular: its sd over many lengths is what the uncertainty takes.
    assert float(np.std(off)) == pytest.approx(half_mm / sqrt(3), rel=0.01)
    rounded = tape("II", 5000.0).printed_in(units)
    assert rounded.u_of_mm(1500.0) == pytest.approx(sqrt(0.7**2 / 3 + 0.25 + half_mm**2 / 3))


@given(st.sampled_from(["I", "II", "III"]), st.floats(1.0, 20000.0), st.floats(0.0, 5000.0))
def test_a_longer_distance_is_never_surer(tape_class: str, length_mm: float, more_mm: float) -> None:
    found = tape(tape_class, 50000.0)
    assert found.u_of_mm(length_mm + more_mm) >= found.u_of_mm(length_mm)


def test_an_instrument_has_a_class_or_an_error_and_not_both() -> None:
    assert instrument("I", None, 5000.0) == tape("I", 5000.0)
    assert instrument(None, 2.0, 5000.0) == laser_meter(2.0, 5000.0)
    for tape_class, mpe_mm in ((None, None), ("II", 1.0)):
        with pytest.raises(InvalidValue):
            instrument(tape_class, mpe_mm, 5000.0)
    with pytest.raises(InvalidValue):
        instrument(None, 0.0, 5000.0)
    with pytest.raises(InvalidValue):
        tape("II", 0.0)
    with pytest.raises(UnknownName):
        tape("IV", 5000.0)
