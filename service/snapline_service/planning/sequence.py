"""The order of acts, with the mode of each, that ends first."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from snapline_service.errors import InvalidValue
from snapline_service.planning import search
from snapline_service.planning.handling import change
from snapline_service.planning.precedence import PrecedenceCycle, cycle
from snapline_service.planning.values import Act, Handling, Mode, Standing, Wait

EXACT_UP_TO_ACTS = 12
# Beyond that, how many labels (states × modes × sets) one step of the search may look at.
_LABELS_PER_STEP = 2_000_000
_TICKS_PER_MIN = 1000


@dataclass(frozen=True, slots=True)
class Order:
    """Acts in order, each with its mode if it is static.

    ``end_min`` is when the last is over; ``handling_min`` is the time in which fixtures and car are handled.
    ``proven`` says that no order ends earlier.
    """

    acts: tuple[tuple[Act, Mode | None], ...]
    end_min: float
    handling_min: float
    proven: bool


def best_order(
    acts: Sequence[Act],
    handling: Handling,
    *,
    waits: Sequence[Wait] = (),
    start_min: float = 0.0,
) -> Order:
    """Find the order that ends first; of those one with little handling, and then always the same.

    Exact up to twelve acts, and beyond that where ``proven``. Times are reckoned to a thousandth of a minute.
    Neither the order in which acts are given nor that of waits matters.

    Raises PrecedenceCycle when acts wait for one another, and InvalidValue when there are more acts than one
    visit is planned with or a static one has no mode.
    """
    acts = sorted(acts, key=lambda act: act.id)
    _check(acts)
    modes = [(number, mode) for number, act in enumerate(acts) for mode in _modes(act)]
    problem = _problem(acts, modes, handling, waits)
    solution = search.solve(
        problem,
        start=_ticks(start_min),
        widest=None if len(acts) <= EXACT_UP_TO_ACTS else max(50, _LABELS_PER_STEP // problem.setup.size),
    )
    return Order(
        acts=tuple((acts[modes[chosen][0]], modes[chosen][1]) for chosen in solution.modes),
        end_min=solution.end / _TICKS_PER_MIN,
        handling_min=solution.handling / _TICKS_PER_MIN,
        proven=solution.proven,
    )


def _check(acts: Sequence[Act]) -> None:
    if len(acts) > search.MOST_ACTS:
        detail = f"One visit is planned with at most {search.MOST_ACTS} procedures; this one has {len(acts)}."
        raise InvalidValue(detail, mend="Divide the operations among several visits.")
    for act in acts:
        if act.method == "static" and not act.modes:
            detail = f"'{act.id}' is static and there is no way to set it up."
            raise InvalidValue(detail, mend="Leave out what cannot be done here, or give it a mode.")
    if ring := cycle({act.id: act.after & {other.id for other in acts} for act in acts}):
        raise PrecedenceCycle(ring)


def _modes(act: Act) -> Iterable[Mode | None]:
    return act.modes if act.method == "static" else (None,)


def _problem(
    acts: Sequence[Act], modes: Sequence[tuple[int, Mode | None]], handling: Handling, waits: Sequence[Wait]
) -> search.Problem:
    """Translate into numbers. State 0: the car is in no bay, at the beginning as after a drive.

    The other states begin with what the last act leaves standing in its first mode: the search ends with the
    lowest of equally good ones, so that acts come in the order of their ids, drives last, in first modes.
    """
    states: dict[Standing | None, int] = {None: 0}
    for mode in (mode for act in reversed(acts) for mode in _modes(act)):
        if mode:
            states.setdefault(mode.standings[-1], len(states))
    held = [act.held_by(waits) for act in acts]
    bits = {act.id: 1 << number for number, act in enumerate(acts)}
    work, setup = [], np.zeros((len(states), len(modes)), np.int64)
    for column, (number, mode) in enumerate(modes):
        between = _label(between_stages_min(mode, handling)) if mode else 0
        work.append(search.label(_ticks(acts[number].minutes)) + between)
        if mode:
            first = mode.standings[0]
            setup[:, column] = [_label(change(standing, first).minutes(handling)) for standing in states]
    return search.Problem(
        before=[sum(bits.get(earlier, 0) for earlier in act.after) for act in acts],
        not_before=[_ticks(wait.end_min) if wait else 0 for wait in held],
        act_of=[number for number, _ in modes],
        leads_to=[_leads_to(acts[number], mode, states) for number, mode in modes],
        work=work,
        setup=setup,
    )


def between_stages_min(mode: Mode, handling: Handling) -> float:
    """Return the handling minutes from each stage of a mode to its next."""
    return sum(change(*pair).minutes(handling) for pair in pairwise(mode.standings))


def _leads_to(act: Act, mode: Mode | None, states: dict[Standing | None, int]) -> int:
    if mode:
        return states[mode.standings[-1]]
    return states[None] if act.method == "dynamic" else search.KEEPS


def _label(handling_min: float) -> int:
    return search.label(_ticks(handling_min), _ticks(handling_min))


def _ticks(minutes: float) -> int:
    return max(0, round(minutes * _TICKS_PER_MIN))
