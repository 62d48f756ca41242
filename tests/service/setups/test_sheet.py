"""The sheet that a person works from says what the figures say, in every format."""

import hashlib
import io
import re
from datetime import date
from html.parser import HTMLParser

import httpx
import pytest
import rfc8785
from pypdf import PdfReader

from service.setups.job import COMPLETE, WITHOUT_FRONT_OVERHANG, Job
from snapline import MissingDimension, Snapline
from snapline.wire.catalogue import DriveConditions
from snapline.wire.setups import Setup, SetupRequest
from snapline_service.setups.sheet import Issue, as_html, as_pdf, drive_words

HTML, PDF = "text/html", "application/pdf"
SIGNED = re.compile(r"(?<![\w.])[-−–+±]\s?\d")
ISSUE = Issue("Wendelbrook workshops (invented)", date(2031, 3, 4))
BOARD = Job("quellovane-lirra-2016-eu", "camera-board")
ON_THRUST_LINE = Job("mirandeux-celadine-2023-eu", "camera-board")
TWO_STAGES = Job("brennhavik-skarra-2024-eu", "night-vision-grid")
ON_THE_ROAD = Job("quellovane-lirra-2020-eu", "camera-drive")
INSIDE_THE_CAR = Job("jorvantel-rhedgarn-2023-us", "seat-weight-check")
BY_TOOL = Job("kadoruma-numira-2021-au", "yaw-rate-zero")


class _Words(HTMLParser):
    """The words of a page, styles left out."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self._hidden = False
        self.feed(html)

    def handle_starttag(self, tag: str, _attrs: object) -> None:
        self._hidden = tag == "style"

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.words.append(data)


def words_of(html: str) -> str:
    return " ".join(" ".join(_Words(html).words).split())


def pages_of(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def asked(http: httpx.Client, job: Job, accept: str, **more: object) -> httpx.Response:
    body = {"vehicle_id": job.vehicle_id, "procedure_id": job.procedure_id, **more}
    return http.post("/v1/setups", json=body, headers={"accept": accept})


def figures_of(setup: Setup) -> list[str]:
    """Give every tape and check that the setup's own figures ask for, as a sheet prints them."""
    figures = []
    for stage in setup.stages:
        short = {mark.name: mark.short for mark in stage.marks}
        for item in stage.placements:
            for point in item.setting_out.points if item.setting_out else ():
                tapes = [(tape.mark, tape.distance_mm) for tape in point.distances]
                if point.check and tapes:
                    tapes.append((point.check.mark, point.check.distance_mm))
                figures += [f"{short[mark]} {round(distance_mm):,}" for mark, distance_mm in tapes]
    return figures


@pytest.fixture(scope="module")
def sheets(setups: dict[Job, Setup]) -> dict[Job, tuple[str, str]]:
    """The words of every demo procedure's sheet: of all PDF pages together, and of the page."""
    return {
        job: (" ".join(pages_of(as_pdf(setup, ISSUE, "a4"))), words_of(as_html(setup, ISSUE, "a4")))
        for job, setup in setups.items()
    }


@pytest.mark.parametrize("job", COMPLETE, ids=str)
def test_every_distance_of_the_answer_stands_on_the_sheet(
    setups: dict[Job, Setup], sheets: dict[Job, tuple[str, str]], job: Job
) -> None:
    figures = figures_of(setups[job])
    assert bool(figures) == (job != INSIDE_THE_CAR)
    for text in sheets[job]:
        assert [figure for figure in figures if figure not in text] == []


@pytest.mark.parametrize("job", COMPLETE, ids=str)
def test_no_sheet_shows_a_signed_number(sheets: dict[Job, tuple[str, str]], job: Job) -> None:
    for text in sheets[job]:
        assert SIGNED.findall(text) == []


