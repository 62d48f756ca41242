"""The SVG file itself: safe to embed, true to grey, complete."""

import xml.etree.ElementTree as ET

import pytest

from sheets.read_svg import SVG, Sheet
from sheets.scenes import ALL, awkward_characters, mats, one_board, rear_radar, thrust_line
from snapline_service.sheets.drawing import (
    CHAIN,
    DASHED,
    DOUBLE_CHAIN,
    OUTLINE,
    THIN,
    Drawing,
    Line,
    LineStyle,
    Polygon,
    Text,
)
from snapline_service.sheets.plan_view import plan_view
from snapline_service.sheets.scene import PlanScene
from snapline_service.sheets.svg import to_svg


def one_item(item: Line | Polygon | Text) -> str:
    return to_svg(Drawing(100.0, 50.0, (item,), "Title", "Description"))


def sheet_of(stage: PlanScene) -> Sheet:
    return Sheet(to_svg(plan_view(stage)))


def test_the_user_unit_is_a_paper_millimetre() -> None:
    root = ET.fromstring(one_item(Line((0.0, 0.0), (1.0, 1.0))))
    assert root.get("width") == "100mm"
    assert root.get("height") == "50mm"
    assert root.get("viewBox") == "0 0 100 50"


def test_title_and_description_come_first_for_those_who_cannot_see_it() -> None:
    root = ET.fromstring(one_item(Line((0.0, 0.0), (1.0, 1.0))))
    assert [child.tag for child in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
    assert (root[0].text, root[1].text) == ("Title", "Description")


@pytest.mark.parametrize("name", ALL)
def test_nothing_is_fetched_and_nothing_runs(name: str) -> None:
    svg = to_svg(plan_view(ALL[name]()))
    for element in ET.fromstring(svg).iter():
        assert element.tag.removeprefix(SVG) in {
            *("svg", "title", "desc", "defs", "pattern", "path"),
            *("rect", "g", "line", "polygon", "circle", "text"),
        }
        for key, value in element.attrib.items():
            assert "href" not in key
            assert not key.startswith("on")
            assert "url(" not in value or value == "url(#hatch)"


def test_awkward_characters_are_shown_and_do_not_become_markup() -> None:
    sheet = sheet_of(awkward_characters())
    assert sheet.words_named("fixture.1.label").startswith("Board <A> & \"B\" 'C'")
    assert "a < b && c" in sheet.words_named("fixture.1.label")
    assert "R&D <car>" in sheet.words_named("title")


def test_characters_that_xml_forbids_are_left_out() -> None:
    svg = one_item(Text((0.0, 0.0), "a\x00b\x0bc\ud800d\ufffee"))
    (text,) = ET.fromstring(svg).iter(f"{SVG}text")
    assert text.text == "abcde"


def test_only_black_and_white_are_used_so_grey_print_loses_nothing() -> None:
    for name in ALL:
        for element in ET.fromstring(to_svg(plan_view(ALL[name]()))).iter():
            colours = {element.get("fill", "none"), element.get("stroke", "none")}
            assert colours <= {"none", "#000", "#fff", "url(#hatch)"}


# ISO 128-2: 01.1 thin, 01.2 thick, thick twice as wide as thin; 02 dashed: dash 12 d, gap 3 d; 04 long-dashed
# dotted: 24 d, 3 d, half d, 3 d; 05 with a second dot (from memory).
@pytest.mark.parametrize(
    ("style", "iso", "width_mm", "pattern_in_widths"),
    [
        (OUTLINE, "01.2", 0.5, ()),
        (THIN, "01.1", 0.25, ()),
        (DASHED, "02.1", 0.25, (12, 3)),
        (CHAIN, "04.1", 0.25, (24, 3, 0.5, 3)),
        (DOUBLE_CHAIN, "05.1", 0.25, (24, 3, 0.5, 3, 0.5, 3)),
    ],
)
def test_lines_are_those_of_iso_128(
    style: LineStyle, iso: str, width_mm: float, pattern_in_widths: tuple[float, ...]
) -> None:
    (line,) = ET.fromstring(one_item(Line((0.0, 0.0), (9.0, 0.0), style))).iter(f"{SVG}line")
    assert line.get("data-line") == iso
    assert float(line.attrib["stroke-width"]) == width_mm
    dashes = tuple(float(d) / width_mm for d in line.get("stroke-dasharray", "").split())
    assert dashes == pytest.approx(pattern_in_widths)


def test_each_class_of_line_differs_by_width_or_dash_or_hatch_not_by_tone() -> None:
    board, thrust, radar = sheet_of(one_board()), sheet_of(thrust_line()), sheet_of(rear_radar())
    looks = {
        name: tuple(element.get(key, "") for key in ("stroke-width", "stroke-dasharray", "fill"))
        for name, element in (
            ("vehicle", board.named("vehicle.outline")),
            ("wheel", board.named("vehicle.wheel.front_left")),
            ("fixture", board.named("fixture.1.footprint")),
            ("clear zone", radar.named("fixture.1.clear_zone")),
            ("centreline", thrust.named("vehicle.centreline")),
            ("aim line", thrust.named("aim_line.1")),
        )
    }
    assert len(set(looks.values())) == len(looks)


def test_a_dimension_line_is_half_as_wide_as_an_outline() -> None:
    sheet = sheet_of(mats())
    (line, *_) = sheet.named("fixture.1.along").iter(f"{SVG}line")
    outline = sheet.named("vehicle.outline")
    assert 2 * float(line.attrib["stroke-width"]) == float(outline.attrib["stroke-width"])


def test_numbers_have_no_negative_zero_and_no_exponent() -> None:
    svg = one_item(Line((-0.0001, 1e-9), (12345.6789, 0.1)))
    assert 'x1="0" y1="0" x2="12345.679" y2="0.1"' in svg


def test_an_outline_without_a_style_has_no_stroke() -> None:
    (head,) = ET.fromstring(one_item(Polygon(((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)), None, "solid"))).iter(
        f"{SVG}polygon"
    )
    assert "stroke" not in head.attrib
    assert head.get("fill") == "#000"
