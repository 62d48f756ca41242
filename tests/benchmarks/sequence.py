"""The order of acts beside going on with whatever is nearest, and the cheapest remedies."""

import statistics
from random import Random

from benchmarks.measuring import alternate, own_us
from benchmarks.report import Limit, Report
from planning.visits import HANDLING, greedy, random_acts, times
from snapline_service.planning.remedies import Way, cheapest_remedies
from snapline_service.planning.sequence import best_order
from snapline_service.planning.values import Act

TWELVE_ACTS_MS = Limit(100)

_VISITS = 60


def measure(table: Report, rounds: int) -> None:
    """Add the CPU time of an order and of remedies, and the handling that the nearest-first order wastes."""
    acts = {
        f"{count} acts, {modes} modes each": _acts(count, modes)
        for count, modes in ((6, 2), (12, 3), (40, 2))
    }
    took_us = alternate(
        {name: own_us(lambda some=some: best_order(some, HANDLING), 3) for name, some in acts.items()},  # type: ignore[misc]
        rounds,
    )
    table.section("Order of the acts of a visit, and remedies")
    for name, us in took_us.items():
        table.add(name, us / 1000, "ms", TWELVE_ACTS_MS if name.startswith("12") else None)
    wasted = sorted(_wasted(seed) for seed in range(_VISITS))
    table.add("nearest first, handling wasted, median", statistics.median(wasted) * 100, "%")
    table.add("nearest first, handling wasted, p90", wasted[_VISITS * 9 // 10] * 100, "%")
    for requirements in (3, 12):
        ways, costs = _blocked(requirements)
        measure = own_us(lambda ways=ways, costs=costs: cheapest_remedies(ways, costs), 3)  # type: ignore[misc]
        measure()  # the solver is loaded when first used
        us = measure()
        table.add(f"remedies for {requirements} requirements", us / 1000, "ms", note=f"{len(costs)} remedies")


def _acts(count: int, modes: int, seed: int = 1) -> list[Act]:
    return random_acts(Random(seed), count, modes=modes, precedence=0, methods=("static",))


def _wasted(seed: int) -> float:
    acts = _acts(12, 3, seed)
    return times(greedy(acts))[1] / best_order(acts, HANDLING).handling_min - 1


def _blocked(requirements: int) -> tuple[dict[str, list[Way]], dict[str, float]]:
    """Ways lack fixtures, which other sites lend, some want the bay cleared, and anything can be sublet."""
    rng = Random(requirements)
    costs: dict[str, float] = {"clear-bay": 20}
    fixtures = []
    for number in range(2 * requirements):
        lenders = {f"fixture-{number}-from-{site}": rng.randint(20, 120) for site in range(rng.randint(1, 3))}
        costs |= lenders
        fixtures.append(frozenset(lenders))
    ways: dict[str, list[Way]] = {}
    for number in range(requirements):
        costs[f"sublet-{number}"] = 240
        own = [
            Way(
                f"way-{way}", tuple([*rng.sample(fixtures, 2), frozenset({"clear-bay"})][: rng.randint(1, 3)])
            )
            for way in range(2)
        ]
        ways[f"requirement-{number}"] = [*own, Way("sublet", (frozenset({f"sublet-{number}"}),))]
    return ways, costs
