"""A text of the wrong form is told in words how to write it, once."""

from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from contract.api import DOCUMENT
from service.problems.bodies import GOOD, problem_of, spoiled
from snapline_service.faults import FORMS

pytestmark = pytest.mark.parametrize("demo_service", ["sqlite"], indirect=True)
PLAN, HOOKS = "/v1/visits/plan", "/v1/webhooks?validate_only=true"
DAY = "Give a day of the calendar as YYYY-MM-DD."
NO_URLS = ["https://[::1", "https://[zz]/", "https://ex\u00e4mple.com/", "https://example.com:abc/", "x y"]
BODIES = [
    *((PLAN, spoiled(GOOD[PLAN], {pointer: value}), pointer, says) for pointer, value, says in [
        ("/date", "15.06.2027", DAY), ("/date", "2027-02-30", DAY),
        ("/start", "8am", "HH:MM"),
        ("/options", {"hud": "maybe"}, "Give yes, no or cannot_tell."),
        ("/sites", ["Mill Lane"], "lower case letters"),
    ]),
    *((HOOKS, {"url": url}, "/url", "https://hooks.example.com/path") for url in NO_URLS),
]  # fmt: skip


@pytest.mark.parametrize(("route", "body", "pointer", "says"), BODIES)
def test_a_text_of_the_wrong_form_has_one_fault_in_words(
    http: httpx.Client, route: str, body: dict[str, Any], pointer: str, says: str
) -> None:
    (fault,) = problem_of(http, http.post(route, json=body), 422)["errors"]
    assert fault["pointer"].startswith(pointer)
    assert says in fault["mend"]
    assert "^" not in fault["detail"]


def test_a_datum_of_the_wrong_form_is_told_those_that_there_are(http: httpx.Client) -> None:
    body = spoiled(GOOD["/v1/geometry/placement"], {"/placement/along/datum": "bumper"})
    (fault,) = problem_of(http, http.post("/v1/geometry/placement", json=body), 422)["errors"]
    assert "front_bumper, rear_bumper" in fault["mend"]


def test_a_word_of_an_open_list_in_the_wrong_form_is_told_the_nearest(http: httpx.Client) -> None:
    (fault,) = problem_of(http, http.get("/v1/fixtures?fixture_kind=Corner-Reflector"), 422)["errors"]
    assert "'corner_reflector'" in fault["mend"]


def test_a_moment_is_told_in_words(http: httpx.Client) -> None:
    (fault,) = problem_of(http, http.get("/v1/audit?since=yesterday"), 422)["errors"]
    assert (fault["pointer"], "YYYY-MM-DDTHH:MM:SSZ" in fault["mend"]) == ("/since", True)


def test_every_form_of_the_contract_has_words() -> None:
    spoken = {pattern for schema in schemas(DOCUMENT) if isinstance(pattern := schema.get("pattern"), str)}
    etag = '^"[^"]+"$'  # of a header, which the framework checks
    assert spoken - {etag} == set(FORMS)


def schemas(part: Any) -> Iterator[dict[str, Any]]:
    if isinstance(part, dict):
        yield part
    for inner in part.values() if isinstance(part, dict) else part if isinstance(part, list) else ():
        yield from schemas(inner)