@pytest.mark.parametrize("job", COMPLETE, ids=str)
def test_preparation_cautions_sources_and_doubts_are_on_the_sheet(
    setups: dict[Job, Setup], sheets: dict[Job, tuple[str, str]], job: Job
) -> None:
    setup = setups[job]
    for text in sheets[job]:
        for caution in setup.cautions:
            assert caution.text in text
        for item in setup.preparation:
            assert " ".join(item.text.split()) in text
        for source in setup.sources:
            assert f"{source.title}, {source.edition}, {source.published_on}" in text
        for assumption in setup.assumed:
            assert assumption in text
        assert ("UNCHECKED: not compared with" in text) == bool(setup.unchecked)
        assert "INVENTED DATA" in text
        assert "Catalogue revision 2" in text
        for stage in setup.stages:
            assert f"Stage: {stage.name}" in text


@pytest.mark.parametrize("accept", [HTML, PDF])
def test_both_formats_are_asked_for_by_accept(http: httpx.Client, accept: str) -> None:
    answer = asked(http, BOARD, accept)
    assert (answer.status_code, answer.headers["content-type"].partition(";")[0]) == (200, accept)
    assert answer.headers["catalogue-revision"] == "2"
    text = words_of(answer.text) if accept == HTML else " ".join(pages_of(answer.content))
    assert "Wendelbrook workshops (invented)" in text  # whose key it is


def test_the_sdk_has_a_method_for_each(client: Snapline) -> None:
    request = SetupRequest(vehicle_id=BOARD.vehicle_id, procedure_id=BOARD.procedure_id)
    assert client.setups.sheet_html(request).startswith("<!DOCTYPE html>")
    assert client.setups.sheet_pdf(request).startswith(b"%PDF-")


def test_each_stage_begins_a_page(http: httpx.Client) -> None:
    pages = pages_of(asked(http, TWO_STAGES, PDF).content)
    heads = [page.removeprefix("INVENTED DATA ") for page in pages]
    assert heads[0].startswith("Before you start")
    for stage in TWO_STAGES.procedure.stages:
        (page,) = [
            head for head in heads if head.startswith(f"Stage: {stage.name} ") and "(continued)" not in head
        ]
        assert "seen from above" in page
        assert "What stands where" in page
    assert all(f"{n}/{len(pages)}" in page for n, page in enumerate(pages, start=1))


def test_the_printed_number_is_the_hash_of_the_answer(http: httpx.Client) -> None:
    """Whoever holds the JSON can tell whether a sheet on the wall is of it."""
    answer = asked(http, BOARD, "application/json")
    expected = hashlib.sha256(rfc8785.dumps(answer.json())).hexdigest()[:16]
    for page in pages_of(asked(http, BOARD, PDF).content):
        assert f"setup {expected}" in page
    other = asked(http, BOARD, PDF, measured={"vehicle.front_overhang_mm": 871.0})
    assert expected not in " ".join(pages_of(other.content))


def test_the_code_names_revision_vehicle_procedure_and_stage(setups: dict[Job, Setup]) -> None:
    *_, last = pages_of(as_pdf(setups[TWO_STAGES], ISSUE, "a4"))
    stage = TWO_STAGES.procedure.stages[-1].id
    known = f"vehicle {TWO_STAGES.vehicle_id}; procedure {TWO_STAGES.procedure_id}; stage {stage}; setup "
    assert f"catalogue revision 2; {known}" in last


def test_beyond_the_thrust_limit_the_sheet_says_stop_before_anything_else(http: httpx.Client) -> None:
    measured = {"vehicle.thrust_yaw_deg": 0.3}  # the catalogue's limit for this car is 0.15 degrees
    for page in pages_of(asked(http, ON_THRUST_LINE, PDF, measured=measured).content):
        assert page.startswith("DO NOT AIM THE CAR AS IT STANDS INVENTED DATA")
    first = pages_of(asked(http, ON_THRUST_LINE, PDF, measured=measured).content)[0]
    assert first.index("STOP") < first.index("align the wheels first") < first.index("Bring")
    pages = pages_of(asked(http, ON_THRUST_LINE, PDF, measured=measured).content)
    assert "thrust line: turned 0.3° to the left" in " ".join(pages)
    page = words_of(asked(http, ON_THRUST_LINE, HTML, measured=measured).text)
    assert page.index("STOP") < page.index("Bring")


