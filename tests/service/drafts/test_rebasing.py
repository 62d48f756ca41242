"""A draft that another overtook is put on top of it; where both differ, someone chooses."""

from typing import Any

import pytest

from service import small
from service.drafts.office import Office

AMBREL = "vehicles/ambrel-2020"


def conflicts(office: Office, draft: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = office.ada.get(f"{draft}/conflicts")["items"]
    return found


def overtaken(office: Office, ours: small.Document, theirs: small.Document) -> str:
    """Return Ada's draft after somebody else's change of the same vehicle was published."""
    draft = office.ada.begin()
    assert office.ada.patch(f"{draft}/{AMBREL}", ours).status_code == 200
    other = office.ben.begin()
    assert office.ben.patch(f"{other}/{AMBREL}", theirs).status_code == 200
    office.ben.done(other, "submit")
    office.ada.done(other, "approve")
    office.ada.done(other, "publish")
    return draft


def test_an_overtaken_draft_cannot_be_submitted_until_it_is_rebased(office: Office) -> None:
    draft = overtaken(office, {"model": "Cross"}, {"body": "estate"})
    answer = office.ada.act(draft, "submit")
    assert answer.status_code == 409
    assert "Revision 2 was published after" in answer.json()["detail"]
    office.ada.done(draft, "rebase")
    assert office.ada.get(draft)["base_revision"] == 2
    car = office.ada.get(f"{draft}/{AMBREL}")
    assert (car["model"], car["body"]) == ("Cross", "estate")
    assert office.agree(draft) == 3
    assert conflicts(office, draft) == []


def test_an_approved_draft_that_is_overtaken_is_not_published(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.patch(f"{draft}/{AMBREL}", {"model": "Cross"})
    office.ada.done(draft, "submit")
    office.ben.done(draft, "approve")
    office.publish(small.vehicle("carver-2022"))
    assert office.ben.act(draft, "publish").status_code == 409
    left = office.ada.done(draft, "rebase")
    assert (left["state"], left["approved_by"], left["editors"]) == ("draft", None, ["Ada"])


def test_both_sides_of_a_conflict_are_kept_and_nothing_goes_on_until_one_is_chosen(office: Office) -> None:
    draft = overtaken(office, {"model": "Cross"}, {"model": "Kite"})
    assert office.ada.done(draft, "rebase")["open_conflicts"] == 1
    (conflict,) = conflicts(office, draft)
    assert (conflict["kind"], conflict["name"], conflict["pointer"]) == ("vehicle", "ambrel-2020", "/model")
    sides = (conflict["base"], conflict["published"], conflict["draft"], conflict["taken"])
    assert sides == ("Ambrel", "Kite", "Cross", None)
    assert office.ada.act(draft, "submit").status_code == 409
    assert office.ada.get(f"{draft}/{AMBREL}")["model"] == "Cross"


@pytest.mark.parametrize(
    ("choice", "left"),
    [
        ({"take": "draft"}, "Cross"),
        ({"take": "published"}, "Kite"),
        ({"take": "value", "value": "Both"}, "Both"),
    ],
)
def test_one_side_or_a_third_value_is_chosen(office: Office, choice: dict[str, Any], left: str) -> None:
    draft = overtaken(office, {"model": "Cross", "body": "estate"}, {"model": "Kite"})
    office.ada.done(draft, "rebase")
    office.ada.done(draft, "conflicts/1", **choice)
    assert office.ada.get(f"{draft}/{AMBREL}")["model"] == left
    assert conflicts(office, draft)[0]["taken"] == choice["take"]
    assert office.ada.act(draft, "conflicts/1", **choice).status_code == 409
    assert office.agree(draft) == 3


def test_who_chooses_is_an_editor(office: Office) -> None:
    draft = overtaken(office, {"model": "Cross"}, {"model": "Kite"})
    office.ben.done(draft, "rebase")
    assert office.ada.get(draft)["editors"] == ["Ada"]
    office.ben.done(draft, "conflicts/1", take="published")
    assert office.ada.get(draft)["editors"] == ["Ada", "Ben"]


def test_a_value_that_has_the_wrong_form_is_refused(office: Office) -> None:
    draft = overtaken(office, {"model": "Cross"}, {"model": "Kite"})
    office.ada.done(draft, "rebase")
    answer = office.ada.act(draft, "conflicts/1", take="value", value=7)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/value"
    assert conflicts(office, draft)[0]["taken"] is None


@pytest.mark.parametrize(
    ("choice", "word"),
    [
        ({"take": "value"}, "missing"),
        ({"take": "draft", "value": 5}, "'draft' is taken"),
        ({"take": "published", "value": None}, "'published' is taken"),
    ],
)
def test_a_value_is_given_if_it_is_taken_and_only_then(
    office: Office, choice: dict[str, Any], word: str
) -> None:
    draft = overtaken(office, {"model": "Cross"}, {"model": "Kite"})
    office.ada.done(draft, "rebase")
    answer = office.ada.act(draft, "conflicts/1", **choice)
    assert answer.status_code == 422
    (fault,) = answer.json()["errors"]
    assert fault["pointer"] == "/value"
    assert word in fault["detail"]
    assert conflicts(office, draft)[0]["taken"] is None
    assert office.ada.get(f"{draft}/{AMBREL}")["model"] == "Cross"


def test_a_value_of_null_removes_what_is_in_dispute(office: Office) -> None:
    draft = overtaken(office, {"thrust_limit_deg": 0.2}, {"thrust_limit_deg": 0.3})
    office.ada.done(draft, "rebase")
    office.ada.done(draft, "conflicts/1", take="value", value=None)
    assert "thrust_limit_deg" not in office.ada.get(f"{draft}/{AMBREL}")


def test_retired_here_and_changed_there(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.retire(f"{draft}/{AMBREL}")
    office.publish(small.vehicle(distance_mm=2450))
    office.ada.done(draft, "rebase")
    (conflict,) = conflicts(office, draft)
    assert (conflict["pointer"], conflict["draft"], conflict["published"]["id"]) == ("", None, "ambrel-2020")
    office.ada.done(draft, "conflicts/1", take="published")
    assert office.ada.get(draft)["changes"] == 0


def test_a_change_that_was_published_meanwhile_is_no_change_any_more(office: Office) -> None:
    draft = overtaken(office, {"model": "Cross"}, {"model": "Cross"})
    assert office.ada.done(draft, "rebase")["changes"] == 0
    assert conflicts(office, draft) == []


def test_a_draft_that_is_up_to_date_is_not_rebased(office: Office) -> None:
    draft = office.ada.begin()
    assert office.ada.act(draft, "rebase").status_code == 409


def test_conflicts_of_two_rebases_are_numbered_on(office: Office) -> None:
    draft = overtaken(office, {"model": "Cross"}, {"model": "Kite"})
    office.ada.done(draft, "rebase")
    assert office.ada.act(draft, "rebase").status_code == 409
    office.publish({**small.vehicle(), "model": "Lark"})
    assert office.ada.act(draft, "rebase").status_code == 409, "the first conflict is still open"
    office.ada.done(draft, "conflicts/1", take="draft")
    office.ada.done(draft, "rebase")
    assert [(c["number"], c["published"], c["draft"]) for c in conflicts(office, draft)] == [
        (1, "Kite", "Cross"),
        (2, "Lark", "Cross"),
    ]
