"""Drafts over HTTP: documents are added, changed and retired under their ETags, and nobody else notices."""

import json

import pytest

from service import small
from service.drafts.office import Desk, Office

AMBREL = "vehicles/ambrel-2020"


def test_a_draft_begins_on_top_of_the_revision_in_force(office: Office) -> None:
    draft = office.ada.get(office.ada.begin("a correction"))
    assert (draft["state"], draft["base_revision"], draft["note"]) == ("draft", 1, "a correction")
    assert (draft["changes"], draft["editors"], draft["created_by"]) == (0, [], "Ada")


def test_it_shows_documents_that_it_does_not_change(office: Office) -> None:
    draft = office.ada.begin()
    assert office.ada.get(f"{draft}/{AMBREL}")["make"] == "Sennic"
    assert office.ada.get(f"{draft}/operations/windscreen")["kind"] == "operation"
    assert office.ada.get(f"{draft}/fixtures/board")["kind"] == "fixture"
    assert office.ada.get(f"{draft}/sources/manual")["edition"] == "issue 1"
    assert office.ada.http.get(f"{draft}/vehicles/nobody").status_code == 404


def test_a_change_in_a_draft_is_seen_in_it_alone(office: Office) -> None:
    one, other = office.ada.begin(), office.ben.begin()
    assert office.ada.patch(f"{one}/{AMBREL}", {"model": "Ambrel Cross"}).status_code == 200
    assert office.ada.get(f"{one}/{AMBREL}")["model"] == "Ambrel Cross"
    assert office.ada.get(f"{other}/{AMBREL}")["model"] == "Ambrel"
    assert office.ada.get("/v1/vehicles/ambrel-2020")["model"] == "Ambrel"


def test_changes_are_listed_with_who_made_them(office: Office) -> None:
    draft = office.ada.begin()
    assert office.ada.put(draft, small.vehicle("carver-2022")).status_code == 200
    assert office.ben.patch(f"{draft}/{AMBREL}", {"model": "Cross"}).status_code == 200
    assert office.ben.retire(f"{draft}/vehicles/brenn-2021").json()["id"] == "brenn-2021"
    items = office.ada.get(f"{draft}/changes")["items"]
    found = [(item["kind"], item["name"], item["act"], item["changed_by"]) for item in items]
    assert found == [
        ("vehicle", "ambrel-2020", "changes", "Ben"),
        ("vehicle", "brenn-2021", "retires", "Ben"),
        ("vehicle", "carver-2022", "adds", "Ada"),
    ]
    assert office.ada.get(draft)["editors"] == ["Ada", "Ben"]
    first = office.ada.get(f"{draft}/changes?page_size=2")
    rest = office.ada.get(f"{draft}/changes?page_size=2&page_token={first['next_page_token']}")
    assert first["items"] + rest["items"] == items


