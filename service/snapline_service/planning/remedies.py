"""The cheapest set of remedies that makes every requirement servable.

A requirement needs one of its ways, a way the removal of all its blockers, a blocker one of the remedies that
remove it; a remedy is paid once however much it helps. Few remedies are tried in all combinations; more make
a small integer programme, solved to its optimum by HiGHS.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, combinations
from math import fsum

import numpy as np
import scipy
from numpy.typing import NDArray

from snapline_service.errors import InvalidValue

# Sixty-four combinations are tried in a tenth of the time that a solver takes to start.
_TRIED_UP_TO_REMEDIES = 6
_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class Way:
    """One alternative and what blocks it: for each blocker the remedies of which any one removes it.

    Without blockers the way is open; a blocker without remedies cannot be removed.
    """

    id: str
    blockers: tuple[frozenset[str], ...] = ()

    def open_with(self, remedies: frozenset[str]) -> bool:
        """Say whether these remedies remove every blocker."""
        return all(blocker & remedies for blocker in self.blockers)


@dataclass(frozen=True, slots=True)
class Mending:
    """Remedies in the order of their ids, their cost together, and the way that each requirement then has.

    ``equal`` are, for each of them, others of the same cost that would do in its place. ``hopeless`` are
    requirements that no remedies make servable; the others are served all the same.
    """

    remedies: tuple[str, ...]
    equal: Mapping[str, tuple[str, ...]]
    cost: float
    ways: Mapping[str, str]
    hopeless: tuple[str, ...]


def cheapest_remedies(ways: Mapping[str, Sequence[Way]], costs: Mapping[str, float]) -> Mending:
    """Choose remedies for requirements, given by id with their ways, best way first.

    The cost is the least possible (costs that differ by less than a millionth count as equal); of equally
    cheap sets one with the fewest remedies, and then always the same, whatever the order of the input.
    ``costs`` are in one unit of the caller's: minutes, or ranks.

    Raises InvalidValue when a remedy has no cost, or one that is negative or not finite.
    """
    _check(ways, costs)
    mendable = {needed: [way for way in some if all(way.blockers)] for needed, some in ways.items()}
    hopeless = tuple(needed for needed, some in mendable.items() if not some)
    blocked = [some for some in mendable.values() if some and all(way.blockers for way in some)]
    chosen = _chosen(blocked, costs) if blocked else frozenset()
    return Mending(
        remedies=tuple(sorted(chosen)),
        equal={name: tuple(_equal(name, chosen, blocked, costs)) for name in chosen},
        cost=fsum(costs[remedy] for remedy in chosen),
        ways={
            needed: next(way.id for way in some if way.open_with(chosen))
            for needed, some in mendable.items()
            if some
        },
        hopeless=hopeless,
    )


def _check(ways: Mapping[str, Sequence[Way]], costs: Mapping[str, float]) -> None:
    for remedy in _remedies(ways.values()):
        cost = costs.get(remedy)
        if cost is None or not 0 <= cost < float("inf"):
            raise InvalidValue(f"The remedy '{remedy}' needs a cost that is finite and not negative.")


def _remedies(ways: Iterable[Sequence[Way]]) -> list[str]:
    return sorted({remedy for some in ways for way in some for blocker in way.blockers for remedy in blocker})


def _chosen(blocked: Sequence[Sequence[Way]], costs: Mapping[str, float]) -> frozenset[str]:
    names = _worth_taking(blocked, costs)
    worth = [
        [Way(way.id, tuple(blocker.intersection(names) for blocker in way.blockers)) for way in some]
        for some in blocked
    ]
    by_trying = len(names) <= _TRIED_UP_TO_REMEDIES
    return frozenset(_tried(worth, names, costs) if by_trying else _programmed(worth, names, costs))


def _equal(
    name: str, chosen: frozenset[str], blocked: Sequence[Sequence[Way]], costs: Mapping[str, float]
) -> Iterable[str]:
    for other in _remedies(blocked):
        as_cheap = other not in chosen and abs(costs[other] - costs[name]) <= _TOLERANCE
        if as_cheap and _enough(blocked, chosen - {name} | {other}):
            yield other


def _enough(blocked: Sequence[Sequence[Way]], chosen: frozenset[str]) -> bool:
    return all(any(way.open_with(chosen) for way in some) for some in blocked)


def _worth_taking(blocked: Sequence[Sequence[Way]], costs: Mapping[str, float]) -> list[str]:
    """Leave out each remedy beside which another removes all that it does and is cheaper, or else earlier.

    Most are: of the sites that could lend a fixture, only the nearest matters.
    """
    blockers = {blocker for some in blocked for way in some for blocker in way.blockers}
    removed = {name: {blocker for blocker in blockers if name in blocker} for name in _remedies(blocked)}
    return [
        name
        for name, mine in removed.items()
        if not any(
            mine <= theirs and (costs[other], other) < (costs[name], name)
            for other, theirs in removed.items()
        )
    ]


def _tried(
    blocked: Sequence[Sequence[Way]], names: Sequence[str], costs: Mapping[str, float]
) -> Iterable[str]:
    """Try the smaller sets first, each size in the alphabet's order: min() keeps the first of equals."""
    sets = chain.from_iterable(combinations(names, size) for size in range(len(names) + 1))
    enough = (chosen for chosen in sets if _enough(blocked, frozenset(chosen)))
    return min(enough, key=lambda chosen: fsum(costs[remedy] for remedy in chosen))


