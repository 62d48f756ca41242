"""The fewest stands, against trial of every combination and against cases that are plain to see."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geometry.bay_fit.reference import clearance, fewest_by_trial, rectangle
from snapline_service.geometry.bay_fit import (
    Bay,
    Obstacle,
    Part,
    Procedure,
    fewest_stands,
    fit,
    fits,
    room_of,
)
from snapline_service.geometry.bay_fit.poses import fewest_sets

CAR = Part("car", "solid", rectangle(-1000, -900, 3500, 900))
BOX = 800.0
SPOTS = {
    "ahead": (5200, -400),
    "behind": (-3600, -400),
    "left": (500, 1800),
    "right": (500, -2600),
    "ahead left": (4400, 1200),
}


def beside(name: str) -> Procedure:
    x, y = SPOTS[name]
    return Procedure(name, (CAR, Part("thing", "solid", rectangle(x, y, x + BOX, y + BOX))))


@given(st.lists(st.frozensets(st.integers(0, 6), min_size=1), min_size=1, max_size=5))
def test_the_sets_are_as_few_as_trial_finds(sets: list[frozenset[int]]) -> None:
    wanted = frozenset[int]().union(*sets)
    chosen = fewest_sets(sets, wanted)
    assert wanted <= frozenset[int]().union(*chosen)
    assert len(chosen) == fewest_by_trial(sets, wanted)


def test_the_greedy_choice_is_not_taken_when_it_costs_a_pose() -> None:
    # Taking the largest first needs three sets.
    sets = [frozenset({1, 2, 3, 4}), frozenset({0, 1, 2}), frozenset({3, 4, 5})]
    assert len(fewest_sets(sets, frozenset(range(6)))) == 2


@pytest.mark.parametrize("seed", range(12))
def test_poses_are_as_few_as_trying_every_partition(seed: int) -> None:
    """Random bays and the five procedures: which sets go together is decided one by one, then tried all."""
    dice = np.random.default_rng(seed)
    width, depth = dice.uniform(5600, 8200), dice.uniform(2500, 4300)
    posts = tuple(
        Obstacle(tuple((x, y) for x, y in shapely.box(a, b, a + 300, b + 300).exterior.coords[:-1]))
        for a, b in dice.uniform([0, 0], [width, depth], (2, 2))
    )
    bay, headings = Bay(rectangle(0, 0, width, depth), posts), [0, 180]
    procedures = [beside(name) for name in SPOTS]
    subsets = [
        frozenset(n for n in range(len(procedures)) if bits >> n & 1)
        for bits in range(1, 2 ** len(procedures))
    ]
    able = [some for some in subsets if fits(bay, headings, [procedures[n] for n in sorted(some)])]
    stands, unservable = fewest_stands(room_of(bay), procedures, headings)
    servable = frozenset[int]().union(*able)
    largest = [one for one in able if not any(one < other for other in able)]
    assert len(stands) == (fewest_by_trial(largest, servable) if servable else 0)
    assert {name for stand in stands for name in stand.procedures} == {procedures[n].name for n in servable}
    assert set(unservable) == {one.name for n, one in enumerate(procedures) if n not in servable}
    assert sum(len(stand.procedures) for stand in stands) == len(servable), "each is done once"
    for stand in stands:
        parts = [part for one in procedures if one.name in stand.procedures for part in one.parts]
        assert clearance(bay, parts, stand.x_mm, stand.y_mm, stand.heading_deg) > -0.5


def test_what_fits_nowhere_is_named_and_the_rest_is_placed() -> None:
    huge = Procedure("huge", (Part("sheet", "solid", rectangle(0, 0, 9000, 9000)),))
    answer = fit(Bay(rectangle(0, 0, 8000, 4000)), [0], [huge, beside("ahead")])
    assert not answer.one_pose
    assert answer.pose is None
    assert answer.margin_mm is None
    assert answer.unservable == ("huge",)
    assert [stand.procedures for stand in answer.poses] == [("ahead",)]


def test_the_same_question_has_the_same_answer() -> None:
    bay, procedures = Bay(rectangle(0, 0, 7000, 4000)), [beside(name) for name in SPOTS]
    assert fit(bay, [0, 180], procedures) == fit(bay, [0, 180], procedures)
    assert len(fit(bay, [0, 180], procedures).poses) >= 2
