"""A setup as a drawing: asked for by Accept, well formed, and as honest as the figures."""

import re
from xml.etree import ElementTree

import httpx
import pytest

from service.setups.job import COMPLETE, WITHOUT_FRONT_OVERHANG, Job
from snapline import MissingDimension, Snapline

SVG = "image/svg+xml"
BOARD = Job("quellovane-lirra-2016-eu", "camera-board")
SIGNED = re.compile(r"(?<![\w.])[-−+±]\s?\d")


def asked(http: httpx.Client, job: Job, accept: str | None, **more: object) -> httpx.Response:
    body = {"vehicle_id": job.vehicle_id, "procedure_id": job.procedure_id, **more}
    request = http.build_request("POST", "/v1/setups", json=body)
    del request.headers["accept"]
    if accept is not None:
        request.headers["accept"] = accept
    return http.send(request)


def texts_of(svg: str) -> list[str]:
    root = ElementTree.fromstring(svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    return ["".join(element.itertext()) for element in root.iter() if not list(element) and element.text]


@pytest.mark.parametrize("job", COMPLETE, ids=str)
def test_every_stage_is_drawn_without_a_signed_number(client: Snapline, job: Job) -> None:
    for stage in job.procedure.stages:
        svg = client.setups.drawing(
            vehicle_id=job.vehicle_id, procedure_id=job.procedure_id, drawn_stage=stage.id
        )
        texts = texts_of(svg)
        said = " ".join(texts)
        assert "INVENTED DATA" in said
        assert not [text for text in texts if SIGNED.search(text)]
        assert stage.name in said
        assert "Catalogue revision 2" in said
        assert ("UNCHECKED" in said) == (job.procedure.source.checked_on is None)


def test_without_a_wish_the_first_stage_is_drawn(http: httpx.Client) -> None:
    job = Job("brennhavik-skarra-2024-eu", "night-vision-grid")
    near, far = (stage.id for stage in job.procedure.stages)
    drawn = asked(http, job, SVG).text
    assert drawn == asked(http, job, SVG, drawn_stage=near).text
    assert drawn != asked(http, job, SVG, drawn_stage=far).text


@pytest.mark.parametrize(
    "accept",
    [SVG, f"{SVG}, text/html;q=0.5", "image/*", f"application/json;q=0.1, {SVG}", f"image/png, {SVG};q=0.1"],
)
def test_a_drawing_is_sent_to_whoever_prefers_one(http: httpx.Client, accept: str) -> None:
    answer = asked(http, BOARD, accept)
    assert (answer.status_code, answer.headers["content-type"].partition(";")[0]) == (200, SVG)
    assert texts_of(answer.text)
    assert answer.headers["catalogue-revision"] == "2"


@pytest.mark.parametrize(
    "accept",
    [
        None,
        "",
        "*/*",
        "application/json",
        "application/*",
        f"{SVG};q=0.1, application/json",
        f"*/*, {SVG};q=0.1",
    ],
)
def test_figures_are_sent_to_everybody_else(http: httpx.Client, accept: str | None) -> None:
    answer = asked(http, BOARD, accept)
    assert (answer.status_code, answer.headers["content-type"].partition(";")[0]) == (200, "application/json")
    assert answer.json()["vehicle_id"] == BOARD.vehicle_id


@pytest.mark.parametrize("accept", ["image/png", "text/plain", "application/xml", "nonsense", "svg", "pdf"])
def test_what_cannot_be_made_is_not_acceptable(http: httpx.Client, accept: str) -> None:
    answer = asked(http, BOARD, accept)
    assert (answer.status_code, answer.json()["code"]) == (406, "NOT_ACCEPTABLE")
    assert answer.headers["content-type"] == "application/problem+json"
    for media in (SVG, "text/html", "application/pdf"):
        assert media in answer.json()["detail"]


@pytest.mark.parametrize(
    "job",
    [Job("quellovane-lirra-2020-eu", "camera-drive"), Job("kadoruma-numira-2021-au", "yaw-rate-zero")],
    ids=str,
)
def test_a_procedure_without_fixtures_cannot_be_drawn(http: httpx.Client, job: Job) -> None:
    answer = asked(http, job, SVG)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/procedure_id")
    assert "nothing on the floor" in answer.json()["detail"]


def test_an_unknown_stage_is_named(http: httpx.Client) -> None:
    answer = asked(http, BOARD, SVG, drawn_stage="bord")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "/drawn_stage")
    assert "Did you mean 'board'?" in answer.json()["detail"]


def test_a_fixture_by_property_is_marked_on_the_drawing(http: httpx.Client) -> None:
    job = Job("kadoruma-arvolen-2022-au", "radar-reflector")
    assert "not named by the source" in " ".join(texts_of(asked(http, job, SVG, by_property=True).text))
    assert "not named by the source" not in " ".join(texts_of(asked(http, job, SVG).text))


def test_an_assumed_thrust_line_is_said_on_the_drawing(http: httpx.Client) -> None:
    job = Job("jorvantel-rhedgarn-2020-us", "radar-reflector")
    assert "rear toe" in " ".join(texts_of(asked(http, job, SVG).text))
    measured = {"vehicle.thrust_yaw_deg": 0.1}
    assert "rear toe" not in " ".join(texts_of(asked(http, job, SVG, measured=measured).text))


def test_without_the_dimension_that_places_the_board_there_is_no_drawing(client: Snapline) -> None:
    with pytest.raises(MissingDimension):
        client.setups.drawing(vehicle_id=WITHOUT_FRONT_OVERHANG, procedure_id="camera-board")
    measured = {"vehicle.front_overhang_mm": 905.0}
    assert client.setups.drawing(
        vehicle_id=WITHOUT_FRONT_OVERHANG, procedure_id="camera-board", measured=measured
    ).startswith("<svg")
