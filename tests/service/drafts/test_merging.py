"""Two changes of one document are merged field by field; what both changed differently is kept twice."""

import copy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service import small
from snapline_service.drafts.merging import Clash, merge, settled

BASE = small.vehicle()


def changed(path: list[Any], value: Any) -> small.Document:
    """Return the base with a value put somewhere; None takes away."""
    document = copy.deepcopy(BASE)
    place: Any = document
    for step in path[:-1]:
        place = place[step]
    if value is None:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return document


def test_changes_of_different_fields_are_both_kept() -> None:
    ours, theirs = changed(["model"], "Cross"), changed(["dimensions", "wheelbase_mm"], 2650)
    merged, clashes = merge(BASE, theirs, ours)
    assert clashes == []
    assert (merged["model"], merged["dimensions"]["wheelbase_mm"]) == ("Cross", 2650)


def test_the_same_change_twice_is_one_change() -> None:
    ours = changed(["model"], "Cross")
    assert merge(BASE, copy.deepcopy(ours), ours) == (ours, [])


def test_a_field_changed_differently_keeps_both_sides() -> None:
    merged, clashes = merge(BASE, changed(["model"], "Kite"), changed(["model"], "Cross"))
    assert merged["model"] == "Cross"
    assert clashes == [Clash(("model",), "Ambrel", "Kite", "Cross")]


def test_entries_with_ids_are_matched_wherever_they_stand() -> None:
    ours = copy.deepcopy(BASE)
    ours["procedures"].insert(0, {**ours["procedures"][1], "id": "first"})
    theirs = changed(["procedures", 1, "duration_min"], 25)
    merged, clashes = merge(BASE, theirs, ours)
    assert clashes == []
    assert [p["id"] for p in merged["procedures"]] == ["first", "board", "drive"]
    assert merged["procedures"][2]["duration_min"] == 25


def test_a_clash_deep_inside_is_named_by_ids() -> None:
    place = ["procedures", 0, "stages", 0, "placements", 0, "placement", "along", "distance_mm"]
    _, clashes = merge(BASE, changed(place, 2500), changed(place, 2600))
    path = (
        "procedures",
        "board",
        "stages",
        "one",
        "placements",
        "board",
        "placement",
        "along",
        "distance_mm",
    )
    assert clashes == [Clash(path, 2400, 2500, 2600)]


def test_an_entry_removed_here_and_changed_there_is_a_clash() -> None:
    ours = copy.deepcopy(BASE)
    removed = ours["procedures"].pop(1)
    theirs = changed(["procedures", 1, "duration_min"], 25)
    merged, clashes = merge(BASE, theirs, ours)
    assert [p["id"] for p in merged["procedures"]] == ["board"]
    assert clashes == [Clash(("procedures", "drive"), removed, {**removed, "duration_min": 25}, None)]


def test_additions_of_both_sides_stand_behind_what_they_followed() -> None:
    base: list[Any] = [{"id": "a"}, {"id": "b"}]
    ours = [{"id": "a"}, {"id": "x"}, {"id": "b"}]
    theirs = [{"id": "a"}, {"id": "b"}, {"id": "y"}]
    assert merge(base, theirs, ours) == ([{"id": n} for n in "axby"], [])


def test_an_order_changed_on_one_side_holds_and_on_both_is_a_clash() -> None:
    base: list[Any] = [{"id": n} for n in "abc"]
    ours, theirs = [{"id": n} for n in "bac"], [{"id": n} for n in "acb"]
    assert merge(base, base, ours) == (ours, [])
    assert merge(base, theirs, base) == (theirs, [])
    assert merge(base, theirs, ours) == (ours, [Clash((), base, theirs, ours)])


def test_rules_without_ids_are_told_apart_by_what_they_are_about() -> None:
    ours = changed(["systems", 0, "disturbances", 0, "reason"], "Other glass.")
    theirs = changed(["systems", 0, "disturbances", 1, "question"], "Was it bent?")
    merged, clashes = merge(BASE, theirs, ours)
    assert clashes == []
    assert [r.get("question") for r in merged["systems"][0]["disturbances"]] == [None, "Was it bent?"]


