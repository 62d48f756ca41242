"""The cheapest way out when something is missing."""

from itertools import combinations
from random import Random

import pytest

from snapline_service.errors import InvalidValue
from snapline_service.planning.remedies import Way, cheapest_remedies

Ways = dict[str, list[Way]]


def blockers(*removed_by: str) -> tuple[frozenset[str], ...]:
    """One blocker for each argument: the remedies that remove it, with spaces between."""
    return tuple(frozenset(remedies.split()) for remedies in removed_by)


def test_what_is_open_needs_no_remedy() -> None:
    mending = cheapest_remedies({"camera": [Way("board", blockers("fetch")), Way("road")]}, {"fetch": 30})
    assert (mending.remedies, mending.cost, mending.ways) == ((), 0, {"camera": "road"})


def test_every_blocker_of_a_way_is_removed() -> None:
    ways = {"camera": [Way("board", blockers("fetch-board", "clear-bay"))]}
    mending = cheapest_remedies(ways, {"fetch-board": 30, "clear-bay": 10})
    assert (mending.remedies, mending.cost) == (("clear-bay", "fetch-board"), 40)


def test_the_cheaper_of_two_remedies_and_of_two_ways_is_taken() -> None:
    ways = {"camera": [Way("board", blockers("fetch-far fetch-near")), Way("road", blockers("wait-for-dry"))]}
    costs = {"fetch-far": 90, "fetch-near": 30, "wait-for-dry": 40}
    mending = cheapest_remedies(ways, costs)
    assert (mending.remedies, mending.ways) == (("fetch-near",), {"camera": "board"})


def test_a_remedy_that_helps_twice_is_paid_once() -> None:
    # Alone the camera is cheapest mended by its road (40) and the radar by a loan (40): together 80.
    ways = {
        "camera": [Way("board", blockers("clear-bay")), Way("road", blockers("wait-for-dry"))],
        "radar": [Way("reflector", blockers("clear-bay")), Way("plate", blockers("loan"))],
    }
    mending = cheapest_remedies(ways, {"clear-bay": 60, "wait-for-dry": 40, "loan": 40})
    assert (mending.remedies, mending.cost) == (("clear-bay",), 60)
    assert mending.ways == {"camera": "board", "radar": "reflector"}


def test_what_nothing_helps_is_named_and_the_rest_is_mended() -> None:
    ways = {"camera": [Way("board", (frozenset(),))], "laser": [], "radar": [Way("plate", blockers("loan"))]}
    mending = cheapest_remedies(ways, {"loan": 40})
    assert mending.hopeless == ("camera", "laser")
    assert (mending.remedies, mending.ways) == (("loan",), {"radar": "plate"})


def test_of_equally_cheap_ones_the_fewest_are_taken_and_then_always_the_same() -> None:
    ways = {"camera": [Way("board", blockers("a", "b")), Way("panel", blockers("d c"))]}
    costs = {"a": 10, "b": 10, "c": 20, "d": 20}
    assert cheapest_remedies(ways, costs).remedies == ("c",)
    assert cheapest_remedies({"camera": ways["camera"][::-1]}, costs).remedies == ("c",)


@pytest.mark.parametrize("cost", [-1, float("nan"), float("inf")])
def test_a_cost_that_cannot_be_is_refused(cost: float) -> None:
    with pytest.raises(InvalidValue, match="'fetch'"):
        cheapest_remedies({"camera": [Way("board", blockers("fetch"))]}, {"fetch": cost})


def test_a_remedy_without_a_cost_is_refused() -> None:
    with pytest.raises(InvalidValue, match="'fetch'"):
        cheapest_remedies({"camera": [Way("board", blockers("fetch"))]}, {})


@pytest.mark.parametrize("seed", range(300))
def test_no_set_of_remedies_costs_less_or_as_little_with_fewer(seed: int) -> None:
    rng = Random(seed)
    costs = {f"remedy-{name}": rng.choice((0, 5, 10, 10, 15, 20.5, 45, 240)) for name in "abcdefghi"}
    ways = _random_ways(rng, sorted(costs))
    mending = cheapest_remedies(ways, costs)
    mendable = {needed: some for needed, some in ways.items() if needed not in mending.hopeless}
    assert not any(_served(ways[needed], set(costs)) for needed in mending.hopeless)
    enough = [
        (sum(costs[remedy] for remedy in chosen), len(chosen), chosen)
        for size in range(len(costs) + 1)
        for chosen in combinations(sorted(costs), size)
        if all(_served(some, set(chosen)) for some in mendable.values())
    ]
    assert (mending.cost, len(mending.remedies)) == min(enough)[:2]
    assert (mending.cost, len(mending.remedies), mending.remedies) in enough
    assert mending.ways.keys() == mendable.keys()
    for needed, taken in mending.ways.items():
        assert _served([way for way in ways[needed] if way.id == taken], set(mending.remedies))


def test_dozens_of_requirements_are_mended_as_cheaply_as_their_parts() -> None:
    # Twenty pairs with nothing in common: each pair's least cost is 3, by sharing.
    ways: Ways = {}
    costs: dict[str, float] = {}
    for pair in range(20):
        shared, alone = f"shared-{pair:02}", f"alone-{pair:02}"
        costs |= {shared: 3, alone: 2}
        for side in "ab":
            ways[f"{pair}{side}"] = [Way("1", blockers(shared)), Way("2", blockers(f"{alone}-{side}"))]
            costs[f"{alone}-{side}"] = 2
    assert cheapest_remedies(ways, costs).cost == 20 * 3


def _random_ways(rng: Random, remedies: list[str]) -> Ways:
    return {
        f"requirement-{number}": [
            Way(
                f"way-{way}",
                tuple(
                    frozenset(rng.sample(remedies, rng.choice((0, 1, 2, 2))))
                    for _ in range(rng.randint(1, 3))
                ),
            )
            for way in range(rng.randint(1, 3))
        ]
        for number in range(rng.randint(1, 7))
    }


def _served(ways: list[Way], remedies: set[str]) -> bool:
    return any(all(not remedies.isdisjoint(blocker) for blocker in way.blockers) for way in ways)
