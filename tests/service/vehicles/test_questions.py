"""Choosing questions, against enumeration of all subsets and against an integer programme (HiGHS)."""

from collections.abc import Mapping
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from snapline_service.vehicles.questions import Separation, narrow, separate

Profiles = dict[str, dict[str, frozenset[str]]]
Problem = tuple[Profiles, tuple[str, ...]]


def _profiles(table: Mapping[str, Mapping[str, str]]) -> Profiles:
    """Read ``{"a": {"camera": "yes|no"}}``: the possible answers, divided by bars."""
    return {
        name: {question: frozenset(answers.split("|")) for question, answers in row.items()}
        for name, row in table.items()
    }


def _apart(one: Mapping[str, frozenset[str]], other: Mapping[str, frozenset[str]], question: str) -> bool:
    return question in one and question in other and one[question].isdisjoint(other[question])


def _pairs_apart(candidates: Profiles, questions: tuple[str, ...]) -> set[tuple[str, str]]:
    return {
        (one, other)
        for one, other in combinations(candidates, 2)
        if any(_apart(candidates[one], candidates[other], question) for question in questions)
    }


def _smallest_by_enumeration(candidates: Profiles, order: tuple[str, ...]) -> tuple[str, ...]:
    """First, in the order given, of the smallest choices that separate whatever can be separated."""
    separable = _pairs_apart(candidates, order)
    return next(
        choice
        for size in range(len(order) + 1)
        for choice in combinations(order, size)
        if _pairs_apart(candidates, choice) == separable
    )


def _smallest_size_by_highs(candidates: Profiles, order: tuple[str, ...]) -> int:
    rows = [
        [float(_apart(candidates[one], candidates[other], question)) for question in order]
        for one, other in _pairs_apart(candidates, order)
    ]
    solved = milp(
        np.ones(len(order)),
        integrality=np.ones(len(order), dtype=np.int64),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(np.array(rows), lb=1),
    )
    assert solved.success
    smallest: float = solved.fun
    return round(smallest)


@st.composite
def problems(draw: st.DrawFn, candidates: tuple[int, int], questions: int, answers: int = 3) -> Problem:
    order = tuple(f"q{i}" for i in range(questions))
    possible = st.frozensets(st.sampled_from("abcde"[:answers]), min_size=1, max_size=2)
    profile = st.dictionaries(st.sampled_from(order), possible)
    profiles = draw(st.lists(profile, min_size=candidates[0], max_size=candidates[1]))
    return {f"v{i}": row for i, row in enumerate(profiles)}, order


def _nothing_idle_nothing_missed(candidates: Profiles, order: tuple[str, ...], found: Separation) -> None:
    separable = _pairs_apart(candidates, order)
    assert _pairs_apart(candidates, found.questions) == separable
    for question in found.questions:
        fewer = tuple(other for other in found.questions if other != question)
        assert _pairs_apart(candidates, fewer) < separable


# --- by hand ---------------------------------------------------------------------------------------------


def test_one_question_is_enough_for_two_vehicles() -> None:
    candidates = _profiles({"with": {"camera": "yes"}, "without": {"camera": "no"}})
    assert separate(candidates, ["camera"]) == Separation(("camera",), "exact", ())


def test_nothing_is_asked_when_one_vehicle_or_none_is_left() -> None:
    assert separate({}, ["camera"]) == Separation((), "exact", ())
    assert separate(_profiles({"only": {"camera": "yes"}}), ["camera"]) == Separation((), "exact", ())


def test_four_vehicles_need_two_yes_or_no_questions_and_one_four_way_question_is_better() -> None:
    table = {
        "a": {"camera": "yes", "radar": "yes"},
        "b": {"camera": "yes", "radar": "no"},
        "c": {"camera": "no", "radar": "yes"},
        "d": {"camera": "no", "radar": "no"},
    }
    assert separate(_profiles(table), ["camera", "radar", "grille"]).questions == ("camera", "radar")
    for name, row in table.items():
        row["grille"] = name
    assert separate(_profiles(table), ["camera", "radar", "grille"]).questions == ("grille",)


