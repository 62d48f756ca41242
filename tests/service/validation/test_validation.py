"""Each doubt has a smallest case that raises it; the sound catalogue and the demo do not.

Bounds of distances are common practice, no source; tapes are those of Directive 2014/32/EU, annex X.
"""

import copy
from collections.abc import Iterable
from typing import Any

import msgspec
import pytest

from service import small
from service.catalogue.demo import DOCUMENTS, FIXTURES, VEHICLES
from service.shop import Shop
from snapline.wire.catalogue import VehicleDocument
from snapline_service.database import reading
from snapline_service.drafts import drafts
from snapline_service.fixtures.matching import Shelf
from snapline_service.validation import doubting
from snapline_service.validation.doubt import Doubt
from snapline_service.validation.duplicates import indistinct
from snapline_service.validation.validation import doubts

ITEM = ("procedures", 0, "stages", 0, "placements", 0)
HEIGHT = (*ITEM, "placement", "height", "distance_mm")
TOLERANCE = (*ITEM, "tolerance")
WHEN = ("systems", 0, "requirements", 0, "when")
ALONG = (*ITEM, "placement", "along", "distance_mm")
FITTED = ("systems", 0, "fitted_when")
RULE = ("systems", 0, "requirements", 0)


def car(name: str = "ambrel-2020", **values: Any) -> VehicleDocument:
    sound = {**small.vehicle(name)}
    sound["dimensions"] = {**sound["dimensions"], "width_mm": 1800, "height_mm": 1500}
    return msgspec.convert({**sound, **values}, VehicleDocument)


def spoilt(*changes: tuple[tuple[str | int, ...], Any]) -> VehicleDocument:
    value: Any = msgspec.to_builtins(car())
    value = copy.deepcopy(msgspec.json.decode(msgspec.json.encode(value)))
    for path, to in changes:
        inside = value
        for step in path[:-1]:
            inside = inside[step]
        inside[path[-1]] = to
    return msgspec.convert(value, VehicleDocument)


def found(vehicle: VehicleDocument, *, served: bool = True) -> list[tuple[str, str]]:
    return [(doubt.severity, doubt.code) for doubt in doubts(vehicle, lambda _need: served)]


def test_a_sound_car_raises_no_doubt() -> None:
    assert found(car()) == []


