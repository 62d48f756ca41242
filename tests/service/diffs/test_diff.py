"""What differs between two documents, in words that a workshop uses."""

import copy
from html.parser import HTMLParser
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service import small
from service.catalogue.demo import DOCUMENTS, VEHICLES
from snapline.wire.diffs import Diff, DiffItem
from snapline_service.catalogue.documents import canonical
from snapline_service.diffs.diff import differences, items
from snapline_service.diffs.page import page

CAR = small.vehicle()


def changed(*path: str | int, to: Any) -> small.Document:
    """Return the car with one value changed."""
    car = copy.deepcopy(CAR)
    inside: Any = car
    for step in path[:-1]:
        inside = inside[step]
    inside[path[-1]] = to
    return car


def texts(after: small.Document, before: small.Document = CAR) -> list[str]:
    return [item.text for item in items("vehicle", "ambrel-2020", before, after)]


PLACEMENT = ("procedures", 0, "stages", 0, "placements", 0)


def test_a_moved_board_is_told_with_both_distances_and_what_they_are_from() -> None:
    (item,) = items("vehicle", "ambrel-2020", CAR, small.vehicle(distance_mm=2450))
    assert item.text == (
        "Front camera of Sennic Ambrel (2020–2024): Aim at the board, "
        "board distance 2,400 → 2,450 mm ahead of the front bumper"
    )
    assert (item.act, item.system, item.procedure, item.placement) == ("changes", "camera", "board", "board")
    assert (item.before, item.after) == (2400, 2450)
    where = "/procedures/board/stages/one/placements/board/placement/along/distance_mm"
    assert item.pointer == where


def test_another_datum_is_told_in_full_on_both_sides() -> None:
    (text,) = texts(changed(*PLACEMENT, "placement", "along", "datum", to="front_axle"))
    assert "2,400 mm ahead of the front bumper → 2,400 mm ahead of the front axle" in text


def test_no_distance_has_a_sign() -> None:
    (text,) = texts(changed(*PLACEMENT, "placement", "lateral", "distance_mm", to=-120))
    assert "120 mm right of the centreline" in text
    assert "-" not in text.partition(":")[2]


def test_a_dimension_is_told_with_its_unit() -> None:
    assert texts(changed("dimensions", "wheelbase_mm", to=2610)) == [
        "Sennic Ambrel (2020–2024): wheelbase 2,600 mm → 2,610 mm"
    ]


def test_entries_are_matched_by_their_ids_and_not_by_their_places() -> None:
    car = changed("procedures", to=[{**CAR["procedures"][0], "id": "first"}, *CAR["procedures"]])
    (item,) = items("vehicle", "ambrel-2020", CAR, car)
    assert (item.pointer, item.before) == ("/procedures/first", None)


def test_an_order_of_preference_that_changed_is_told() -> None:
    ways = CAR["systems"][0]["requirements"][0]["alternatives"]
    two = [*ways, {"id": "drive", "name": "Drive", "procedures": ["drive"]}]
    at = ("systems", 0, "requirements", 0, "alternatives")
    (item,) = items("vehicle", "ambrel-2020", changed(*at, to=two), changed(*at, to=two[::-1]))
    assert (item.before, item.after) == (["board", "drive"], ["drive", "board"])


def test_a_document_that_only_one_side_has_is_one_line() -> None:
    (added,) = items("fixture", "board", None, small.fixture())
    (retired,) = items("fixture", "board", small.fixture(), None)
    assert (added.act, added.text) == ("adds", "fixture 'Board': added")
    assert (retired.act, retired.text) == ("retires", "fixture 'Board': retired")


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.id)
def test_nothing_differs_from_itself(document: Any) -> None:
    value = msgspec.json.decode(canonical(document))
    assert list(differences(value, copy.deepcopy(value))) == []


@pytest.mark.parametrize("name", sorted(VEHICLES))
def test_every_value_of_the_demo_vehicles_can_be_told(name: str) -> None:
    before = msgspec.json.decode(canonical(VEHICLES[name]))
    after = _nudged(before)
    found = list(items("vehicle", name, before, after))
    assert found
    assert all(item.text for item in found)


def _nudged(value: Any) -> Any:
    """Return a document with every length and duration one larger."""
    if isinstance(value, dict):
        return {
            key: one + 1 if isinstance(one, (int, float)) and key.endswith(("_mm", "_min")) else _nudged(one)
            for key, one in value.items()
        }
    return [_nudged(one) for one in value] if isinstance(value, list) else value


VALUES = st.recursive(
    st.integers(0, 3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from("abc"), inner, max_size=3),
    max_leaves=8,
)


@given(VALUES, VALUES)
def test_there_are_differences_exactly_where_two_values_are_unequal(before: Any, after: Any) -> None:
    assert bool(list(differences(before, after))) == (before != after)


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        assert not [name for name, _ in attrs if name in ("src", "onclick")]

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_page_needs_no_script_and_takes_names_for_text() -> None:
    item = DiffItem(
        act="changes", kind="source", name="manual", pointer="/title", before="", after="", text="<script>x&"
    )
    read = _Tags()
    read.feed(
        page(Diff(before="revision 1", after="revision 2", documents=9, documents_shown=1, items=(item,)))
    )
    assert {"script", "link", "img"}.isdisjoint(read.tags)
    assert "<script>x&" in read.text
    assert "Documents that differ: 9. The first 1 are shown." in read.text
