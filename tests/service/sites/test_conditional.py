"""ETag, If-Match and If-None-Match on stored resources, by RFC 9110 (8.8, 13.1) and RFC 6585 (428)."""

import re

import pytest

from service.sites.conftest import NewWorkshop
from service.sites.workshop import ASSET, BAY, PATCH, SITE, Workshop, faults

PATCHES = {
    "/v1/sites/elm-yard": {"name": "New"},
    "/v1/sites/elm-yard/bays/one": {"name": "New"},
    "/v1/assets/board-1": {"serial": "New"},
}
PUT = "/v1/sites/elm-yard/bays/one"
OTHER_TAG = '"00000000000000000000000000000000"'
every_place = pytest.mark.parametrize("path", PATCHES)


@every_place
def test_an_etag_is_strong_and_stays_until_something_changes(workshop: Workshop, path: str) -> None:
    tag = workshop.etag(path)
    assert re.fullmatch(r'"[\x21\x23-\x7e]+"', tag)  # 8.8.3; without W/ it is strong
    assert workshop.etag(path) == tag
    changed = workshop.patch(path, PATCHES[path])
    assert changed.headers["etag"] == workshop.etag(path) != tag


def test_a_creation_tells_the_etag_of_what_it_made(new_workshop: NewWorkshop) -> None:
    made = new_workshop()
    assert made.add("/v1/sites", SITE).headers["etag"] == made.etag("/v1/sites/elm-yard")
    assert made.add("/v1/sites/elm-yard/bays", BAY).headers["etag"] == made.etag(PUT)
    assert made.add("/v1/assets", ASSET).headers["etag"] == made.etag("/v1/assets/board-1")


@pytest.mark.parametrize("form", ["{tag}", "W/{tag}", f"{OTHER_TAG}, {{tag}}", f"{{tag}},{OTHER_TAG}", "*"])
@every_place
def test_what_the_caller_has_is_not_sent_again(workshop: Workshop, path: str, form: str) -> None:
    fresh = workshop.http.get(path)
    given = {"if-none-match": form.format(tag=fresh.headers["etag"])}
    again = workshop.http.get(path, headers=given)
    assert (again.status_code, again.content) == (304, b"")
    assert "content-type" not in again.headers
    for name in ("cache-control", "etag", "vary"):  # 15.4.5
        assert again.headers[name] == fresh.headers[name]


@pytest.mark.parametrize("form", [OTHER_TAG, "", "nonsense", f"W/{OTHER_TAG}"])
def test_another_tag_is_answered_in_full(workshop: Workshop, form: str) -> None:
    assert workshop.http.get(PUT, headers={"if-none-match": form}).json() == BAY


@every_place
def test_a_change_without_if_match_is_refused(workshop: Workshop, path: str) -> None:
    attempts = [workshop.http.patch(path, json=PATCHES[path], headers=PATCH), workshop.http.delete(path)]
    attempts += [workshop.http.put(path, json=BAY)] if path == PUT else []
    for refused in attempts:
        assert (refused.status_code, refused.json()["code"]) == (428, "PRECONDITION_REQUIRED")
        assert "If-Match" in refused.json()["detail"]


@pytest.mark.parametrize("form", [OTHER_TAG, "", "nonsense", "W/{tag}", "{bare}"])
@every_place
def test_a_change_under_another_tag_is_refused(workshop: Workshop, path: str, form: str) -> None:
    """A weak tag never matches: If-Match compares strongly (13.1.1)."""
    before = workshop.http.get(path)
    tag = form.format(tag=before.headers["etag"], bare=before.headers["etag"].strip('"'))
    given = {"if-match": tag}
    attempts = [
        workshop.http.patch(path, json=PATCHES[path], headers={**PATCH, **given}),
        workshop.http.delete(path, headers=given),
    ]
    attempts += [workshop.http.put(path, json=BAY, headers=given)] if path == PUT else []
    for refused in attempts:
        assert (refused.status_code, refused.json()["code"]) == (412, "PRECONDITION_FAILED")
    assert workshop.http.get(path).content == before.content