def test_lists_of_plain_words_are_one_value() -> None:
    ours, theirs = changed(["markets"], ["EU", "US"]), changed(["markets"], ["EU", "CN"])
    _, clashes = merge(BASE, theirs, ours)
    assert [clash.path for clash in clashes] == [("markets",)]


@pytest.mark.parametrize(
    ("path", "place"),
    [
        (("model",), ["model"]),
        (("procedures", "drive", "drive", "speed_min_kmh"), ["procedures", 1, "drive", "speed_min_kmh"]),
        (("options", "camera"), ["options", 0]),
    ],
)
def test_a_choice_is_put_where_the_clash_was(path: tuple[str, ...], place: list[Any]) -> None:
    value: Any = {"id": "camera", "name": "Other"} if path[0] == "options" else 7
    assert settled(BASE, path, value) == changed(place, value)


def test_an_entry_that_is_taken_back_stands_where_the_published_one_does() -> None:
    ours = copy.deepcopy(BASE)
    removed = ours["procedures"].pop(0)
    assert settled(ours, ("procedures", "board"), removed, BASE) == BASE
    assert settled(BASE, ("procedures", "board"), None, BASE) == ours


def test_a_choice_inside_what_is_gone_cannot_be_put() -> None:
    with pytest.raises(KeyError):
        settled(BASE, ("procedures", "nothing", "name"), "x")


NAMED = st.lists(st.sampled_from("abcde"), unique=True).map(lambda names: [{"id": n} for n in names])
VALUES = st.recursive(
    st.integers(0, 3) | st.text("xy", max_size=2),
    lambda inner: (
        st.dictionaries(st.sampled_from("pqr"), inner, max_size=3)
        | st.lists(inner, max_size=3)
        | st.lists(st.sampled_from("abc"), unique=True).flatmap(
            lambda names: st.tuples(
                *(st.fixed_dictionaries({"id": st.just(n), "v": inner}) for n in names)
            ).map(list)
        )
    ),
    max_leaves=12,
)
DOCUMENTS = st.dictionaries(st.sampled_from("pqrst"), VALUES, max_size=4)


@given(DOCUMENTS, DOCUMENTS, DOCUMENTS)
def test_what_must_hold_of_any_three_documents(base: Any, theirs: Any, ours: Any) -> None:
    assert merge(base, base, ours) == (ours, [])
    assert merge(base, theirs, base) == (theirs, [])
    assert merge(base, ours, ours) == (ours, [])
    merged, clashes = merge(base, theirs, ours)
    other, mirrored = merge(base, ours, theirs)
    assert len(clashes) == len(mirrored), "neither side is preferred in what clashes"
    if not clashes and not mirrored:
        assert same(merged, other)
    for clash in clashes:
        assert clash.published != clash.draft
        assert clash.base not in (clash.published, clash.draft) or clash.base is None


@given(DOCUMENTS, DOCUMENTS, DOCUMENTS)
def test_taking_the_published_side_of_every_clash_leaves_nothing_of_ours_there(
    base: Any, theirs: Any, ours: Any
) -> None:
    merged, clashes = merge(base, theirs, ours)
    for clash in clashes:
        merged = settled(merged, clash.path, clash.published, theirs)
    assert all(at(merged, clash.path) == clash.published for clash in clashes)


def at(value: Any, path: tuple[str, ...]) -> Any:
    for step in path:
        if isinstance(value, dict):
            value = value.get(step)
        else:
            value = next((entry for entry in value if entry.get("id") == step), None)
    return value


def same(one: Any, other: Any) -> bool:
    """Whether two merges say the same; entries that both added may stand in another order."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        ordered = [sorted(side, key=repr) for side in (one, other)]
        return len(one) == len(other) and all(map(same, *ordered))
    return bool(one == other)
