"""Visits drawn at random, and the rules of time written out a second time, step by step."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import permutations, product
from random import Random

from snapline_service.planning.values import Act, Handling, Item, Mode, Wait

HANDLING = Handling(line_up_min=12, stand_up_min=8, swap_min=5, shift_min=3)
Plan = Sequence[tuple[Act, Mode | None]]


def random_items(rng: Random) -> frozenset[Item]:
    """One or two of few fixtures, so that visits share them; two never share a carrier."""
    assets = rng.sample(("board", "chequer", "reflector", "mat"), rng.randint(1, 2))
    carriers = rng.sample(("stand 1", "stand 2", None, None), len(assets))
    return frozenset(
        Item(asset, f"spot {rng.randint(1, 2)}", carrier)
        for asset, carrier in zip(assets, carriers, strict=True)
    )


def random_mode(rng: Random) -> Mode:
    stages = tuple(random_items(rng) for _ in range(rng.choice((1, 1, 2))))
    return Mode(f"pose {rng.randint(1, 2)}", stages)


def random_acts(
    rng: Random,
    count: int,
    *,
    modes: int = 2,
    waits: Sequence[Wait] = (),
    precedence: float = 0.2,
    methods: Sequence[str] = ("static", "static", "static", "dynamic", "scan_tool"),
) -> list[Act]:
    """Acts whose precedence has no ring, because each follows only earlier ones."""
    acts: list[Act] = []
    names = [f"act-{number:02}" for number in range(count)]
    rng.shuffle(names)
    for name in names:
        method = rng.choice(methods)
        acts.append(
            Act(
                id=name,
                method=method,  # type: ignore[arg-type]
                minutes=rng.randint(5, 40),
                people=2 if method == "dynamic" else 1,
                after=frozenset(act.id for act in acts if rng.random() < precedence),
                waits=frozenset(wait.id for wait in waits if rng.random() < 0.4),
                modes=tuple(random_mode(rng) for _ in range(modes)) if method == "static" else (),
            )
        )
    rng.shuffle(acts)
    return acts


def every_plan(acts: Sequence[Act]) -> Iterator[Plan]:
    """Every order that precedence allows, with every choice of modes."""
    for order in permutations(acts):
        seen: set[str] = set()
        for act in order:
            if act.after - seen:
                break
            seen.add(act.id)
        else:
            for modes in product(*(act.modes or (None,) for act in order)):
                yield tuple(zip(order, modes, strict=True))


@dataclass(frozen=True)
class Moment:
    """How far a visit has come."""

    now_min: float
    handled_min: float = 0.0
    pose: str | None = None
    standing: frozenset[Item] = frozenset()

    def after(self, act: Act, mode: Mode | None, waits: Sequence[Wait]) -> "Moment":
        """One act later."""
        now_min, handled_min, pose, standing = self.now_min, self.handled_min, self.pose, self.standing
        held = [wait.end_min for wait in waits if act.method == "dynamic" or wait.id in act.waits]
        if mode is None:
            left = (None, frozenset[Item]()) if act.method == "dynamic" else (pose, standing)
            return Moment(max([now_min, *held]) + act.minutes, handled_min, *left)
        for number, items in enumerate(mode.stages):
            minutes = 0.0 if pose == mode.pose else HANDLING.line_up_min
            minutes += sum(_minutes(item, standing, moved=pose != mode.pose) for item in items)
            pose, standing = mode.pose, items
            now_min, handled_min = now_min + minutes, handled_min + minutes
            if number == 0:
                now_min = max([now_min, *held])
        return Moment(now_min + act.minutes, handled_min, pose, standing)


def times(plan: Plan, waits: Sequence[Wait] = (), start_min: float = 0.0) -> tuple[float, float]:
    """When a plan is over and how much of that was handling."""
    moment = Moment(start_min)
    for act, mode in plan:
        moment = moment.after(act, mode, waits)
    return moment.now_min, moment.handled_min


def earliest_end_min(acts: Sequence[Act], waits: Sequence[Wait]) -> float:
    """The earliest end of all plans, by going on from every moment that can be reached, whatever its time."""

    @cache
    def best(done: frozenset[str], moment: Moment) -> float:
        left = [act for act in acts if act.id not in done]
        ends = [
            best(done | {act.id}, replace(moment.after(act, mode, waits), handled_min=0.0))
            for act in left
            if act.after <= done
            for mode in act.modes or (None,)
        ]
        return min(ends) if left else moment.now_min

    return best(frozenset(), Moment(0.0))


def greedy(acts: Sequence[Act], waits: Sequence[Wait] = ()) -> Plan:
    """Go on with whatever is over soonest for the minutes of its own that it takes, then by id."""
    plan: list[tuple[Act, Mode | None]] = []
    left = sorted(acts, key=lambda act: act.id)
    while left:
        missing = {act.id for act in left}
        allowed = [(act, mode) for act in left if not act.after & missing for mode in act.modes or (None,)]
        plan.append(min(allowed, key=lambda step: times([*plan, step], waits)[0] - step[0].minutes))
        left.remove(plan[-1][0])
    return plan


def _minutes(item: Item, standing: frozenset[Item], *, moved: bool) -> float:
    if item in standing and not moved:
        return 0.0
    if any(other.asset == item.asset and other.carrier == item.carrier for other in standing):
        return HANDLING.shift_min
    if item.carrier and any(other.carrier == item.carrier for other in standing):
        return HANDLING.swap_min
    return HANDLING.stand_up_min
