"""The fewest questions that still tell the candidates apart.

A question separates two candidates when no answer is possible for both. A candidate that says nothing about
a question could give any answer to it, so that question separates it from no other. Choosing the questions is
a set cover, known as the test cover problem: the pairs are covered by the questions that separate them.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import combinations, count
from operator import or_
from typing import Literal

CANNOT_TELL = "cannot_tell"
# Beyond either figure the exact search could keep a caller waiting.
EXACT_UP_TO_CANDIDATES = 12
EXACT_UP_TO_QUESTIONS = 50

Candidates = Mapping[str, Mapping[str, frozenset[str]]]


@dataclass(frozen=True, slots=True)
class Separation:
    """Questions in the order to ask them, and the groups of candidates that no question separates.

    ``exact`` means that no smaller set of questions does as much; ``best_split`` that each question was
    picked because it separates the most pairs still together. Any two members of a group in ``inseparable``
    are inseparable, and every inseparable pair is in some group; a candidate may be in several.
    """

    questions: tuple[str, ...]
    method: Literal["exact", "best_split"]
    inseparable: tuple[tuple[str, ...], ...]


def narrow(candidates: Candidates, answers: Mapping[str, str]) -> dict[str, Mapping[str, frozenset[str]]]:
    """Keep the candidates for which every answer is possible; ``cannot_tell`` rules nothing out."""
    told = {question: answer for question, answer in answers.items() if answer != CANNOT_TELL}
    return {
        name: possible
        for name, possible in candidates.items()
        if all(
            not possible.get(question) or answer in possible[question] for question, answer in told.items()
        )
    }


def separate(
    candidates: Candidates, order: Sequence[str], answers: Mapping[str, str] | None = None
) -> Separation:
    """Choose questions for candidates that are already narrowed by ``answers``.

    ``order`` lists the questions that may be asked, the easiest to see on the car first; it settles ties. A
    question answered ``cannot_tell`` is not asked again.
    """
    names, possible = list(candidates), list(candidates.values())
    askable = [question for question in order if (answers or {}).get(question) != CANNOT_TELL]
    separated = {question: pairs for question in askable if (pairs := _pairs_separated(possible, question))}
    exact = len(names) <= EXACT_UP_TO_CANDIDATES and len(separated) <= EXACT_UP_TO_QUESTIONS
    chosen = _fewest(separated, len(names)) if exact else _best_split(separated)
    return Separation(
        questions=tuple(_most_separating_first({question: separated[question] for question in chosen})),
        method="exact" if exact else "best_split",
        inseparable=tuple(
            tuple(names[i] for i in group) for group in _groups(_union(separated.values()), len(names))
        ),
    )


def _pairs_separated(candidates: Sequence[Mapping[str, frozenset[str]]], question: str) -> int:
    """Pairs that a question separates, as bits ``i * len(candidates) + j``, each pair both ways round."""
    holders: dict[frozenset[str], int] = {}
    for i, possible in enumerate(candidates):
        if answers := possible.get(question):
            holders[answers] = holders.get(answers, 0) | 1 << i
    pairs = 0
    for answers, held in holders.items():
        opposed = _union(others for other, others in holders.items() if answers.isdisjoint(other))
        for i in _members(held):
            pairs |= opposed << (i * len(candidates))
    return pairs


def _fewest(separated: Mapping[str, int], size: int) -> list[str]:
    """Smallest choice that separates all it can; of several, the one that comes first in the order."""
    questions = _hardest_pair_lowest(separated, size)
    left = _union(questions.values())
    budget = next(budget for budget in count() if _coverable(list(questions.values()), left, budget))
    chosen: list[str] = []
    later = dict(questions)
    for question, pairs in questions.items():
        del later[question]
        if pairs & left and _coverable(list(later.values()), left & ~pairs, budget - len(chosen) - 1):
            chosen.append(question)
            left &= ~pairs
    return chosen


def _hardest_pair_lowest(separated: Mapping[str, int], size: int) -> dict[str, int]:
    """Renumber the pairs: the fewer questions separate one, the lower its bit; equal pairs become one."""
    separating = {
        sum(1 << k for k, pairs in enumerate(separated.values()) if pairs >> (i * size + j) & 1)
        for i, j in combinations(range(size), 2)
    }
    hardest_first = sorted(separating - {0}, key=lambda questions: (questions.bit_count(), questions))
    return {
        question: sum(1 << pair for pair, questions in enumerate(hardest_first) if questions >> k & 1)
        for k, question in enumerate(separated)
    }


def _coverable(questions: Sequence[int], left: int, budget: int) -> bool:
    """Whether ``budget`` of the questions separate all pairs left: branch and bound on the hardest pair."""
    if not left:
        return True
    gains = sorted(((pairs & left).bit_count() for pairs in questions), reverse=True)
    if sum(gains[:budget]) < left.bit_count():
        return False
    hardest = left & -left
    others = [pairs for pairs in questions if not pairs & hardest]
    ways = [pairs for pairs in questions if pairs & hardest]
    # A way that failed is not tried again deeper down.
    return any(_coverable(others + ways[i + 1 :], left & ~pairs, budget - 1) for i, pairs in enumerate(ways))


def _best_split(separated: Mapping[str, int]) -> list[str]:
    """Greedy choice, less the questions that later ones made idle; the hardest to see is dropped first."""
    taken = set(_most_separating_first(separated))
    kept = [question for question in separated if question in taken]
    for question in reversed(kept.copy()):
        others = [other for other in kept if other != question]
        if not separated[question] & ~_union(separated[other] for other in others):
            kept = others
    return kept


def _most_separating_first(separated: Mapping[str, int]) -> list[str]:
    """Take again and again the question that separates the most pairs still together; ties by order."""
    left, taken = _union(separated.values()), []
    while left:
        best = max(separated, key=lambda question: (separated[question] & left).bit_count())
        taken.append(best)
        left &= ~separated[best]
    return taken


def _groups(separated: int, size: int) -> Iterator[tuple[int, ...]]:
    """Cover the pairs that are not separated with groups in which no pair is."""
    everyone = (1 << size) - 1
    alike = [everyone & ~(separated >> (i * size) | 1 << i) for i in range(size)]
    uncovered = list(alike)
    for first in range(size):
        while uncovered[first]:
            group = 1 << first | 1 << next(_members(uncovered[first]))
            for other in range(size):
                if not group & ~alike[other]:
                    group |= 1 << other
            for member in _members(group):
                uncovered[member] &= ~group
            yield tuple(_members(group))


def _union(sets: Iterable[int]) -> int:
    return reduce(or_, sets, 0)


def _members(bits: int) -> Iterator[int]:
    while bits:
        lowest = bits & -bits
        yield lowest.bit_length() - 1
        bits ^= lowest
