"""The order of a visit at one site, as steps with clock times."""

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from snapline.wire.catalogue import Procedure
from snapline.wire.visits import PlannedPose, StepMinutes, UsedAsset, VisitStep
from snapline_service.planning.handling import Change
from snapline_service.planning.timeline import Chore, Schedule, Step, schedule
from snapline_service.planning.values import Act, Handling, Item, Mode, Wait

CURE = "adhesive_cure"
_WORDS = {
    "intake": "Take the car in: ask about changes, read the odometer, note faults shown.",
    "pre_scan": "Read out all control units, if no scan was kept from before the repair.",
    "wheel_alignment": (
        "Set tyre pressures and load, then check wheel alignment and bring it into specification: "
        "aiming refers to it."
    ),
    "preparation": "Prepare car and bay by the list.",
    "post_scan": "Read out all control units after work.",
    "function_check": "Check that each function is available and shows no fault.",
    "hand_over": "Tell the customer what was done and hand over.",
}


class Work(Struct, frozen=True):
    """What is to be put in order: procedures, where each stands, its assets, and what comes before it."""

    procedures: Sequence[Procedure]
    after: Mapping[str, frozenset[str]]
    poses: Sequence[PlannedPose]
    assets: Sequence[UsedAsset]
    spots: Mapping[tuple[str, str], str]
    conditional: frozenset[str]
    cure_min: float


def in_order(work: Work, minutes: StepMinutes) -> Schedule:
    """Return the schedule that ends first. Raises PrecedenceCycle, InvalidValue."""
    waits = [Wait(CURE, work.cure_min)] if work.cure_min else []
    acts = [_act(procedure, work) for procedure in work.procedures]
    handling = Handling(
        line_up_min=minutes.line_up_vehicle,
        stand_up_min=minutes.stand_up_fixture,
        swap_min=minutes.swap_fixture,
        shift_min=minutes.shift_fixture,
    )
    return schedule(acts, handling, waits=waits, chores=list(_chores(work, minutes)))


def steps_of(found: Schedule, work: Work, start: str) -> tuple[VisitStep, ...]:
    """Return the schedule's steps in words, on the clock."""
    return tuple(_step(step, work, _minutes_of(start)) for step in found.steps)


def clock(start: str, after_min: float) -> str:
    """Return the local time so many minutes after a start."""
    return _clock(_minutes_of(start) + after_min)


def _act(procedure: Procedure, work: Work) -> Act:
    return Act(
        id=procedure.id,
        method=procedure.method,  # type: ignore[arg-type] # the catalogue's check knows the three methods
        minutes=procedure.duration_min,
        people=procedure.people,
        after=work.after.get(procedure.id, frozenset()),
        waits=frozenset([CURE]) if CURE in procedure.after_steps else frozenset(),
        modes=tuple(_modes(procedure, work)) if procedure.method == "static" else (),
    )


def _modes(procedure: Procedure, work: Work) -> Iterable[Mode]:
    stages = tuple(_items(procedure.id, stage.id, work) for stage in procedure.stages)
    for number, pose in enumerate(work.poses):
        if procedure.id in pose.procedures:
            yield Mode(str(number), stages)


def _items(procedure: str, stage: str, work: Work) -> frozenset[Item]:
    here = [one for one in work.assets if (one.procedure, one.stage) == (procedure, stage)]
    carriers = {one.placement: one.asset for one in here if one.role == "carrier"}
    return frozenset(
        Item(one.asset, work.spots[procedure, one.placement], carriers.get(one.placement))
        for one in here
        if one.role == "fixture"
    )


def _chores(work: Work, minutes: StepMinutes) -> Iterable[Chore]:
    yield Chore("intake", minutes.intake)
    yield Chore("pre_scan", minutes.pre_scan)
    if any("wheel_alignment" in procedure.after_steps for procedure in work.procedures):
        yield Chore("wheel_alignment", minutes.wheel_alignment)
    yield Chore("preparation", minutes.preparation)
    yield Chore("post_scan", minutes.post_scan)
    yield Chore("function_check", minutes.function_check)
    # The customer drives off: not before the adhesive holds.
    yield Chore("hand_over", minutes.hand_over, driven=True)


def _step(step: Step, work: Work, start: float) -> VisitStep:
    procedure = next((one for one in work.procedures if one.id == step.id), None)
    stood_up = [item for change in step.changes for item in (*change.stood_up, *change.swapped)]
    moved = [item for change in step.changes for item in change.shifted]
    return VisitStep(
        kind=step.kind,
        text=_text(step, procedure, work),
        procedure=procedure.id if procedure else None,
        method=procedure.method if procedure else None,
        starts_at=_clock(start + step.start_min),
        ends_at=_clock(start + step.end_min),
        start_min=step.start_min,
        end_min=step.end_min,
        people=step.people,
        pose=int(step.pose) if step.pose is not None else None,
        stand_up=_assets(stood_up),
        move=_assets(moved),
        take_away=tuple(dict.fromkeys(name for change in step.changes for name in _gone(change))),
        conditional=bool(procedure and procedure.id in work.conditional),
    )


def _text(step: Step, procedure: Procedure | None, work: Work) -> str:
    if step.kind == "wait":
        return "Wait until the windscreen adhesive has cured."
    if step.kind == "pre_scan" and any(_wants_battery_support(one) for one in work.procedures):
        return f"Connect the battery support. {_WORDS[step.kind]}"
    if procedure is None:
        return _WORDS[step.kind]
    if step.kind != "set_up":
        return procedure.name
    pose = work.poses[int(step.pose or 0)]
    lined_up = any(change.lined_up for change in step.changes)
    return f"{'Line the car up' if lined_up else 'Set up'} in {pose.bay_name} for: {procedure.name}"


def _wants_battery_support(procedure: Procedure) -> bool:
    return any(one.item == "battery_support" for one in procedure.preparation)


def _gone(change: Change) -> list[str]:
    """Return the assets that leave: a stand that takes the next fixture stays."""
    stays = _assets((*change.stood_up, *change.swapped, *change.shifted, *change.kept))
    return [name for name in _assets(change.taken_away) if name not in stays]


def _assets(items: Iterable[Item]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for item in items for name in (item.asset, item.carrier) if name))


def _minutes_of(clock_time: str) -> float:
    hours, _, minutes = clock_time.partition(":")
    return int(hours) * 60 + int(minutes)


def _clock(minutes: float) -> str:
    whole = round(minutes) % (24 * 60)
    return f"{whole // 60:02d}:{whole % 60:02d}"