def test_inches_are_whole_and_sixteenths_everywhere(http: httpx.Client) -> None:
    pages = pages_of(asked(http, BOARD, PDF, units="in").content)
    text = " ".join(pages)
    # 3200 mm / 25.4 = 125.984 in, of which the nearest sixteenth is 126.
    assert "126 in ahead of the front axle" in text
    assert "inches" in text
    assert not re.search(r"\d mm\b", " ".join(pages[1:]))
    for denominator in re.findall(r"\d/(\d+)\b", text.replace(f"/{len(pages)} ", " ")):
        assert int(denominator) in {2, 4, 8, 16}


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_paper_is_a4_or_letter(http: httpx.Client, paper: str, size: tuple[float, float]) -> None:
    for page in PdfReader(io.BytesIO(asked(http, BOARD, PDF, paper=paper).content)).pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.1)


def test_another_paper_is_refused(http: httpx.Client) -> None:
    answer = asked(http, BOARD, PDF, paper="a5")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/paper")


@pytest.mark.parametrize(
    ("job", "said"), [(ON_THE_ROAD, "On the road"), (BY_TOOL, "In the diagnostic tool")], ids=str
)
def test_a_procedure_without_fixtures_has_a_sheet_of_one_part(
    http: httpx.Client, job: Job, said: str
) -> None:
    text = " ".join(pages_of(asked(http, job, PDF).content))
    assert said in text
    assert "Stage:" not in text
    assert SIGNED.findall(text) == []


def test_the_front_bumper_is_explained_where_it_is_measured_from(sheets: dict[Job, tuple[str, str]]) -> None:
    for job, texts in sheets.items():
        used = any(item.placement.along.datum == "front_bumper" for item in job.placements.values())
        for text in texts:
            assert ("foremost point of the body, without the number plate" in text) == used


def test_a_fixture_by_property_is_said_not_to_be_named_by_the_source(http: httpx.Client) -> None:
    job = Job("kadoruma-arvolen-2022-au", "radar-reflector")
    assert "not named by the source" in words_of(asked(http, job, HTML, by_property=True).text)
    assert "not named by the source" not in words_of(asked(http, job, HTML).text)


def test_a_dimension_that_the_plan_needs_is_asked_for(client: Snapline) -> None:
    with pytest.raises(MissingDimension):
        client.setups.sheet_pdf(vehicle_id=WITHOUT_FRONT_OVERHANG, procedure_id="camera-board")


def test_equal_setups_make_equal_sheets_on_the_same_day(setups: dict[Job, Setup]) -> None:
    setup = setups[BOARD]
    assert as_pdf(setup, ISSUE, "a4") == as_pdf(setup, ISSUE, "a4")
    assert as_html(setup, ISSUE, "a4") == as_html(setup, ISSUE, "a4")


def test_a_sheet_says_first_what_is_done_first(setups: dict[Job, Setup]) -> None:
    """What is assumed, then the marks, then the tapes from them: common practice, no source."""
    text = words_of(as_html(setups[ON_THRUST_LINE], ISSUE, "a4"))
    stage = text[text.index("What stands where") :]
    order = [stage.index(f) for f in ("Not checked or assumed", "First make the marks", "Set out: tape")]
    assert order == sorted(order)


@pytest.mark.parametrize(
    ("least_deg", "said"),
    [(5.0, "Sun at least 5° above the horizon"), (-6.0, "Sun no more than 6° below the horizon")],
)
def test_a_least_height_of_the_sun_is_a_least_height_below_the_horizon_too(
    least_deg: float, said: str
) -> None:
    drive = DriveConditions(
        speed_min_kmh=30.0,
        speed_max_kmh=60.0,
        road_classes=("urban_road",),
        finished_sign="The lamp goes out.",
        if_not_finished="Drive again.",
        interruption="resumes",
        min_sun_elevation_deg=least_deg,
    )
    assert said in list(drive_words(drive))
