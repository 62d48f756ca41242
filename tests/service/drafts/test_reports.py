"""What a draft's reports say over HTTP: validation, diff, impact."""

import copy
from typing import Any

from service import small
from service.drafts.office import Office

CHANGED = small.vehicle(distance_mm=2450)


def behind() -> small.Document:
    return small.vehicle(distance_mm=-6000) | {"model": "Solitaire", "vin_patterns": []}


def loose(distance_mm: float) -> small.Document:
    car: Any = copy.deepcopy(behind())
    item = car["procedures"][0]["stages"][0]["placements"][0]
    item["placement"]["along"]["distance_mm"] = distance_mm
    del item["range"]
    return car  # type: ignore[no-any-return]


def test_a_warning_stops_a_draft_until_somebody_says_why_it_may_stand(office: Office) -> None:
    draft = office.ada.begin()
    assert office.ada.put(draft, loose(-6000)).status_code == 200
    report = office.ada.http.post(f"{draft}/validate").json()
    (finding,) = report["items"]
    assert (report["errors"], report["warnings"], report["acknowledged"]) == (0, 1, 0)
    assert (finding["code"], finding["name"]) == ("BEHIND_SENSOR", "ambrel-2020")
    refused = office.ada.act(draft, "submit", acknowledgements=[])
    assert refused.status_code == 422
    office.ada.done(draft, "submit")
    report = office.ada.http.post(f"{draft}/validate").json()
    assert report["items"][0]["acknowledged"] == "Invented twins."


def test_an_acknowledgement_holds_only_for_what_was_read(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.put(draft, loose(2.4))
    office.ada.done(draft, "submit")
    office.ada.put(draft, loose(2.5))
    assert office.ada.act(draft, "submit", acknowledgements=[]).status_code == 422


def test_an_error_stops_a_draft_whatever_is_acknowledged(office: Office) -> None:
    draft = office.ada.begin()
    car = small.vehicle()
    car["systems"][0]["fitted_when"] = {"all_of": ["camera"], "none_of": ["camera"]}
    office.ada.put(draft, car)
    assert office.ada.http.post(f"{draft}/validate").json()["items"][0]["code"] == "NEVER_HOLDS"
    assert office.ada.act(draft, "submit").status_code == 422


def test_a_drafts_diff_is_that_of_the_revision_it_becomes(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.put(draft, CHANGED)
    items = office.ada.get(f"{draft}/diff")["items"]
    assert "2,400 → 2,450 mm ahead of the front bumper" in items[0]["text"]
    office.agree(draft)
    there = office.ada.get("/v1/revisions/1/diff/2")
    back = office.ada.get("/v1/revisions/2/diff/1")
    assert there["items"] == items
    assert "2,450 → 2,400 mm" in back["items"][0]["text"]
    assert office.ada.get("/v1/revisions/2/diff/2")["documents"] == 0
    assert office.ada.http.get("/v1/revisions/1/diff/9").status_code == 404


def test_what_came_back_to_what_it_was_does_not_differ(office: Office) -> None:
    office.publish(CHANGED)
    office.publish(small.vehicle())
    assert office.ada.get("/v1/revisions/1/diff/3")["documents"] == 0


def test_a_diff_is_a_page_for_who_accepts_one(office: Office) -> None:
    office.publish(CHANGED)
    answer = office.ada.http.get("/v1/revisions/1/diff/2", headers={"accept": "text/html"})
    assert answer.headers["content-type"].startswith("text/html")
    assert "2,400 → 2,450 mm" in answer.text
    refused = office.ada.http.get("/v1/revisions/1/diff/2", headers={"accept": "image/png"})
    assert refused.status_code == 406


def test_impact_names_the_vehicle_its_system_and_the_fixture_that_is_lost(office: Office) -> None:
    draft = office.ada.begin()
    car = small.vehicle()
    car["procedures"][0]["stages"][0]["placements"][0]["need"] = {"capability": "other_pattern"}
    office.ada.put(draft, car)
    found = office.ada.get(f"{draft}/impact")
    (one,) = found["fixtures"]
    assert (found["vehicles"], found["vehicles_examined"], found["visits"]) == (1, 1, 0)
    assert (one["vehicle_id"], one["systems"]) == ("ambrel-2020", ["camera"])
    assert (one["gained"], one["lost"]) == ([], ["board"])


def test_impact_of_a_fixture_reaches_the_vehicles_that_rest_on_it(office: Office) -> None:
    draft = office.ada.begin()
    board = small.fixture("board-two")
    office.ada.put(draft, board)
    found = office.ada.get(f"{draft}/impact")
    assert [(one["vehicle_id"], one["gained"]) for one in found["fixtures"]] == [
        ("ambrel-2020", ["board-two"]),
        ("brenn-2021", ["board-two"]),
    ]


def test_impact_leaves_nothing_behind(office: Office) -> None:
    draft = office.ada.begin()
    office.ada.put(draft, CHANGED)
    folder = office.shop.path(1).parent
    before = sorted(path.name for path in folder.iterdir())
    office.ada.get(f"{draft}/impact")
    assert sorted(path.name for path in folder.iterdir()) == before
