"""Lettering estimates and lengths, against outside facts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapline_service.sheets.drawing import Text
from snapline_service.sheets.lengths import length_figure
from snapline_service.sheets.lettering import text_box, text_width_mm, tidy, wrap


# Sums of advance widths in thousandths of the em from the metrics of Nimbus Sans, which shares Helvetica's.
@pytest.mark.parametrize(
    ("text", "bold", "thousandths"),
    [
        ("1,500 mm ahead of front bumper", False, 14563),
        ("on the centreline", False, 7393),
        ("WWW", False, 2832),
        ("illicit till", False, 3110),
        ("Board A", True, 3889),
        ("Reflector left", True, 6112),
        ("12", True, 1112),
    ],
)
def test_the_estimate_is_wider_than_helvetica_but_not_by_a_quarter(
    text: str, bold: bool, thousandths: int
) -> None:
    helvetica_mm = thousandths / 1000 * 3.5
    assert helvetica_mm <= text_width_mm(text, 3.5, bold=bold) <= 1.25 * helvetica_mm


def test_an_accent_does_not_widen_its_letter_and_an_unknown_character_takes_an_em() -> None:
    assert text_width_mm("é", 10.0) == text_width_mm("e", 10.0)
    assert text_width_mm("字", 10.0) >= 10.0


def test_lettering_that_reads_upwards_takes_its_width_as_height() -> None:
    level = text_box(Text((0.0, 0.0), "1,500", anchor="middle"))
    upright = text_box(Text((0.0, 0.0), "1,500", anchor="middle", rotation_deg=90.0))
    assert upright.y_max - upright.y_min == pytest.approx(level.x_max - level.x_min)
    assert upright.x_min == pytest.approx(level.y_min)  # what was above is now on the left


@given(st.text(max_size=200), st.integers(1, 4), st.booleans())
def test_wrapped_lines_fit_and_lose_nothing_unseen(text: str, most_lines: int, bold: bool) -> None:
    lines = wrap(text, 3.5, 40.0, most_lines=most_lines, bold=bold)
    assert len(lines) <= most_lines
    assert all(text_width_mm(line, 3.5, bold=bold) <= 40.0 for line in lines)
    whole = "".join(tidy(text).split())
    shown = "".join("".join(lines).split())
    assert shown == whole or (shown.endswith("…") and whole.startswith(shown[:-1]))


@pytest.mark.parametrize(
    ("length_mm", "figure"),
    [
        (1500.0, "1,500"),
        (-240.0, "240"),
        (1499.5, "1,499.5"),
        (0.04, "0.0"),
        (1234567.0, "1,234,567"),
        (999.96, "1,000"),
    ],
)
def test_millimetres_have_a_comma_and_no_sign(length_mm: float, figure: str) -> None:
    assert length_figure(length_mm) == figure.removesuffix(".0")


# 1 in = 25.4 mm exactly (NIST SP 811, appendix B).
@pytest.mark.parametrize(
    ("length_mm", "figure"),
    [
        (25.4, "1"),
        (38.1, "1 1/2"),
        (-12.7, "1/2"),
        (25.4 / 16, "1/16"),
        (1500.0, "59 1/16"),
        (0.0, "0"),
        (25.4 * 1200, "1,200"),
        (25.3, "1"),
    ],
)
def test_inches_are_given_to_the_nearest_sixteenth(length_mm: float, figure: str) -> None:
    assert length_figure(length_mm, "in") == figure