def test_the_fewest_may_leave_out_the_question_that_splits_best() -> None:
    # Nine vehicles in a square: 'row' and 'column' separate 27 of the 36 pairs each and all of them together.
    # 'nearly' separates 33, all but those within one corner, which then take both of the others.
    table = {f"v{i}": {"nearly": str(i), "row": str(i // 3), "column": str(i % 3)} for i in range(9)}
    table["v1"]["nearly"] = table["v3"]["nearly"] = "0"
    assert separate(_profiles(table), ["nearly", "row", "column"]).questions == ("row", "column")


def test_overlapping_answers_do_not_separate() -> None:
    candidates = _profiles(
        {"a": {"glass": "plain|heated"}, "b": {"glass": "heated|tinted"}, "c": {"glass": "tinted"}}
    )
    assert separate(candidates, ["glass"]) == Separation(("glass",), "exact", (("a", "b"), ("b", "c")))


@pytest.mark.parametrize("unknown", [{}, {"glass": frozenset[str]()}])
def test_a_vehicle_that_says_nothing_could_give_any_answer(unknown: dict[str, frozenset[str]]) -> None:
    candidates = {**_profiles({"a": {"glass": "plain"}, "b": {"glass": "heated"}}), "c": unknown}
    found = separate(candidates, ["glass"])
    assert found.questions == ("glass",)
    assert found.inseparable == (("a", "c"), ("b", "c"))
    assert list(narrow(candidates, {"glass": "plain"})) == ["a", "c"]


def test_vehicles_alike_in_everything_are_named_together() -> None:
    candidates = _profiles(
        {"a": {"radar": "yes"}, "b": {"radar": "no"}, "c": {"radar": "yes"}, "d": {"radar": "yes"}}
    )
    assert separate(candidates, ["radar"]).inseparable == (("a", "c", "d"),)


def test_of_two_questions_that_do_the_same_the_easier_to_see_is_asked() -> None:
    candidates = _profiles({"a": {"grille": "x", "label": "x"}, "b": {"grille": "y", "label": "y"}})
    assert separate(candidates, ["grille", "label"]).questions == ("grille",)
    assert separate(candidates, ["label", "grille"]).questions == ("label",)


def test_the_question_that_separates_most_comes_first_and_equals_keep_their_order() -> None:
    candidates = _profiles(
        {
            "a": {"few": "1", "most": "1"},
            "b": {"few": "2", "most": "1"},
            "c": {"most": "2"},
            "d": {"most": "3"},
        }
    )
    assert separate(candidates, ["few", "most"]).questions == ("most", "few")
    square = {f"{i}{j}": {"second": str(j), "first": str(i)} for i in range(2) for j in range(2)}
    assert separate(_profiles(square), ["first", "second"]).questions == ("first", "second")


def test_a_question_outside_the_order_is_not_asked() -> None:
    candidates = _profiles({"a": {"secret": "1"}, "b": {"secret": "2"}})
    assert separate(candidates, []) == Separation((), "exact", (("a", "b"),))


# --- answers ---------------------------------------------------------------------------------------------


def test_what_somebody_cannot_tell_is_not_asked_again_and_rules_nothing_out() -> None:
    candidates = _profiles({"a": {"grille": "x", "label": "x"}, "b": {"grille": "y", "label": "y"}})
    answers = {"grille": "cannot_tell"}
    assert narrow(candidates, answers) == candidates
    assert separate(candidates, ["grille", "label"], answers).questions == ("label",)
    answers["label"] = "cannot_tell"
    assert separate(candidates, ["grille", "label"], answers) == Separation((), "exact", (("a", "b"),))


def test_an_answer_that_no_vehicle_allows_leaves_none() -> None:
    assert narrow(_profiles({"a": {"radar": "yes"}, "b": {"radar": "no"}}), {"radar": "two"}) == {}


@given(problems(candidates=(2, 8), questions=5), st.data())
def test_an_answered_question_separates_nothing_any_more(problem: Problem, data: st.DataObject) -> None:
    candidates, order = problem
    answers = {
        question: data.draw(st.sampled_from("abc")) for question in data.draw(st.sets(st.sampled_from(order)))
    }
    left = narrow(candidates, answers)
    assert not set(separate(left, order, answers).questions) & set(answers)


@given(problems(candidates=(1, 8), questions=5), st.data())
def test_answering_every_question_truthfully_keeps_the_car_and_all_like_it(
    problem: Problem, data: st.DataObject
) -> None:
    candidates, order = problem
    name = data.draw(st.sampled_from(list(candidates)))
    found = separate(candidates, order)
    answers = {
        question: data.draw(st.sampled_from(sorted(candidates[name].get(question, {"a"}))))
        for question in found.questions
    }
    left = narrow(candidates, answers)
    assert name in left
    assert not any((name, other) in _pairs_apart(candidates, order) for other in left)


# --- exact -----------------------------------------------------------------------------------------------


@settings(max_examples=400)
@given(problems(candidates=(0, 7), questions=7))
def test_the_exact_choice_is_the_first_smallest_of_all_subsets(problem: Problem) -> None:
    candidates, order = problem
    found = separate(candidates, order)
    assert found.method == "exact"
    assert tuple(sorted(found.questions)) == _smallest_by_enumeration(candidates, order)


@pytest.mark.parametrize("seed", range(30))
def test_twelve_vehicles_and_thirty_questions_agree_with_highs(seed: int) -> None:
    rng = np.random.default_rng(seed)
    order = tuple(f"q{i}" for i in range(30))
    answers, unknown = rng.integers(2, 5), rng.uniform(0, 0.8)
    candidates = {
        f"v{i}": {q: frozenset({str(rng.integers(answers))}) for q in order if rng.random() >= unknown}
        for i in range(12)
    }
    found = separate(candidates, order)
    assert found.method == "exact"
    assert len(found.questions) == _smallest_size_by_highs(candidates, order)
    _nothing_idle_nothing_missed(candidates, order, found)


@given(problems(candidates=(2, 12), questions=8))
def test_every_question_of_the_exact_choice_is_needed(problem: Problem) -> None:
    candidates, order = problem
    _nothing_idle_nothing_missed(candidates, order, separate(candidates, order))


# --- best split ------------------------------------------------------------------------------------------


@given(problems(candidates=(13, 20), questions=8))
def test_the_best_split_misses_no_pair_and_asks_nothing_idle(problem: Problem) -> None:
    candidates, order = problem
    found = separate(candidates, order)
    assert found.method == "best_split"
    _nothing_idle_nothing_missed(candidates, order, found)


def test_a_good_first_question_is_dropped_if_later_ones_made_it_idle() -> None:
    # The square of the trap above with sixteen vehicles: 'nearly' separates the most pairs, but not all, and
    # what it leaves takes both of the others, which need nothing else.
    table = {f"v{i}": {"nearly": str(i), "row": str(i // 4), "column": str(i % 4)} for i in range(16)}
    table["v1"]["nearly"] = table["v4"]["nearly"] = "0"
    found = separate(_profiles(table), ["nearly", "row", "column"])
    assert found == Separation(("row", "column"), "best_split", ())


@pytest.mark.parametrize(("easier", "harder"), [("front", "rear"), ("rear", "front")])
def test_of_two_idle_questions_the_harder_to_see_is_dropped(easier: str, harder: str) -> None:
    # Each question tells the hub from the vehicles named. Both 'front' and 'rear' are taken early, and once
    # the other four are taken either is idle, but not both: one must still tell the hub from 'e'.
    told_from_hub = {
        "front": ["a1", "a2", "a3", "a4", "e"],
        "rear": ["b1", "b2", "b3", "b4", "e"],
        "q1": ["a1", "a2", "c"],
        "q2": ["a3", "a4", "d"],
        "q3": ["b1", "b2", "f"],
        "q4": ["b3", "b4", "g"],
    }
    names = sorted({name for told in told_from_hub.values() for name in told})
    table = {
        name: {question: "no" for question, told in told_from_hub.items() if name in told} for name in names
    }
    table["hub"] = dict.fromkeys(told_from_hub, "yes")
    found = separate(_profiles(table), [easier, harder, "q1", "q2", "q3", "q4"])
    assert found.method == "best_split"
    assert set(found.questions) == {easier, "q1", "q2", "q3", "q4"}


def test_the_method_is_named_on_both_sides_of_each_limit() -> None:
    def numbered(vehicles: int, questions: int) -> Separation:
        order = [f"q{i}" for i in range(questions)]
        rows = {f"v{i}": dict.fromkeys(order, frozenset({str(i)})) for i in range(vehicles)}
        return separate(rows, order)

    assert numbered(12, 50).method == "exact"
    assert numbered(13, 50).method == "best_split"
    assert numbered(12, 51).method == "best_split"
    assert numbered(200, 2).questions == ("q0",)


# --- inseparable -----------------------------------------------------------------------------------------


@given(problems(candidates=(0, 16), questions=3))
def test_groups_hold_all_inseparable_pairs_and_no_other(problem: Problem) -> None:
    candidates, order = problem
    groups = separate(candidates, order).inseparable
    together = {pair for group in groups for pair in combinations(group, 2)}
    assert together == set(combinations(candidates, 2)) - _pairs_apart(candidates, order)
    assert len(set(groups)) == len(groups)
