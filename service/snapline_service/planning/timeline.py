"""The visit as steps with times: scans and alignment around the procedures, set-ups and waits between."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal, get_args

from snapline_service.planning.handling import Change, change
from snapline_service.planning.sequence import best_order, between_stages_min
from snapline_service.planning.values import Act, Handling, Mode, Standing, Wait, last

LeadIn = Literal["intake", "pre_scan", "wheel_alignment", "preparation"]
LeadOut = Literal["post_scan", "function_check", "road_test", "hand_over"]
StepKind = Literal[LeadIn, LeadOut, "set_up", "procedure", "wait"]

_AROUND = (*get_args(LeadIn), *get_args(LeadOut))


@dataclass(frozen=True, slots=True)
class Chore:
    """A step before or after all procedures; ``driven`` ones see the end of every wait first."""

    kind: LeadIn | LeadOut
    minutes: float
    people: int = 1
    driven: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the timeline; ``id`` is that of the act or of the wait, or the kind of a chore.

    ``changes`` are what is stood up, moved and taken away: before the act in a set-up, between the stages in
    a static procedure, whose end counts them in, and before a drive or the chores that end the visit.
    """

    kind: StepKind
    id: str
    start_min: float
    end_min: float
    people: int
    pose: str | None = None
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True)
class Schedule:
    """Steps that follow one another without a gap, and the waits that run beside them.

    A step of kind ``wait`` is time in which nothing is left to do but wait. ``people`` is how many are needed
    at once. ``proven`` says that no order of the procedures ends the visit earlier.
    """

    steps: tuple[Step, ...]
    waits: tuple[Wait, ...]
    total_min: float
    handling_min: float
    waited_min: float
    people: int
    proven: bool


def schedule(
    acts: Sequence[Act], handling: Handling, *, waits: Sequence[Wait] = (), chores: Iterable[Chore] = ()
) -> Schedule:
    """Plan a visit so that it ends as early as it can, chores in the fixed order of their kinds.

    Raises what ``best_order`` raises.
    """
    chores = sorted(chores, key=lambda chore: _AROUND.index(chore.kind))
    lead_in = [chore for chore in chores if chore.kind in get_args(LeadIn)]
    lead_out = chores[len(lead_in) :]
    visit = _Visit(waits, handling)
    for chore in lead_in:
        visit.chore(chore)
    order = best_order(acts, handling, waits=waits, start_min=visit.now_min)
    for act, mode in order.acts:
        visit.act(act, mode)
    for chore in lead_out:
        visit.chore(chore)
    steps = tuple(visit.steps)
    return Schedule(
        steps=steps,
        waits=tuple(waits),
        total_min=visit.now_min,
        handling_min=order.handling_min,
        waited_min=sum(step.end_min - step.start_min for step in steps if step.kind == "wait"),
        people=max((step.people for step in steps), default=0),
        proven=order.proven,
    )


@dataclass(slots=True)
class _Visit:
    """The visit as far as it is laid out."""

    waits: Sequence[Wait]
    handling: Handling
    now_min: float = 0.0
    standing: Standing | None = None
    steps: list[Step] = field(default_factory=list)

    def chore(self, chore: Chore) -> None:
        self._wait(last(self.waits) if chore.driven else None)
        self._step(chore.kind, chore.kind, chore.minutes, chore.people, changes=self._cleared())

    def act(self, act: Act, mode: Mode | None) -> None:
        if mode:
            self._set_up(act, mode.standings[0])
        self._wait(act.held_by(self.waits))
        if mode:
            between = tuple(change(*pair) for pair in pairwise(mode.standings))
            minutes = act.minutes + between_stages_min(mode, self.handling)
            self._step("procedure", act.id, minutes, act.people, pose=mode.pose, changes=between)
            self.standing = mode.standings[-1]
        else:
            changes = self._cleared() if act.method == "dynamic" else ()
            self._step("procedure", act.id, act.minutes, act.people, changes=changes)

    def _set_up(self, act: Act, wanted: Standing) -> None:
        todo = change(self.standing, wanted)
        if self.standing != wanted:
            self._step(
                "set_up", act.id, todo.minutes(self.handling), act.people, pose=wanted.pose, changes=(todo,)
            )

    def _cleared(self) -> tuple[Change, ...]:
        """Take away all that stands: the car cannot leave through it. Standing up counts the time."""
        standing, self.standing = self.standing, None
        return (change(standing, Standing(standing.pose, frozenset())),) if standing else ()

    def _wait(self, wait: Wait | None) -> None:
        if wait and wait.end_min > self.now_min:
            self._step("wait", wait.id, wait.end_min - self.now_min, 0)

    def _step(
        self,
        kind: StepKind,
        of: str,
        minutes: float,
        people: int,
        *,
        pose: str | None = None,
        changes: tuple[Change, ...] = (),
    ) -> None:
        end_min = self.now_min + minutes
        self.steps.append(Step(kind, of, self.now_min, end_min, people, pose, changes))
        self.now_min = end_min