def test_what_is_put_back_as_it_was_is_no_change(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.patch(f"{draft}/{AMBREL}", {"model": "Cross"})
    office.ada.patch(f"{draft}/{AMBREL}", {"model": "Ambrel"})
    assert office.ada.get(f"{draft}/changes")["items"] == []
    office.ada.put(draft, small.vehicle("carver-2022"))
    office.ada.retire(f"{draft}/vehicles/carver-2022")
    assert office.ada.get(draft)["changes"] == 0


def test_a_retired_document_is_gone_and_can_be_put_back(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.retire(f"{draft}/{AMBREL}")
    assert office.ada.http.get(f"{draft}/{AMBREL}").status_code == 404
    assert office.ada.put(draft, small.vehicle()).status_code == 200
    assert office.ada.get(draft)["changes"] == 0


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE"])
def test_a_change_without_if_match_is_428_and_with_a_stale_one_412(office: Office, method: str) -> None:
    """RFC 6585, section 3, and RFC 9110, section 13.1.1."""
    draft = office.ada.begin()
    path = f"{draft}/{AMBREL}"
    stale = office.ada.etag(path)
    office.ben.patch(path, {"model": "Cross"})
    media = "application/merge-patch+json" if method == "PATCH" else "application/json"
    body = {"PUT": small.vehicle(), "PATCH": {"model": "Kite"}, "DELETE": None}[method]
    content = json.dumps(body) if body else None
    for headers, status in (({}, 428), ({"if-match": stale}, 412)):
        answer = office.ada.http.request(
            method, path, content=content, headers={"content-type": media, **headers}
        )
        assert answer.status_code == status, answer.text
    assert office.ada.get(path)["model"] == "Cross"


def test_adding_needs_if_none_match_and_refuses_what_is_there(office: Office) -> None:
    """RFC 9110, section 13.1.2."""
    draft = office.ada.begin()
    new, there = small.vehicle("carver-2022"), small.vehicle()
    path = f"{draft}/vehicles/carver-2022"
    assert office.ada.http.put(path, json=new).status_code == 428
    assert office.ada.http.put(path, json=new, headers={"if-match": '"x"'}).status_code == 412
    assert office.ada.http.put(path, json=new, headers={"if-none-match": "*"}).status_code == 200
    assert office.ada.http.put(path, json=new, headers={"if-none-match": "*"}).status_code == 412
    answer = office.ada.http.put(f"{draft}/{AMBREL}", json=there, headers={"if-none-match": "*"})
    assert answer.status_code == 412


def test_what_was_read_is_not_sent_again(office: Office) -> None:
    draft = office.ada.begin()
    for path in (draft, f"{draft}/{AMBREL}"):
        answer = office.ada.http.get(path, headers={"if-none-match": office.ada.etag(path)})
        assert (answer.status_code, answer.content) == (304, b"")


def test_the_answer_of_a_change_carries_the_etag_of_what_it_left(office: Office) -> None:
    draft = office.ada.begin()
    answer = office.ada.patch(f"{draft}/{AMBREL}", {"model": "Cross"})
    assert answer.headers["etag"] == office.ada.etag(f"{draft}/{AMBREL}")
    assert answer.json() == office.ada.get(f"{draft}/{AMBREL}")


@pytest.mark.parametrize(
    ("patch", "pointer"),
    [
        ({"model": 7}, "/model"),
        ({"colour": "red"}, "/colour"),
        ({"dimensions": {"wheelbase_mm": -1}}, "/dimensions/wheelbase_mm"),
        ({"make": None}, "/make"),
        ({"body": "spaceship"}, "/body"),
        ({"id": "other"}, "/id"),
    ],
)
def test_a_fault_of_form_is_refused_at_once_with_its_place(
    office: Office, patch: small.Document, pointer: str
) -> None:
    draft = office.ada.begin()
    answer = office.ada.patch(f"{draft}/{AMBREL}", patch)
    assert answer.status_code == 422, answer.text
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]
    assert office.ada.get(draft)["changes"] == 0


def test_a_document_under_another_name_or_of_another_kind_is_refused(office: Office) -> None:
    draft = office.ada.begin()
    for document in (small.vehicle("brenn-2021"), small.fixture("ambrel-2020")):
        answer = office.ada.http.put(
            f"{draft}/{AMBREL}", json=document, headers={"if-match": office.ada.etag(f"{draft}/{AMBREL}")}
        )
        assert answer.status_code == 422


def test_a_note_is_changed_by_patch_and_a_draft_is_dropped(office: Office) -> None:
    draft = office.ada.begin("old")
    assert office.ada.patch(draft, {"note": "new"}).json()["note"] == "new"
    assert office.ada.http.delete(draft).status_code == 428
    assert office.ada.retire(draft).json()["state"] == "dropped"
    assert office.ada.put(draft, small.vehicle("carver-2022")).status_code == 409
    assert office.ada.act(draft, "submit").status_code == 409


def test_drafts_are_listed_newest_first_and_by_state(office: Office) -> None:
    drafts = [office.ada.begin(str(number)) for number in range(3)]
    office.ada.retire(drafts[1])
    first = office.ada.get("/v1/drafts?page_size=2&state=draft")
    assert [item["note"] for item in first["items"]] == ["2", "0"]
    assert [item["note"] for item in office.ada.get("/v1/drafts?state=dropped")["items"]] == ["1"]
    page = office.ada.get("/v1/drafts?page_size=1")
    following = office.ada.get(f"/v1/drafts?page_size=1&page_token={page['next_page_token']}")
    assert [item["note"] for item in page["items"] + following["items"]] == ["2", "1"]


def test_editing_needs_the_scope(office: Office) -> None:
    reader = Desk(office.shop, office.url, "Cara", ["read", "review"])
    assert reader.http.post("/v1/drafts", json={}).status_code == 403
    draft = office.ada.begin()
    assert reader.get(draft)["state"] == "draft"
    assert reader.put(draft, small.vehicle("carver-2022")).status_code == 403


def test_a_repeated_request_has_one_effect(office: Office) -> None:
    once = {"idempotency-key": "begin-once"}
    first = office.ada.http.post("/v1/drafts", json={}, headers=once)
    again = office.ada.http.post("/v1/drafts", json={}, headers=once)
    assert first.json() == again.json()
    assert again.headers["idempotency-replayed"] == "true"


def test_validate_only_changes_nothing(office: Office) -> None:
    draft = office.ada.begin()
    path = f"{draft}/vehicles/carver-2022?validate_only=true"
    answer = office.ada.http.put(path, json=small.vehicle("carver-2022"), headers={"if-none-match": "*"})
    assert answer.status_code == 200
    assert office.ada.get(draft)["changes"] == 0
