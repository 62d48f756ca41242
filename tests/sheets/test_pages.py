"""A whole document on pages of paper."""

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheets.documents import ACTS, STOP, TAPES, document, long_table, ordinary, stage
from sheets.read_svg import Sheet, drawn_points, number, overlapping
from sheets.scenes import crowded
from snapline_service.sheets.document import Blank, Column, Section, SheetDocument, Statements, Table
from snapline_service.sheets.pages import PaperSize, pages
from snapline_service.sheets.svg import to_svg

DOCUMENTS = {"ordinary": ordinary, "long_table": long_table}
# ISO 216 and ANSI/ASME Y14.1, in millimetres.
PAPERS: dict[PaperSize, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}

words = st.text(max_size=80) | st.sampled_from(["W" * 150, "", "a <b> & 'c'", "1 2 3"])
every_document = pytest.mark.parametrize("name", DOCUMENTS)
every_paper = pytest.mark.parametrize("paper", PAPERS)


def made(sheet: SheetDocument, paper: PaperSize = "a4") -> list[Sheet]:
    return [Sheet(to_svg(page)) for page in pages(sheet, paper)]


@every_document
@every_paper
def test_everything_is_inside_the_frame_of_its_paper(name: str, paper: PaperSize) -> None:
    for sheet in made(DOCUMENTS[name](), paper):
        width, height = sheet.page()
        assert (width, height) == PAPERS[paper]
        for x, y in drawn_points(sheet.root):
            assert 20.0 - 0.1 <= x <= width - 10.0 + 0.1  # ISO 5457: 20 mm for filing, 10 mm elsewhere
            assert 10.0 - 0.1 <= y <= height - 10.0 + 0.1


@every_document
@every_paper
def test_no_lettering_overlaps_other_lettering(name: str, paper: PaperSize) -> None:
    for sheet in made(DOCUMENTS[name](), paper):
        assert overlapping(sheet.texts) == []


@every_document
def test_no_number_carries_a_sign(name: str) -> None:
    for sheet in made(DOCUMENTS[name]()):
        for words in sheet.words():
            assert not re.search(r"(?<![\w.])[-−–+±]\s?\d", words), words


def test_each_stage_begins_a_page_and_every_page_is_counted() -> None:
    sheets = made(ordinary())
    assert [sheet.words_named("section") for sheet in sheets] == [
        "Before you start", "Stage: board ahead", "Stage: mats",
    ]  # fmt: skip
    for n, sheet in enumerate(sheets, start=1):
        assert f"{n}/{len(sheets)}" in sheet.words()


def test_what_stops_the_work_comes_first_and_is_the_largest_lettering() -> None:
    first, *_ = made(ordinary())
    body = [text for text in first.texts if text.get("data-name") in ("stop", "heading", "cell", "statement")]
    assert body[0].text == "STOP"
    assert number(body[0], "font-size") == max(number(text, "font-size") for text in first.texts)
    assert STOP.texts[0] in first.words_named("stop")


def test_a_table_that_runs_on_says_its_headings_again_and_loses_no_row() -> None:
    sheets = made(long_table())
    assert len(sheets) > 3
    rows = " ".join(sheet.words_named("cell") for sheet in sheets)
    for n in range(1, 61):
        assert f"FL {2000 + n:,}" in rows
        assert f"FR {3000 + n:,}" in rows
    for sheet in sheets[1:]:
        if re.search(r"FL 2,\d+", sheet.words_named("cell")):
            assert {"Point", "Tape 1, mm"} <= set(sheet.words())
    assert sheets[2].words_named("section") == "Stage: many points (continued)"


def test_every_page_has_banner_title_block_and_what_its_code_says() -> None:
    # The data fields that ISO 7200 makes mandatory, as far as a sheet that nobody approved can have them.
    fields = {"Legal owner", "Identification number", "Date of issue", "Sheet", "Title", "Document type"}
    sheet_document = ordinary()
    for sheet, section in zip(made(sheet_document), sheet_document.sections, strict=True):
        assert sheet.words_named("banner") == "INVENTED DATA"
        assert fields <= set(sheet.words())
        assert sheet.words_named("code.text") == section.code
        assert "code" in sheet.names()
        assert "2031-03-04" in sheet.words_named("title")


def test_two_banners_stand_one_above_the_other() -> None:
    both = ("DO NOT AIM THE CAR AS IT STANDS", "INVENTED DATA")
    (first, *_) = made(document(banners=both))
    banners = [text for text in first.texts if text.get("data-name") == "banner"]
    assert tuple(text.text for text in banners) == both
    assert number(banners[0], "y") < number(banners[1], "y")


def test_the_plan_of_a_stage_names_marks_and_draws_every_tape() -> None:
    _, sheet, _ = made(ordinary())
    assert sheet.words_named("mark.1.name") == "FL"
    assert {f"tape.{n}" for n in range(1, 9)} <= sheet.names()  # two marks, four feet
    assert sheet.named("tape.1").get("data-line") == "07.1"  # ISO 128: dotted
    assert re.fullmatch(r"1:\d+, seen from above", sheet.words_named("scale"))


def test_fields_to_write_in_stay_empty() -> None:
    _, sheet, _ = made(ordinary())
    cells = sheet.words_named("cell")
    assert cells.count("As set") == 2
    assert "1a front left FL 2,345 FR 3,021 2.1" in cells  # nothing between


def test_a_stage_too_crowded_for_names_is_numbered() -> None:
    sheets = made(document(stage("Stage: twelve boards", crowded(), TAPES)))
    assert {f"fixture.{n}.number" for n in range(1, 13)} <= sheets[1].names()


def test_the_longest_text_of_a_catalogue_is_not_cut_short() -> None:
    caution = Statements(
        "Cautions", ("A sentence that says something to be careful about. " * 38 + "The end.",)
    )
    act = replace(ACTS, rows=(("Do this and then that. " * 86 + "The end.", Blank(tick=True)),))
    assert len(caution.texts[0]) > 1950  # 2000 characters are the most that a text of a catalogue has
    sheets = made(document(Section("Stage: long", "code", (act, caution))))
    assert " ".join(word for sheet in sheets for word in sheet.words()).count("The end.") == 2
    for sheet in sheets:
        assert overlapping(sheet.texts) == []


@settings(max_examples=15, deadline=None)
@given(st.lists(words, min_size=1, max_size=6), words, words)
def test_whatever_is_written_stays_inside_the_frame_and_apart(
    texts: list[str], title: str, cell: str
) -> None:
    table = Table(
        title, (Column(cell, 30), Column(title, 20, is_figure=True)), tuple((t, cell) for t in texts)
    )
    said = document(Section(f"Stage: {title}", "code", (table, Statements(title, tuple(texts)))))
    for sheet in made(said):
        width, height = sheet.page()
        for x, y in drawn_points(sheet.root):
            assert 20.0 - 0.1 <= x <= width - 10.0 + 0.1
            assert 10.0 - 0.1 <= y <= height - 10.0 + 0.1
        assert overlapping(sheet.texts) == []


@every_document
def test_the_same_document_gives_the_same_pages(name: str) -> None:
    first, second = (pages(DOCUMENTS[name]()) for _ in range(2))
    assert first == second
