"""A plan view, measured on the paper."""

import math
import re
from dataclasses import replace

import pytest

from sheets.read_svg import Sheet, arrow_tips, drawn_points, lettered_box, overlapping, polygon
from sheets.scenes import ALL, CAR, FRONT_MM, ahead_fixture, mats, one_board, rear_radar, scene, two_boards
from snapline_service.errors import InvalidValue
from snapline_service.sheets.field import SCALES
from snapline_service.sheets.plan_view import plan_view
from snapline_service.sheets.scene import PlanScene
from snapline_service.sheets.svg import to_svg

ROUNDING_MM = 0.003  # of paper: the file's three decimals

# ISO 5455:1979 clause 4, reductions (from memory).
ISO_5455 = {2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000}

every_stage = pytest.mark.parametrize("name", ALL)


def drawn(stage: PlanScene) -> Sheet:
    return Sheet(to_svg(plan_view(stage)))


def front_edge(sheet: Sheet) -> float:
    return max(x for x, _ in polygon(sheet.named("vehicle.outline")))


def test_1500_mm_from_the_bumper_measure_1500_over_the_scale() -> None:
    sheet = drawn(one_board())
    x, _ = sheet.centre("fixture.1.reference")
    assert x - front_edge(sheet) == pytest.approx(1500.0 / sheet.scale(), abs=ROUNDING_MM)


def test_the_vehicle_is_as_long_and_wide_as_it_is() -> None:
    sheet = drawn(one_board())
    xs, ys = zip(*polygon(sheet.named("vehicle.outline")), strict=True)
    assert (max(xs) - min(xs)) * sheet.scale() == pytest.approx(4550.0, abs=ROUNDING_MM * sheet.scale())
    assert (max(ys) - min(ys)) * sheet.scale() == pytest.approx(1820.0, abs=ROUNDING_MM * sheet.scale())


def test_the_wheels_stand_at_wheelbase_and_track() -> None:
    sheet = drawn(one_board())
    middles = {}
    for wheel in ("front_left", "front_right", "rear_left"):
        xs, ys = zip(*polygon(sheet.named(f"vehicle.wheel.{wheel}")), strict=True)
        middles[wheel] = (sum(xs) / 4, sum(ys) / 4)
    front, right, rear = middles["front_left"], middles["front_right"], middles["rear_left"]
    assert front[0] - rear[0] == pytest.approx(CAR.wheelbase_mm / sheet.scale(), abs=ROUNDING_MM)
    assert right[1] - front[1] == pytest.approx(CAR.front_track_mm / sheet.scale(), abs=ROUNDING_MM)


def test_forward_is_to_the_right_and_left_is_at_the_top() -> None:
    sheet = drawn(two_boards())  # A 240 mm left, B 900 mm right of the centreline
    (ax, ay), (bx, by) = (sheet.centre(f"fixture.{n}.reference") for n in (1, 2))
    assert bx - ax == pytest.approx(1100.0 / sheet.scale(), abs=ROUNDING_MM)
    assert by - ay == pytest.approx(1140.0 / sheet.scale(), abs=ROUNDING_MM)


def test_a_board_ahead_faces_the_car() -> None:
    sheet = drawn(one_board())
    x, y = sheet.centre("fixture.1.reference")
    ((tip_x, tip_y),) = arrow_tips(sheet.named("fixture.1.facing"))
    assert tip_x < x
    assert tip_y == pytest.approx(y, abs=ROUNDING_MM)


def test_a_rear_corner_radar_looks_away_from_the_car() -> None:
    sheet = drawn(rear_radar())
    (left, right) = (arrow_tips(sheet.named(f"sensor.{n}.looking"))[0] for n in (1, 2))
    assert left[0] < sheet.centre("sensor.1")[0]
    assert left[1] < sheet.centre("sensor.1")[1]
    assert right[1] > sheet.centre("sensor.2")[1]


@every_stage
def test_a_dimension_line_is_as_long_as_its_figure_says(name: str) -> None:
    sheet = drawn(ALL[name]())
    dimensions = [n for n in sheet.names() if re.fullmatch(r"fixture\.\d+\.(along|lateral)|overall\.\w+", n)]
    assert dimensions
    for dimension in dimensions:
        figure = sheet.words_named(f"{dimension}.figure").removesuffix(" overall").replace(",", "")
        # The overall figures are rounded up to the millimetre.
        slack_mm = 1.0 / sheet.scale() if dimension.startswith("overall") else 0.0
        start, end = arrow_tips(sheet.named(dimension))
        expected = pytest.approx(float(figure) / sheet.scale(), abs=2 * ROUNDING_MM + slack_mm)
        assert math.dist(start, end) == expected