@every_place
def test_who_read_before_another_changed_it_is_told(workshop: Workshop, path: str) -> None:
    mine = theirs = workshop.etag(path)
    assert workshop.patch(path, PATCHES[path], theirs).status_code == 200
    assert workshop.patch(path, PATCHES[path], mine).status_code == 412
    assert workshop.delete(path, mine).status_code == 412


@pytest.mark.parametrize("form", ["*", "{tag}", f"{OTHER_TAG}, {{tag}}"])
def test_the_tag_is_found_in_a_list_and_a_star_names_whatever_is_there(workshop: Workshop, form: str) -> None:
    given = form.format(tag=workshop.etag("/v1/assets/board-1"))
    assert workshop.patch("/v1/assets/board-1", {"serial": "New"}, given).status_code == 200


def test_a_thing_that_is_not_there_is_not_found_whatever_the_tag(workshop: Workshop) -> None:
    for given in ({}, {"if-match": "*"}, {"if-match": OTHER_TAG}):
        assert workshop.http.delete("/v1/assets/nothing", headers=given).status_code == 404


def test_a_patch_is_sent_as_a_merge_patch(workshop: Workshop) -> None:
    for media in ("application/json", "application/json-patch+json", "text/plain"):
        headers = {"if-match": "*", "content-type": media}
        refused = workshop.http.patch("/v1/assets/board-1", content=b"{}", headers=headers)
        assert refused.status_code == 415
        assert refused.headers["accept"] == "application/merge-patch+json"
    refused = workshop.http.post("/v1/sites", content=b"{}", headers=PATCH)
    assert (refused.status_code, refused.headers["accept"]) == (415, "application/json")


@pytest.mark.parametrize(
    ("path", "patch", "pointer"),
    [
        ("/v1/sites/elm-yard", {"id": "other"}, "/id"),
        ("/v1/sites/elm-yard", {"name": None}, "/name"),
        ("/v1/sites/elm-yard", {"latitude_deg": 91}, "/latitude_deg"),
        ("/v1/sites/elm-yard", {"name": "a\x00b"}, "/name"),
        (PUT, {"floor": {"points": [{"x_mm": 1}]}}, "/floor/points"),
        (PUT, {"floor": {"colour": 1}}, "/floor/colour"),
        (PUT, {"obstacles": [{"name": "x", "polygon": []}]}, "/obstacles/0/polygon"),
        (PUT, {"ring": None}, "/ring"),
        (PUT, {"light_min_lux": 801}, "/light_min_lux"),
        ("/v1/assets/board-1", {"checked_until": "2030-02-30"}, "/checked_until"),
        ("/v1/assets/board-1", {"condition": "lost"}, "/condition"),
        ("/v1/assets/board-1", {"site": "nowhere"}, "/site"),
        ("/v1/assets/board-1", ["serial"], ""),
        ("/v1/assets/board-1", "serial", ""),
    ],
)
def test_a_fault_of_the_patched_document_is_pointed_at_in_the_patch(
    workshop: Workshop, path: str, patch: object, pointer: str
) -> None:
    before = workshop.http.get(path).content
    pointers = set(faults(workshop.patch(path, patch)))
    assert pointers == {pointer} or (
        pointer and all(at.startswith(f"{pointer}/") for at in pointers - {pointer})
    )
    assert workshop.http.get(path).content == before


def test_half_a_survey_is_no_survey(workshop: Workshop) -> None:
    """Where there is none, a merge patch makes one of what it gives; what it lacks is named."""
    workshop.patch(PUT, {"floor": None})
    refused = workshop.patch(PUT, {"floor": {"u_z_mm": 0.4}})
    assert set(faults(refused)) == {"/floor/surveyed_on", "/floor/points"}


def test_what_a_patch_spoils_elsewhere_is_pointed_at_there(workshop: Workshop) -> None:
    refused = workshop.patch(PUT, {"ring": [[0, 0], [12000, 0], [12000, 4000], [0, 4000]]})
    assert set(faults(refused)) == {"/doors/0/start", "/floor/points/2"}


def test_a_bay_keeps_its_id(workshop: Workshop) -> None:
    refused = workshop.http.put(PUT, json={**BAY, "id": "two"}, headers={"if-match": "*"})
    assert list(faults(refused)) == ["/id"]
