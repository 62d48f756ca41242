"""A second person agrees before anything is in force; who edited cannot be that person."""

import pytest

from service import small
from service.drafts.office import Desk, Office
from snapline_service.access import keys

CHANGED = small.vehicle(distance_mm=2450)


def submitted(office: Office, *documents: small.Document) -> str:
    draft = office.ada.begin("why")
    for document in documents or (CHANGED,):
        assert office.ada.put(draft, document).status_code == 200
    office.ada.done(draft, "submit", text="please read")
    return draft


def distance_mm(desk: Desk) -> float:
    car = desk.get("/v1/vehicles/ambrel-2020")
    distance = car["procedures"][0]["stages"][0]["placements"][0]["placement"]["along"]["distance_mm"]
    return float(distance)


def test_from_draft_to_force(office: Office) -> None:
    draft = submitted(office)
    assert office.ada.get(draft)["state"] == "in_review"
    assert office.ben.done(draft, "approve")["approved_by"] == "Ben"
    revision = office.ada.done(draft, "publish")
    assert (revision["number"], revision["review"], revision["reviewed_by"]) == (2, "reviewed", "Ben")
    assert (revision["published_by"], revision["note"]) == ("Ada", "why")
    assert f"/v1/drafts/{revision['draft_id']}" == draft
    assert office.ada.get(draft)["published_as"] == 2
    fresh = Desk(office.shop, office.url, "Dora")
    assert distance_mm(fresh) == 2450
    acts = [remark["act"] for remark in office.ada.get(f"{draft}/review")["remarks"]]
    assert acts == ["submitted", "approved", "published"]


def test_who_edited_cannot_approve_with_any_key(office: Office) -> None:
    draft = submitted(office)
    second = office.ada.another_key("read", "review")
    for http in (office.ada.http, second):
        answer = office.ada.act(draft, "approve", http)
        assert answer.status_code == 403
        assert "cannot approve" in answer.json()["detail"]
    assert office.ada.get(draft)["approved_by"] is None


