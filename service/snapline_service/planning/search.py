"""Exact search over orders: a dynamic programme on (acts done, what stands), all sets of one size at a time.

The recursion is that of Held and Karp (J. SIAM 10, 1962), over the sets that precedence allows, with times
before which an act may not start.

A label packs the earliest completion and the handling in it, in whole ticks, so that labels compare by time
first and add like vectors. Keeping the earliest alone is exact: an act ends at max(t + setup, not before) +
work, which never falls as t rises, so whatever follows the later of two completions of the same acts with the
same things standing may follow the earlier one and ends no later. Among orders that end equally early the
handling is least as long as all acts that wait do so until one time: idle time differs between two labels
only where one has waited, and from then on neither waits again.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

KEEPS = -1
MOST_ACTS = 62  # the bits of a set

_HANDLING_BITS = 28
_HANDLING = (1 << _HANDLING_BITS) - 1
_NEVER = 1 << 62

Labels = NDArray[np.int64]


def label(time: int, handling: int = 0) -> int:
    """Pack a time and the handling in it; both in ticks, sums below 2**33 and 2**28."""
    return time << _HANDLING_BITS | handling


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """Acts by number and their modes by number; state 0 is what stands at the beginning.

    ``before`` has the bits of the acts that come first, ``not_before`` the tick before which an act may not
    start. A mode belongs to an act, takes ``work`` once started and leads to a state, or ``KEEPS`` what
    stands. ``setup`` (states × modes) may be done while the act waits. Both hold labels.
    """

    before: Sequence[int]
    not_before: Sequence[int]
    act_of: Sequence[int]
    leads_to: Sequence[int]
    work: Sequence[int]
    setup: Labels

    def modes_of(self, act: int) -> list[int]:
        """Return the modes of an act, best first."""
        return [mode for mode, owner in enumerate(self.act_of) if owner == act]


@dataclass(frozen=True, slots=True)
class Solution:
    """Modes in order. ``proven`` unless sets were left out that might have led to an earlier end."""

    modes: tuple[int, ...]
    end: int
    handling: int
    proven: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Layer:
    """Sets of one size, ascending, with the best label for each (state, set)."""

    done: Labels
    labels: Labels


def solve(problem: Problem, *, start: int = 0, widest: int | None = None) -> Solution:
    """Find the order and modes that end first.

    With more than ``widest`` sets of one size, the most promising are kept: a beam over the same recursion.
    """
    states = len(problem.setup)
    first = np.full((states, 1), _NEVER, np.int64)
    first[0] = label(start)
    layers = [_Layer(np.zeros(1, np.int64), first)]
    left_out = _NEVER
    for _ in problem.before:
        layer = _grown(problem, layers[-1])
        if widest is not None and len(layer.done) > widest:
            layer, bound = _narrowed(problem, layer, widest)
            left_out = min(left_out, bound)
        layers.append(layer)
    ends = layers[-1].labels[:, 0]
    end = int(ends.min())
    return Solution(
        modes=_traced(problem, layers, int(ends.argmin())),
        end=end >> _HANDLING_BITS,
        handling=end & _HANDLING,
        proven=end >> _HANDLING_BITS <= left_out >> _HANDLING_BITS,
    )


def _waited(labels: Labels, not_before: int) -> Labels:
    return np.maximum(labels, label(not_before) | labels & _HANDLING) if not_before else labels


def _ended(problem: Problem, labels: Labels, mode: int) -> Labels:
    """Return the labels once the mode's act is done too, by what stood before it (states × sets)."""
    ready = labels + problem.setup[:, mode, np.newaxis]
    return _waited(ready, problem.not_before[problem.act_of[mode]]) + problem.work[mode]


def _grown(problem: Problem, layer: _Layer) -> _Layer:
    """Add one act to every set, wherever precedence allows."""
    grown = {}
    for act, before in enumerate(problem.before):
        free = (layer.done & (before | 1 << act)) == before
        grown[act] = np.flatnonzero(free), layer.done[free] | 1 << act
    done = np.unique(np.concatenate([sets for _, sets in grown.values()]))
    labels = np.full((len(problem.setup), len(done)), _NEVER, np.int64)
    for act, (columns, sets) in grown.items():
        rows, before_it = np.searchsorted(done, sets), layer.labels[:, columns]
        for mode in problem.modes_of(act):
            ended, state = _ended(problem, before_it, mode), problem.leads_to[mode]
            if state == KEEPS:
                labels[:, rows] = np.minimum(labels[:, rows], ended)
            else:
                labels[state, rows] = np.minimum(labels[state, rows], ended.min(axis=0))
    return _Layer(done, labels)


def _narrowed(problem: Problem, layer: _Layer, widest: int) -> tuple[_Layer, int]:
    """Keep the sets with the lowest bound on the end; return them and the lowest bound left out."""
    bounds = layer.labels.min(axis=0)
    for act in range(len(problem.before)):
        least = min(int(problem.setup[:, mode].min()) + problem.work[mode] for mode in problem.modes_of(act))
        bounds = bounds + least * (layer.done >> act & 1 == 0)
    by_promise = np.argsort(bounds, kind="stable")
    kept = np.sort(by_promise[:widest])
    return _Layer(layer.done[kept], layer.labels[:, kept]), int(bounds[by_promise[widest]])


def _traced(problem: Problem, layers: Sequence[_Layer], state: int) -> tuple[int, ...]:
    """Walk back from the end; of equally good ways, take the lowest state, then the highest act."""
    done, reached, modes = int(layers[-1].done[0]), int(layers[-1].labels[state, 0]), []
    for layer in reversed(layers[:-1]):
        mode, state, reached = _step_back(problem, layer, done, state, reached)
        done ^= 1 << problem.act_of[mode]
        modes.append(mode)
    return tuple(reversed(modes))


def _step_back(problem: Problem, layer: _Layer, done: int, state: int, reached: int) -> tuple[int, int, int]:
    """Return the last mode of a way to reach a label, and the state and label before it."""
    for act in reversed(range(len(problem.before))):
        earlier = done & ~(1 << act)
        column = int(np.searchsorted(layer.done, earlier))
        if earlier == done or column == len(layer.done) or layer.done[column] != earlier:
            continue
        labels = layer.labels[:, column]
        for mode in problem.modes_of(act):
            if problem.leads_to[mode] not in (KEEPS, state):
                continue
            fits = _ended(problem, labels[:, np.newaxis], mode)[:, 0] == reached
            if problem.leads_to[mode] == KEEPS:
                fits &= np.arange(len(fits)) == state
            if fits.any():
                before = int(fits.argmax())
                return mode, before, int(labels[before])
    raise AssertionError("a label that nothing leads to")