def _programmed(
    blocked: Sequence[Sequence[Way]], names: Sequence[str], costs: Mapping[str, float]
) -> Iterable[str]:
    """Solve for the least cost, then at that cost for the fewest remedies, those early in the alphabet."""
    rules = _rules(blocked, names)
    cost, rank = np.zeros((2, len(names) + sum(map(len, blocked))))
    cost[: len(names)] = [costs[name] for name in names]
    rank[: len(names)] = len(names) ** 2 + np.arange(len(names))
    least = float(cost @ _solved(cost, [rules]))
    as_cheap = scipy.optimize.LinearConstraint(cost, -np.inf, least + _TOLERANCE * max(1.0, least))
    taken = _solved(rank, [rules, as_cheap])
    return (name for name, value in zip(names, taken, strict=False) if value)


def _rules(blocked: Sequence[Sequence[Way]], names: Sequence[str]) -> "scipy.optimize.LinearConstraint":
    """Every requirement has a way, every blocker of a way taken a remedy: columns are remedies, then ways."""
    columns = len(names) + sum(len(some) for some in blocked)
    rows, at_least = [], []
    column = len(names)
    for some in blocked:
        rows.append(_row(columns, range(column, column + len(some))))
        at_least.append(1.0)
        for way in some:
            for blocker in way.blockers:
                row = _row(columns, [names.index(remedy) for remedy in blocker])
                row[column] = -1.0
                rows.append(row)
                at_least.append(0.0)
            column += 1
    return scipy.optimize.LinearConstraint(np.array(rows), np.array(at_least), np.inf)


def _row(columns: int, ones: Iterable[int]) -> NDArray[np.float64]:
    row = np.zeros(columns)
    row[list(ones)] = 1.0
    return row


def _solved(
    objective: NDArray[np.float64], rules: Sequence["scipy.optimize.LinearConstraint"]
) -> NDArray[np.float64]:
    """Return the optimum in zeros and ones; it exists, because taking every remedy serves everybody."""
    answer = scipy.optimize.milp(
        objective,
        integrality=np.ones(len(objective), np.int64),
        bounds=scipy.optimize.Bounds(0, 1),
        constraints=rules,
        options={"mip_rel_gap": 0.0},
    )
    if answer.x is None:
        raise RuntimeError(answer.message)
    return np.round(answer.x).astype(np.float64)