def test_a_single_edited_word_makes_an_editor(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.put(draft, CHANGED)
    office.ben.patch(f"{draft}/sources/manual", {"edition": "issue 2"})
    office.ben.patch(f"{draft}/sources/manual", {"edition": "issue 1"})
    office.ada.done(draft, "submit")
    assert office.ben.act(draft, "approve").status_code == 403, "even though nothing of it is left"


def test_without_approval_nothing_is_published(office: Office) -> None:
    draft = submitted(office)
    for desk in (office.ada, office.ben):
        answer = desk.act(draft, "publish")
        assert answer.status_code == 403
        assert "Nobody has approved" in answer.json()["detail"]
    assert office.ada.get("/v1/revisions")["items"][0]["number"] == 1


def test_what_is_not_in_review_can_neither_be_approved_nor_published(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.put(draft, CHANGED)
    for act in ("approve", "publish"):
        assert office.ben.act(draft, act).status_code == 409


@pytest.mark.parametrize("edit", ["put", "patch", "retire"])
def test_any_edit_after_submission_takes_it_back_and_voids_approvals(office: Office, edit: str) -> None:
    draft = submitted(office)
    office.ben.done(draft, "approve")
    path = f"{draft}/vehicles/brenn-2021"
    if edit == "put":
        office.ada.put(draft, small.vehicle("brenn-2021", distance_mm=2600))
    elif edit == "patch":
        office.ada.patch(path, {"model": "Brenn"})
    else:
        office.ada.retire(path)
    left = office.ada.get(draft)
    assert (left["state"], left["approved_by"]) == ("draft", None)
    assert office.ada.act(draft, "publish").status_code == 409
    assert office.ada.get(f"{draft}/review")["remarks"][-1]["act"] == "reopened"


def test_an_approval_is_of_what_was_read(office: Office) -> None:
    draft = submitted(office)
    seen = office.ben.etag(draft)
    office.ada.patch(f"{draft}/vehicles/ambrel-2020", {"model": "Cross"})
    office.ada.done(draft, "submit")
    answer = office.ben.http.post(f"{draft}/approve", headers={"if-match": seen})
    assert answer.status_code == 412
    assert office.ben.http.post(f"{draft}/approve").status_code == 428


def test_it_is_sent_back_with_a_reason_and_comes_again(office: Office) -> None:
    draft = submitted(office)
    office.ben.done(draft, "send-back", text="The distance is from the wrong row.")
    assert office.ada.get(draft)["state"] == "draft"
    said = office.ada.http.post(f"{draft}/comments", json={"text": "Row 4 it is."})
    assert said.status_code == 201
    office.ada.put(draft, small.vehicle(distance_mm=2460))
    assert office.agree(draft) == 2
    remarks = office.ada.get(f"{draft}/review")["remarks"]
    assert [(r["by"], r["act"], r["text"]) for r in remarks[:3]] == [
        ("Ada", "submitted", "please read"),
        ("Ben", "sent_back", "The distance is from the wrong row."),
        ("Ada", "comment", "Row 4 it is."),
    ]


def test_a_comment_without_a_word_is_refused(office: Office) -> None:
    draft = submitted(office)
    blank = office.ada.http.post(f"{draft}/comments", json={"text": " \n\t "})
    assert (blank.status_code, blank.json()["errors"][0]["pointer"]) == (422, "/text")
    assert [remark["act"] for remark in office.ada.get(f"{draft}/review")["remarks"]] == ["submitted"]


def test_a_group_with_a_single_holder_publishes_alone_and_the_revision_says_so(office: Office) -> None:
    for row in list_keys(office):
        if row[1] == "Ben":
            keys.revoke(office.shop.engine, group=office.shop.name, key_id=row[0])
    draft = submitted(office)
    revision = office.ada.done(draft, "publish")
    assert (revision["review"], revision["reviewed_by"], revision["published_by"]) == ("alone", None, "Ada")


def list_keys(office: Office) -> list[tuple[str, str]]:
    found = keys.listing(office.shop.engine, group=office.shop.name)
    return [(key.id, holder.name) for key, holder in found]


def test_readers_do_not_count_as_reviewers(office: Office) -> None:
    for key_id, holder in list_keys(office):
        if holder == "Ben":
            keys.revoke(office.shop.engine, group=office.shop.name, key_id=key_id)
    Desk(office.shop, office.url, "Cara", ["read", "plan"])
    assert office.ada.done(submitted(office), "publish")["review"] == "alone"


def test_the_command_line_publishes_without_review_but_says_so(office: Office) -> None:
    draft = submitted(office)
    published = office.shop.publish(draft_id=draft.rpartition("/")[2])
    assert published.reviewed_by is None
    revision = office.ada.get(f"/v1/revisions/{published.number}")
    assert (revision["review"], revision["reviewed_by"]) == ("none", None)


def test_the_command_line_publishes_what_was_approved_as_reviewed(office: Office) -> None:
    draft = submitted(office)
    office.ben.done(draft, "approve")
    assert office.shop.publish(draft_id=draft.rpartition("/")[2]).reviewed_by == "Ben"
    assert office.ada.get("/v1/revisions/2")["review"] == "reviewed"


def test_what_is_broken_cannot_be_submitted_and_every_fault_is_named(office: Office) -> None:
    draft = office.ada.begin()
    car = small.vehicle()
    car["systems"][0]["disturbances"][0]["operation"] = "windscren"
    office.ada.put(draft, car)
    office.ada.retire(f"{draft}/sources/manual")
    answer = office.ada.act(draft, "submit")
    assert answer.status_code == 422
    errors = {error["pointer"]: error["detail"] for error in answer.json()["errors"]}
    broken = "/vehicles/ambrel-2020/systems/0/disturbances/0/operation"
    assert "Did you mean 'windscreen'?" in errors[broken]
    untouched = [pointer for pointer in errors if pointer.startswith("/vehicles/brenn-2021/")]
    assert untouched, "a vehicle left alone quotes the source that is retired"
    assert [pointer for pointer in errors if pointer.startswith("/fixtures/board/")]
    assert office.ada.get(draft)["state"] == "draft"


def test_an_operation_that_loses_an_extent_is_missed_by_who_refers_to_it(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.patch(f"{draft}/operations/windscreen", {"extents": ["removed_and_refitted"]})
    errors = office.ada.act(draft, "submit").json()["errors"]
    assert [error["pointer"] for error in errors] == [
        "/vehicles/ambrel-2020/systems/0/disturbances/0/extent",
        "/vehicles/brenn-2021/systems/0/disturbances/0/extent",
    ]


def test_a_draft_that_changes_nothing_cannot_be_submitted(office: Office) -> None:
    assert office.ada.act(office.ada.begin(), "submit").status_code == 409


def test_a_group_sees_nothing_of_anothers_drafts_and_revisions(office: Office) -> None:
    draft = submitted(office)
    stranger = Desk(
        type(office.shop)(
            office.shop.engine, office.shop.settings, office.shop.folder, office.shop.name + "-n"
        ),
        office.url,
        "Zed",
    )
    for path in (
        draft,
        f"{draft}/changes",
        f"{draft}/review",
        f"{draft}/vehicles/ambrel-2020",
        "/v1/revisions/1",
    ):
        assert stranger.http.get(path).status_code == 404
    for act in ("submit", "approve", "publish", "rebase"):
        body: dict[str, str] | None = {} if act == "submit" else None
        answer = stranger.http.post(f"{draft}/{act}", headers={"if-match": "*"}, json=body)
        assert answer.status_code == 404
