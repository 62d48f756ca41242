"""Which act comes first, and naming a catalogue's contradictions."""

from itertools import pairwise
from random import Random

import pytest

from snapline_service.planning.precedence import cycle, merged


def test_procedures_of_an_alternative_follow_one_another() -> None:
    assert merged([("board", "drive")], {}) == {"board": frozenset(), "drive": frozenset({"board"})}


def test_a_procedure_that_serves_two_requirements_is_one_act_with_the_reasons_of_both() -> None:
    after = merged([("board", "drive"), ("reflector", "drive")], {"board": ["zero"], "zero": []})
    assert after == {
        "board": frozenset(),
        "drive": frozenset({"board", "reflector"}),
        "reflector": frozenset(),
    }


def test_a_procedure_follows_those_that_it_names_where_they_are_done() -> None:
    assert merged([("board",), ("zero",)], {"board": ["zero", "other"]})["board"] == {"zero"}


def test_a_ring_is_named_from_its_first_id_each_before_the_next() -> None:
    after = {"drive": ["board"], "zero": ["drive"], "board": ["zero"], "scan": ["zero"]}
    ring = cycle(after)
    assert ring == ("board", "drive", "zero")
    assert all(earlier in after[later] for earlier, later in pairwise((*ring, ring[0])))


def test_a_procedure_after_itself_is_a_ring_of_one() -> None:
    assert cycle({"board": ["board"]}) == ("board",)


def test_there_is_no_ring_in_what_has_an_order() -> None:
    assert cycle({"c": ["a", "b"], "b": ["a"], "a": []}) is None


@pytest.mark.parametrize("seed", range(200))
def test_a_ring_is_found_exactly_when_nothing_can_come_first(seed: int) -> None:
    rng = Random(seed)
    names = list("abcdefg")
    after = {name: [other for other in names if rng.random() < 0.16] for name in names}
    left = set(names)
    while ready := {name for name in left if not left & set(after[name])}:
        left -= ready
    ring = cycle(after)
    assert (ring is None) == (not left)
    if ring:
        assert all(earlier in after[later] for earlier, later in pairwise((*ring, ring[0])))
        assert len(set(ring)) == len(ring)