@pytest.mark.parametrize("name", ["one_board", "two_boards", "rear_radar", "mats", "side_looking"])
def test_an_ordinary_stage_is_dimensioned_and_named_completely(name: str) -> None:
    stage = ALL[name]()
    sheet = drawn(stage)
    assert {"overall.length", "overall.width"} <= sheet.names()
    assert "left_out" not in sheet.names()
    for number, fixture in enumerate(stage.fixtures, start=1):
        for kind, distance in (("along", fixture.along), ("lateral", fixture.lateral)):
            if distance and distance.start != distance.end:
                assert f"fixture.{number}.{kind}" in sheet.names()
        label = sheet.words_named(f"fixture.{number}.label")
        assert label.startswith(fixture.label)
        assert fixture.height_text in label


def test_the_extent_is_dimensioned() -> None:
    sheet = drawn(one_board())  # rear bumper to the rear feet, width of the clear zone
    assert sheet.words_named("overall.length.figure") == "6,450 overall"
    assert sheet.words_named("overall.width.figure") == "2,400 overall"


@every_stage
def test_everything_is_inside_the_frame(name: str) -> None:
    sheet = drawn(ALL[name]())
    width, height = sheet.page()
    assert (width, height) == (297.0, 210.0)  # ISO 216, A4
    for x, y in drawn_points(sheet.root):
        assert 20.0 - 0.1 <= x <= width - 10.0 + 0.1  # ISO 5457: 20 mm for filing, 10 mm elsewhere
        assert 10.0 - 0.1 <= y <= height - 10.0 + 0.1


@every_stage
def test_no_lettering_overlaps_other_lettering(name: str) -> None:
    assert overlapping(drawn(ALL[name]()).texts) == []


@every_stage
def test_no_number_carries_a_sign(name: str) -> None:
    sheet = drawn(ALL[name]())
    for words in (*sheet.words(), *(e.text or "" for e in sheet.root if e.tag.endswith(("title", "desc")))):
        assert not re.search(r"(?<!\w)[-−–+±]\s?\d", words), words


def test_every_fixture_of_a_crowded_stage_is_numbered_in_the_field_and_in_the_list() -> None:
    sheet = drawn(ALL["crowded"]())
    notes = sheet.words_named("notes")
    for number in range(1, 13):
        assert sheet.words_named(f"fixture.{number}.number") == str(number)
        assert f"{number} Board {chr(64 + number)};" in notes


def test_a_list_too_long_for_the_sheet_says_so_and_drops_no_caution() -> None:
    boards = [ahead_fixture(f"Board {n}", 1500.0 + 10 * n, 0.0) for n in range(24)]
    sheet = drawn(scene(boards))
    notes = sheet.words_named("notes")
    assert "more, to be read in the setup itself" in notes
    assert all(caution in notes for caution in scene(boards).cautions)


def test_many_warnings_drop_no_caution_and_say_how_many_there_are() -> None:
    stage = scene(
        [ahead_fixture("Board A", 1500.0, 0.0)], warnings=("A long unchecked statement. " * 6,) * 30
    )
    notes = drawn(stage).words_named("notes")
    assert re.search(r"… and \d+ more, to be read in the setup itself", notes)
    assert all(caution in notes for caution in stage.cautions)


def test_names_without_room_are_owned_up_to() -> None:
    sheet = drawn(ALL["crowded"]())
    missing = {"overall.length", "overall.width"} - sheet.names()
    assert bool(missing) == ("left_out" in sheet.names())


def test_a_very_long_name_is_wrapped_and_cut_short_visibly() -> None:
    sheet = drawn(ALL["long_words"]())
    label = sheet.words_named("fixture.1.label")
    assert label.startswith("Aiming board for the forward camera")
    assert "…" in label
    assert "1,500 mm ahead of front bumper" in label  # what matters is never cut


