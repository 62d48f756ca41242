"""The order found against every order there is, and against published optima."""

from itertools import pairwise
from random import Random

import numpy as np
import pytest

from planning.visits import HANDLING, earliest_end_min, every_plan, greedy, random_acts, times
from published import published
from snapline_service.planning import search
from snapline_service.planning.sequence import best_order
from snapline_service.planning.values import Wait

CURE = Wait("adhesive_cure", end_min=75)
SEALER = Wait("sealer", end_min=110)


@pytest.mark.parametrize("seed", range(240))
def test_no_order_with_any_modes_ends_earlier_or_handles_less(seed: int) -> None:
    rng = Random(seed)
    waits = [CURE] if seed % 3 else []
    acts = random_acts(rng, rng.randint(1, 5), modes=rng.randint(1, 2), waits=waits)
    order = best_order(acts, HANDLING, waits=waits, start_min=15)
    assert times(order.acts, waits, 15) == (order.end_min, order.handling_min)
    assert (order.end_min, order.handling_min) == min(times(plan, waits, 15) for plan in every_plan(acts))
    assert order.proven


@pytest.mark.parametrize("seed", range(120))
def test_no_order_ends_earlier_with_several_waits(seed: int) -> None:
    rng = Random(seed)
    waits = [CURE, SEALER]
    acts = random_acts(rng, rng.randint(2, 5), waits=waits)
    order = best_order(acts, HANDLING, waits=waits)
    assert times(order.acts, waits) == (order.end_min, order.handling_min)
    assert order.end_min == min(times(plan, waits)[0] for plan in every_plan(acts))


@pytest.mark.parametrize("seed", range(30))
def test_being_done_earlier_never_ends_later(seed: int) -> None:
    # Why the earliest time alone is kept of each moment: here every time that can be reached is followed up.
    waits = [CURE, SEALER]
    acts = random_acts(Random(seed), 7, waits=waits, precedence=0.3)
    assert best_order(acts, HANDLING, waits=waits).end_min == earliest_end_min(acts, waits)


@pytest.mark.parametrize("seed", range(40))
def test_orders_keep_precedence_and_do_everything_once(seed: int) -> None:
    acts = random_acts(Random(seed), 9, modes=3, precedence=0.15)
    done: list[str] = []
    for act, mode in best_order(acts, HANDLING).acts:
        assert act.after <= set(done)
        assert (mode in act.modes) if act.method == "static" else mode is None
        done.append(act.id)
    assert sorted(done) == sorted(act.id for act in acts)


@pytest.mark.parametrize("seed", range(3))
def test_forty_acts_are_put_in_a_good_order_that_is_not_called_proven(seed: int) -> None:
    acts = random_acts(Random(seed), 40, waits=[CURE], precedence=0.02)
    order = best_order(acts, HANDLING, waits=[CURE])
    assert sorted(act.id for act, _ in order.acts) == sorted(act.id for act in acts)
    assert times(order.acts, [CURE]) == (order.end_min, order.handling_min)
    assert order.end_min < times(greedy(acts, [CURE]), [CURE])[0]
    assert not order.proven


@pytest.mark.parametrize("seed", range(60))
def test_an_order_from_a_narrow_search_is_called_proven_only_if_it_is_best(seed: int) -> None:
    rng = np.random.default_rng(seed)
    cost = rng.integers(1, 60, (10, 10))
    cost[np.tril(rng.random((10, 10)) < 0.15, -1)] = -1
    best, narrow = search.solve(_as_problem(cost)), search.solve(_as_problem(cost), widest=12)
    assert narrow.end >= best.end
    assert narrow.end == best.end or not narrow.proven


# TSPLIB, sequential ordering problems: G. Reinelt, ORSA J. Computing 3(4), 1991.
@pytest.mark.parametrize(("name", "optimum"), [("ESC07", 2125), ("ESC11", 2075), ("br17.10", 55)])
def test_published_optima_of_sequential_ordering(name: str, optimum: int) -> None:
    numbers = published(f"sop/{name}.sop").read_text().split("EDGE_WEIGHT_SECTION")[1].split("EOF")[0].split()
    size = int(numbers[0])
    cost = np.array(numbers[1:], np.int64).reshape(size, size)
    solution = search.solve(_as_problem(cost))
    path = [0, *(mode + 1 for mode in solution.modes)]
    assert sum(int(cost[pair]) for pair in pairwise(path)) == solution.end == optimum
    assert all(cost[later, earlier] != -1 for k, later in enumerate(path) for earlier in path[k + 1 :])


def _as_problem(cost: search.Labels) -> search.Problem:
    """Nodes but the first are acts of one mode each; what stands is the node last visited.

    -1 at (i, j) says that j is visited before i.
    """
    acts = range(1, len(cost))
    return search.Problem(
        before=[sum(1 << j - 1 for j in acts if cost[i, j] == -1) for i in acts],
        not_before=[0 for _ in acts],
        act_of=[i - 1 for i in acts],
        leads_to=list(acts),
        work=[0 for _ in acts],
        setup=np.maximum(cost[:, 1:], 0) * search.label(1),
    )
