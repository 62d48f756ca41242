"""Which alternative of each requirement is taken.

Alternatives stand in the source's order of preference, which is not ours to trade against minutes: the first
that nothing blocks is taken. Only a contradiction in precedence can make alternatives impossible together
(the acts of a visit follow one another, so no two ask for an asset at once); then the next is tried.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from snapline_service.planning.precedence import After, cycle, merged

# More than any catalogue needs that contradicts itself by mistake; past it, none is taken to fit.
_MOST_TRIES = 2000


@dataclass(frozen=True, slots=True)
class Alternative:
    """Procedures in order; ``blocked`` when they cannot all be done here and then."""

    id: str
    procedures: tuple[str, ...]
    blocked: bool = False


@dataclass(frozen=True, slots=True)
class Requirement:
    """What a disturbed system needs: one of these, best first.

    Put first what the user prefers, before it comes here.
    """

    id: str
    alternatives: tuple[Alternative, ...]


@dataclass(frozen=True, slots=True)
class Rejection:
    """Why an alternative is not taken.

    It is blocked, contradicts the others taken (``ring``), or one before it is taken.
    """

    requirement: str
    alternative: str
    because: Literal["blocked", "contradicts", "not_preferred"]
    ring: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """The alternative taken for each requirement, and which act follows which others.

    ``unmet`` are requirements of which every alternative is blocked. When no acts fit together, ``ring``
    names acts that come before one another, nothing is taken, and there is no order.
    """

    taken: Mapping[str, str]
    after: After
    rejected: tuple[Rejection, ...]
    unmet: tuple[str, ...]
    ring: tuple[str, ...] | None = None


def choose(requirements: Sequence[Requirement], after: Mapping[str, Collection[str]]) -> Choice:
    """Take the first open alternative of each requirement that fits together with the others.

    ``after`` names, for each procedure, those that come before it wherever both are done. Of two requirements
    that cannot both have their first, the one with fewer open alternatives has it, then the one given first.
    """
    opened = {needed.id: [way for way in needed.alternatives if not way.blocked] for needed in requirements}
    unmet = tuple(id_ for id_, ways in opened.items() if not ways)
    able = sorted((id_ for id_, ways in opened.items() if ways), key=lambda id_: len(opened[id_]))
    options = [opened[id_] for id_ in able]
    picked = _fitting(options, after, (), iter(range(_MOST_TRIES)))
    if picked is None:
        return Choice({}, {}, (), unmet, cycle(_after([ways[0] for ways in options], after)))
    taken = dict(zip(able, picked, strict=True))
    return Choice(
        taken={needed.id: taken[needed.id].id for needed in requirements if needed.id in taken},
        after=_after(picked, after),
        rejected=tuple(_rejections(requirements, taken, after)),
        unmet=unmet,
    )


def _after(ways: Iterable[Alternative], after: Mapping[str, Collection[str]]) -> After:
    return merged((way.procedures for way in ways), after)


def _fitting(
    options: Sequence[Sequence[Alternative]],
    after: Mapping[str, Collection[str]],
    picked: tuple[Alternative, ...],
    tries: Iterator[int],
) -> tuple[Alternative, ...] | None:
    """Return the first combination that has an order; a ring among few is one among more, so cut there."""
    if next(tries, None) is None or cycle(_after(picked, after)):
        return None
    if len(picked) == len(options):
        return picked
    deeper = (_fitting(options, after, (*picked, way), tries) for way in options[len(picked)])
    return next((found for found in deeper if found is not None), None)


def _rejections(
    requirements: Sequence[Requirement],
    taken: Mapping[str, Alternative],
    after: Mapping[str, Collection[str]],
) -> Iterator[Rejection]:
    for needed in requirements:
        passed = False
        for way in needed.alternatives:
            if way.blocked:
                yield Rejection(needed.id, way.id, "blocked")
            elif way is taken[needed.id]:
                passed = True
            elif passed:
                yield Rejection(needed.id, way.id, "not_preferred")
            else:
                ring = cycle(_after(({**taken, needed.id: way}).values(), after))
                yield Rejection(needed.id, way.id, "contradicts", ring or ())
