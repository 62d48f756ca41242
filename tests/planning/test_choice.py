"""Which alternative is taken, and why not the others."""

from itertools import permutations, product
from random import Random

import pytest

from snapline_service.planning.choice import Alternative, Rejection, Requirement, choose

BOARD_AND_ROAD = Alternative("board-and-road", ("camera-board", "camera-drive"))
ROAD = Alternative("road", ("camera-drive-alone",))
CAMERA = Requirement("camera-aim", (BOARD_AND_ROAD, ROAD))


def test_the_sources_first_alternative_is_taken_when_nothing_blocks_it() -> None:
    choice = choose([CAMERA], {"camera-drive": ["radar-reflector"]})
    assert choice.taken == {"camera-aim": "board-and-road"}
    assert choice.after == {"camera-board": frozenset(), "camera-drive": {"camera-board"}}
    assert choice.rejected == (Rejection("camera-aim", "road", "not_preferred"),)


def test_a_later_alternative_is_taken_only_when_those_before_it_are_blocked() -> None:
    blocked = Alternative("board-and-road", BOARD_AND_ROAD.procedures, blocked=True)
    choice = choose([Requirement("camera-aim", (blocked, ROAD))], {})
    assert choice.taken == {"camera-aim": "road"}
    assert choice.rejected == (Rejection("camera-aim", "board-and-road", "blocked"),)


def test_a_requirement_without_an_open_alternative_is_unmet_and_the_others_are_planned() -> None:
    blocked = Requirement("radar-aim", (Alternative("reflector", ("radar-reflector",), blocked=True),))
    choice = choose([blocked, CAMERA], {})
    assert choice.unmet == ("radar-aim",)
    assert choice.taken == {"camera-aim": "board-and-road"}
    assert Rejection("radar-aim", "reflector", "blocked") in choice.rejected


def test_one_procedure_serves_two_requirements_and_is_done_once() -> None:
    height = Requirement("height", (Alternative("teach", ("teach", "camera-board")),))
    assert set(choose([CAMERA, height], {}).after) == {"teach", "camera-board", "camera-drive"}


def test_alternatives_that_contradict_one_another_are_not_taken_together() -> None:
    other_way = Requirement("radar-aim", (Alternative("after-the-road", ("camera-drive", "camera-board")),))
    choice = choose([CAMERA, other_way], {})
    assert choice.taken == {"camera-aim": "road", "radar-aim": "after-the-road"}
    assert choice.rejected == (
        Rejection("camera-aim", "board-and-road", "contradicts", ("camera-board", "camera-drive")),
    )


def test_the_requirement_with_fewer_ways_has_its_first_where_two_cannot() -> None:
    many = Requirement(
        "many", (Alternative("1", ("a", "b")), Alternative("2", ("c",)), Alternative("3", ("d",)))
    )
    few = Requirement("few", (Alternative("1", ("b", "a")), Alternative("2", ("e",))))
    assert choose([many, few], {}).taken == {"many": "2", "few": "1"}


def test_a_catalogue_that_contradicts_itself_is_told_with_the_ring() -> None:
    choice = choose([Requirement("camera-aim", (BOARD_AND_ROAD,))], {"camera-board": ["camera-drive"]})
    assert choice.ring == ("camera-board", "camera-drive")
    assert choice.taken == {}


def test_nothing_required_is_nothing_taken() -> None:
    choice = choose([], {})
    assert (choice.taken, choice.after, choice.ring) == ({}, {}, None)


@pytest.mark.parametrize("seed", range(200))
def test_an_order_exists_for_what_is_taken_and_a_lower_choice_always_has_a_reason(seed: int) -> None:
    rng = Random(seed)
    requirements = [
        Requirement(
            f"r{number}",
            tuple(
                Alternative(f"{way}", tuple(rng.sample("abcd", 2)), blocked=rng.random() < 0.1)
                for way in range(rng.randint(1, 3))
            ),
        )
        for number in range(3)
    ]
    after = {later: [other for other in "abcd" if other != later and rng.random() < 0.08] for later in "abcd"}
    choice = choose(requirements, after)
    opened = [[way for way in needed.alternatives if not way.blocked] for needed in requirements]
    combinations = list(product(*(ways for ways in opened if ways)))
    possible = [ways for ways in combinations if _has_order([way.procedures for way in ways], after)]
    assert (choice.ring is None) == bool(possible)
    if choice.ring is None:
        able = [needed for needed, ways in zip(requirements, opened, strict=True) if ways]
        taken = [
            next(way for way in needed.alternatives if way.id == choice.taken[needed.id]) for needed in able
        ]
        assert tuple(taken) in possible
        # No requirement could have a better one without another giving way.
        for ways in possible:
            ranks = [
                (needed.alternatives.index(mine), needed.alternatives.index(theirs))
                for needed, mine, theirs in zip(able, taken, ways, strict=True)
            ]
            assert any(mine < theirs for mine, theirs in ranks) or all(a == b for a, b in ranks)
        for rejected in choice.rejected:
            assert rejected.ring or rejected.because != "contradicts"


def _has_order(chains: list[tuple[str, ...]], after: dict[str, list[str]]) -> bool:
    acts = sorted({act for chain in chains for act in chain})
    pairs = [(earlier, act) for act in acts for earlier in after[act] if earlier in acts]
    pairs += [(chain[0], chain[1]) for chain in chains]
    return any(all(order.index(a) < order.index(b) for a, b in pairs) for order in permutations(acts))
