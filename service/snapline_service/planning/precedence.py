"""Which acts come first, and what to say where a catalogue contradicts itself."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

After = dict[str, frozenset[str]]


class PrecedenceCycle(Exception):
    """Acts that each come before the next, and the last of them before the first."""

    def __init__(self, acts: Sequence[str]) -> None:
        super().__init__(" before ".join([*acts, acts[0]]))
        self.acts = tuple(acts)


def merged(chains: Iterable[Sequence[str]], after: Mapping[str, Collection[str]]) -> After:
    """Return for every act in the chains which others it follows.

    A chain is an alternative's procedures in order; ``after`` adds what each procedure says by itself. A
    procedure that no chain has is not done in this visit, and what is not done holds nothing up.
    """
    chains = [tuple(chain) for chain in chains]
    first: dict[str, set[str]] = {act: set() for chain in chains for act in chain}
    for act, earlier in first.items():
        earlier.update(set(after.get(act, ())) & first.keys())
    for chain in chains:
        for earlier_act, later_act in pairwise(chain):
            first[later_act].add(earlier_act)
    return {act: frozenset(earlier) for act, earlier in first.items()}


def cycle(after: Mapping[str, Collection[str]]) -> tuple[str, ...] | None:
    """Return acts that wait for one another in a ring, each before the next, or None when an order exists.

    The ring is told from its first id in the alphabet and does not depend on the order of the input.
    """
    try:
        TopologicalSorter({act: sorted(after[act]) for act in sorted(after)}).prepare()
    except CycleError as error:
        ring: list[str] = error.args[1][:-1]
        start = ring.index(min(ring))
        return tuple(ring[start:] + ring[:start])
    return None