def test_banner_warnings_cautions_scale_and_revision_are_on_the_sheet() -> None:
    stage = two_boards()
    sheet = drawn(stage)
    assert sheet.words_named("banner") == "INVENTED DATA"
    notes = sheet.words_named("notes")
    assert all(text in notes for text in (*stage.warnings, *stage.cautions))
    titles = sheet.words_named("title")
    assert all(text in titles for text in (*stage.title_lines, stage.revision_text, "millimetres"))


def test_without_a_banner_there_is_none() -> None:
    assert "banner" not in drawn(replace(one_board(), banner="")).names()


def test_the_scale_bar_is_to_scale() -> None:
    sheet = drawn(one_board())
    parts = [polygon(sheet.named(f"scale_bar.{n}")) for n in range(1, 6)]
    length = max(x for x, _ in parts[-1]) - min(x for x, _ in parts[0])
    assert "2,000 mm" in sheet.words()
    assert length * sheet.scale() == pytest.approx(2000.0, abs=2 * ROUNDING_MM * sheet.scale())


def test_scales_are_those_of_iso_5455_and_two_common_ones_between() -> None:
    assert set(SCALES) - ISO_5455 == {25, 75}


def test_the_largest_scale_that_fits_is_chosen() -> None:
    near, far = one_board(), scene([ahead_fixture("Board A", 12000.0, 0.0)])
    assert drawn(near).scale() == 50  # 6,450 mm would take 258 mm of 244 mm at 1:25
    assert drawn(far).scale() == 75  # 16,950 mm take 339 mm at 1:50 and 226 mm at 1:75


def test_a_larger_paper_gives_a_larger_scale() -> None:
    a3 = Sheet(to_svg(plan_view(one_board(), paper="A3 landscape")))
    assert a3.page() == (420.0, 297.0)
    assert a3.scale() < drawn(one_board()).scale()


def test_a_stage_too_large_for_any_scale_is_refused_by_its_size() -> None:
    with pytest.raises(InvalidValue, match="5,000,950 mm") as refusal:
        plan_view(scene([replace(ahead_fixture("Board A", 5e6 - FRONT_MM, 0.0), feet=(), footprint=())]))
    assert refusal.value.mend


def test_a_stage_of_more_fixtures_than_a_sheet_shows_is_refused() -> None:
    board = ahead_fixture("Board A", 1500.0, 0.0)
    with pytest.raises(InvalidValue, match="25 fixtures"):
        plan_view(scene([board] * 25))


def test_a_stage_without_fixtures_shows_the_vehicle() -> None:
    sheet = drawn(scene([]))
    assert "vehicle.outline" in sheet.names()
    assert "vehicle.centreline" in sheet.names()


def test_inches_are_for_display_only() -> None:
    sheet = Sheet(to_svg(plan_view(one_board(), units="in")))
    assert sheet.words_named("fixture.1.along.figure") == "59 1/16"  # 1500 / 25.4 = 59.055
    assert "inches" in sheet.words_named("title")


def test_fixtures_on_both_sides_have_a_dimension_each() -> None:
    sheet = drawn(mats())  # left and right mat both 1,350 mm ahead of the rear axle
    figures = [sheet.words_named(f"fixture.{n}.along.figure") for n in (3, 4)]
    assert figures == ["1,350", "1,350"]


def test_the_description_says_what_the_drawing_shows() -> None:
    drawing = plan_view(one_board())
    assert "INVENTED DATA" in drawing.description
    assert "Board A, 1,500 mm ahead of front bumper, on the centreline" in drawing.description


def test_dimension_lines_do_not_run_through_lettering() -> None:
    for name in ALL:
        sheet = drawn(ALL[name]())
        boxes = [(text.get("data-name"), lettered_box(text)) for text in sheet.texts]
        groups = [
            e for e in sheet.root.iter() if re.fullmatch(r"(fixture.*|overall)\.\w+", e.get("data-name", ""))
        ]
        for group in groups:
            if len(tips := arrow_tips(group)) == 2:
                (x0, y0), (x1, y1) = tips
                for part in (i / 200 for i in range(201)):
                    x, y = x0 + (x1 - x0) * part, y0 + (y1 - y0) * part
                    assert not any(
                        left + 0.01 < x < right - 0.01 and top + 0.01 < y < bottom - 0.01
                        for whose, (left, top, right, bottom) in boxes
                        if whose != f"{group.get('data-name')}.figure"
                    ), (name, group.get("data-name"))