CASES = {
    "a distance in metres": ((ALONG, 2.4), ("warning", "UNIT_DOUBTFUL")),
    "a distance in inches": ((ALONG, 94.5), ("warning", "UNIT_DOUBTFUL")),
    "a distance of a street": ((ALONG, 24_000), ("warning", "UNIT_DOUBTFUL")),
    "a height in metres": ((HEIGHT, 1.3), ("warning", "UNIT_DOUBTFUL")),
    "a board behind the car": ((ALONG, -6000), ("warning", "BEHIND_SENSOR")),
    "a board within the car": ((ALONG, -700), ("error", "INSIDE_VEHICLE")),
    "a tolerance below a tape's": ((TOLERANCE, {"along_mm": 0.5}), ("warning", "TOLERANCE_UNPROVABLE")),
    "fitted and absent": (
        (FITTED, {"all_of": ["camera"], "none_of": ["camera"]}),
        ("error", "NEVER_HOLDS"),
    ),
    "a requirement against its system": ((WHEN, {"none_of": ["camera"]}), ("error", "NEVER_HOLDS")),
    "none of any": ((WHEN, {"any_of": ["x"], "none_of": ["x"]}), ("error", "NEVER_HOLDS")),
    "an order against another": (
        ((*RULE, "alternatives", 0, "procedures"), ["drive", "board"]),
        ("error", "WAITS_IN_RING"),
    ),
    "a procedure that nothing uses": (
        ((*RULE, "alternatives", 0, "procedures"), ["board"]),
        ("warning", "NEVER_USED"),
    ),
    "a system without rules": ((("systems", 0, "disturbances"), []), ("warning", "NO_RULE")),
    "a system without requirements": ((("systems", 0, "requirements"), []), ("warning", "NO_REQUIREMENT")),
    "a source that nobody compared": (
        (("procedures", 0, "source"), {"source": "manual", "locator": "section 3"}),
        ("warning", "SOURCE_UNCHECKED"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_each_slip_is_told(case: str) -> None:
    change, expected = CASES[case]
    assert expected in found(spoilt(change))


def test_options_of_one_choice_are_never_fitted_together() -> None:
    options = [
        {"id": name, "name": name, "how_to_see": "Look.", "choice": "glass"} for name in ("camera", "plain")
    ]
    both = spoilt((("options",), options), (FITTED, {"all_of": ["camera", "plain"]}))
    assert ("error", "NEVER_HOLDS") in found(both)


def test_a_tolerance_that_the_best_tape_proves_is_taken() -> None:
    # Class I over 2.4 m: mpe 0.1 + 3 x 0.1 = 0.4 mm; with 0.5 mm of reading and whole millimetres printed,
    # u = sqrt(0.4^2/3 + 0.5^2 + 1/12) = 0.62 mm, so 1.24 mm at k = 2.
    assert found(spoilt((TOLERANCE, {"along_mm": 1.3}))) == []
    assert found(spoilt((TOLERANCE, {"along_mm": 1.2}))) == [("warning", "TOLERANCE_UNPROVABLE")]


def test_a_need_that_no_fixture_serves_is_told() -> None:
    assert found(car(), served=False) == [("warning", "NOT_SERVED")]


def near(one: VehicleDocument, other: VehicleDocument) -> list[Doubt]:
    return list(indistinct(one, [one, other]))


def test_twins_of_overlapping_years_are_told() -> None:
    (doubt,) = near(car(), car("brenn-2021", model_year_first=2021))
    assert (doubt.code, "brenn-2021" in doubt.text) == ("NEAR_DUPLICATE", True)


def trait(value: str) -> dict[str, Any]:
    return {"traits": [{"trait": "grille", "value": value, "how_to_see": "Look."}]}


@pytest.mark.parametrize(
    "apart",
    [
        {"model_year_first": 2025, "model_year_last": None},
        {"markets": ["US"]},
        {"body": "estate"},
        {"drive_side": "right"},
        {"vin_patterns": [{"pattern": "S7[BC]??????????????"}]},
        trait("closed"),
    ],
    ids=lambda values: next(iter(values)),
)
def test_what_tells_two_apart_is_enough(apart: dict[str, Any]) -> None:
    assert near(car(**trait("open")), car("brenn-2021", **apart)) == []


def test_patterns_of_two_models_that_one_vin_matches_are_told() -> None:
    other = car("carver-2022", model="Carver", vin_patterns=[{"pattern": "S7[AB]??????????????"}])
    assert [doubt.code for doubt in near(car(), other)] == ["VIN_PATTERNS_CROSS"]


def demo_doubts() -> Iterable[tuple[str, Doubt]]:
    shelf = Shelf(FIXTURES.values())
    for document in DOCUMENTS:
        for doubt in doubts(document, lambda need: bool(shelf.matches(need)), VEHICLES.values()):
            yield document.id, doubt


def test_the_demo_has_no_errors_and_only_the_warnings_that_it_is_to_show() -> None:
    told = {(name, doubt.severity, doubt.code) for name, doubt in demo_doubts()}
    assert told == {
        ("brennhavik-halvenn-2017-eu", "warning", "NO_RULE"),
        ("mirandeux-aurelle-2021-eu", "warning", "BEHIND_SENSOR"),
        ("ostrivelle-vallisse-2019-eu", "warning", "SOURCE_UNCHECKED"),
    }


@pytest.mark.parametrize(("compared", "code"), [(2000, "NEAR_DUPLICATE"), (0, "NOT_COMPARED")])
def test_a_draft_of_too_many_vehicles_says_that_they_were_not_compared(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, compared: int, code: str
) -> None:
    published = shop.put(small.catalogue())
    monkeypatch.setattr(doubting, "_COMPARED", compared)
    changed = small.write(shop.folder / "changed", [small.vehicle(distance_mm=2450)])
    shop.import_(changed)
    with reading(shop.engine) as session:
        draft = drafts.newest_open(session, shop.group_id)
        assert draft
        told = list(doubting.draft_doubts(session, draft, shop.path(published.number)))
    assert [doubt.code for _, doubt in told] == [code]
