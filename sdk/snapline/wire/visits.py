"""Visits: what a repair calls for, whether a site can do it, where, with what, in which order."""

from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from snapline.wire.catalogue import DriveConditions
from snapline.wire.common import BayPose, Caution, Day, Id, Label, Source, SourceRef, Text, Uncertainty, Wire
from snapline.wire.problems import Problem
from snapline.wire.scope import (
    Answers,
    AnswersPatch,
    ChangesOfCar,
    ChangesOfCarPatch,
    OptionsFitted,
    OptionsFittedPatch,
    RepairLines,
    Scope,
)
from snapline.wire.setups import Paper
from snapline.wire.vehicles import BuildCodeText, PageSize, PageToken
from snapline.wire.vocabulary import FixtureKind, Match, Method, PreparationItemName, PreparationType

_WORD = r"^[a-z][a-z0-9_]*$"
OUTCOMES = ("can", "conditional", "cannot")
BLOCKERS = (
    "no_fixture",
    "out_of_service",
    "check_overdue",
    "promised",
    "too_few",
    "no_room",
    "light",
    "floor",
    "no_daylight",
    "missing_dimension",
    "refer_to_maker",
    "contradiction",
    "no_way",
)
REMEDIES = (
    "bring_asset",
    "check_asset",
    "clear_obstacle",
    "mend_light",
    "measure",
    "other_site",
    "sublet",
)
STEPS = (
    "intake",
    "pre_scan",
    "wheel_alignment",
    "preparation",
    "set_up",
    "procedure",
    "wait",
    "post_scan",
    "function_check",
    "hand_over",
)
VERDICTS = ("met", "not_met", "unknown")


def _open(*words: str) -> dict[str, object]:
    return {"x-extensible-enum": list(words)}


Outcome = Annotated[
    str,
    Meta(
        pattern=_WORD,
        description="can; conditional, where an open question decides; cannot, with what blocks it.",
        extra_json_schema=_open(*OUTCOMES),
    ),
]
BlockerKind = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_open(*BLOCKERS))]
RemedyKind = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_open(*REMEDIES))]
VisitStepKind = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_open(*STEPS))]
LimitVerdict = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_open(*VERDICTS))]
ClockTime = Annotated[str, Meta(pattern=r"^([01]\d|2[0-3]):[0-5]\d$", description="Local time, HH:MM.")]
Minutes = Annotated[float, Meta(ge=0, le=10080)]


class StepMinutes(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What the group reckons for steps that no catalogue states. Defaults: common practice, no source."""

    intake: Minutes = 10
    pre_scan: Minutes = 10
    wheel_alignment: Minutes = 60
    preparation: Minutes = 10
    line_up_vehicle: Minutes = 10
    stand_up_fixture: Minutes = 8
    swap_fixture: Minutes = 5
    shift_fixture: Minutes = 4
    post_scan: Minutes = 10
    function_check: Minutes = 10
    hand_over: Minutes = 5


class RemedyEffort(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How the group weighs remedies against each other, in minutes of somebody's time; never a price."""

    bring_asset: Minutes = 60
    check_asset: Minutes = 60
    clear_obstacle: Minutes = 20
    mend_light: Minutes = 45
    measure: Minutes = 15
    other_site: Minutes = 240
    sublet: Minutes = 480


class VisitRequest(Wire, frozen=True, kw_only=True):
    """A vehicle, its repair lines, and where and when. Without ``sites`` every site of the group is tried.

    ``options``, ``build_codes`` and ``answers`` say what is fitted and reply to the plan's questions;
    ``changes`` says how the car differs from as built. ``prefer`` chooses an alternative by requirement.
    What is only conditional is planned too, and marked, unless ``plan_conditional`` is false.
    ``cure_left_min`` is what is left of the adhesive's cure at the start, if it is less than the whole.
    ``road_heading_deg``, clockwise from north, is the way the drive mostly goes: low sun ahead dazzles.
    """

    vehicle_id: Id
    operations: RepairLines
    date: Day
    start: ClockTime = "08:00"
    sites: Annotated[tuple[Id, ...], Meta(max_length=100)] = ()
    options: OptionsFitted = {}
    build_codes: Annotated[tuple[BuildCodeText, ...], Meta(max_length=200)] = ()
    answers: Answers = {}
    changes: ChangesOfCar = {}
    prefer: Annotated[dict[Id, Id], Meta(max_length=100)] = {}
    by_property: bool = False
    plan_conditional: bool = True
    measured: Annotated[dict[str, Annotated[float, Meta(ge=-1e6, le=1e6)]], Meta(max_length=200)] = {}
    standard_uncertainty: Annotated[dict[str, Uncertainty], Meta(max_length=200)] = {}
    cure_left_min: Minutes | None = None
    road_heading_deg: Annotated[float, Meta(ge=0, le=360)] | None = None
    paper: Paper = "a4"
    minutes: StepMinutes = StepMinutes()
    effort: RemedyEffort = RemedyEffort()


class Blocker(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Why something cannot be done here. ``subject`` is the fixture, asset, bay or dimension at fault."""

    kind: BlockerKind
    text: Text
    subject: str | None
    procedure: Id | None


class RejectedWay(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """An alternative that is not taken, and what blocks it: nothing, if one before it is possible."""

    alternative: Id
    name: Label
    because: Text
    blockers: tuple[Blocker, ...]


class ChosenWay(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How one requirement is met at a site; null where no alternative is possible."""

    system: Id
    requirement: Id
    conditional: bool
    alternative: Id | None
    name: Label | None
    because: Text
    procedures: tuple[Id, ...]
    rejected: tuple[RejectedWay, ...]


class UsedAsset(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One physical fixture at one placement of a procedure."""

    procedure: Id
    stage: Id
    placement: Id
    role: Annotated[str, Meta(description="fixture or carrier.")]
    asset: Id
    serial: Label
    fixture: Id
    fixture_name: Label
    fixture_kind: FixtureKind
    match: Match


class PlannedDistance(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The distance chosen for a placement inside the source's range, because the bay needs it."""

    procedure: Id
    placement: Id
    along_distance_mm: float


class PlannedPose(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Where the vehicle stands for some procedures, and the least distance that is left to anything.

    ``distances`` are those that differ from the source's own.
    """

    bay: Id
    bay_name: Label
    pose: BayPose
    margin_mm: float
    procedures: tuple[Id, ...]
    distances: tuple[PlannedDistance, ...]


class WallShortfall(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """How much further out one wall would have to be, and because of what."""

    wall: int
    text: Text
    missing_mm: float
    procedure: Id
    part: Label


class BayTried(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One bay of the site with what it serves, and what it lacks for what no bay of the site serves."""

    bay: Id
    name: Label
    serves: tuple[Id, ...]
    lacks: tuple[Blocker, ...]
    shortfall: tuple[WallShortfall, ...]
    obstacles_to_clear: tuple[Label, ...]


class LimitCheck(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A preparation limit held against a bay's stored survey."""

    bay: Id
    procedure: Id
    item: PreparationItemName
    verdict: LimitVerdict
    text: Text
    source: SourceRef


class VisitStep(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One step in its place on the day. ``pose`` counts in ``poses``, from 0.

    ``stand_up`` are assets to fetch and set out, ``move`` those that stand and are set out anew,
    ``take_away`` those that are no longer needed. Past midnight the clock of ``starts_at`` and ``ends_at``
    begins anew; ``start_min`` and ``end_min`` count on from the visit's start, whatever the day.
    """

    kind: VisitStepKind
    text: Text
    procedure: Id | None
    method: Method | None
    starts_at: ClockTime
    ends_at: ClockTime
    start_min: float
    end_min: float
    people: int
    pose: int | None
    stand_up: tuple[Id, ...]
    move: tuple[Id, ...]
    take_away: tuple[Id, ...]
    conditional: bool


class DayWindow(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A span of time, RFC 3339 with offset."""

    start: str
    end: str


class PlannedDrive(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """When and how an on-road part is driven. ``windows`` is null where the catalogue limits no light."""

    procedure: Id
    conditions: DriveConditions
    windows: tuple[DayWindow, ...] | None
    starts_at: ClockTime
    inside_window: bool | None
    text: Text


class Remedy(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One thing that would unblock something, with the effort that the request reckons for it.

    ``instead`` tells of others that take no more effort and would do in its place. An ``other_site`` of the
    group does it, where this one would need more; ``sublet`` is told only where none of the group can.
    """

    kind: RemedyKind
    text: Text
    subject: str
    from_site: Id | None
    effort_min: float
    instead: tuple[Text, ...] = ()


class SitePlan(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What one site can do of it on the day. ``remedies`` is the cheapest set that would make it possible.

    ``order_proven`` says that no other order takes less time. ``cure_min`` is how long after the start the
    adhesive still cures.
    """

    site: Id
    name: Label
    outcome: Outcome
    ways: tuple[ChosenWay, ...]
    assets: tuple[UsedAsset, ...]
    poses: tuple[PlannedPose, ...]
    bays: tuple[BayTried, ...]
    limits: tuple[LimitCheck, ...]
    steps: tuple[VisitStep, ...]
    total_min: float
    people: int
    order_proven: bool
    drives: tuple[PlannedDrive, ...]
    cure_min: float = 0.0
    blockers: tuple[Blocker, ...]
    remedies: tuple[Remedy, ...]
    remedies_effort_min: float | None


class MergedPreparation(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A preparation item once, with the procedures that ask for it."""

    type: PreparationType
    item: PreparationItemName
    text: Text
    minimum: float | None
    maximum: float | None
    unit: str | None
    feeds: str | None
    stops_work: bool
    procedures: tuple[Id, ...]
    sources: tuple[SourceRef, ...]


class QuoteLine(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A line that shop-management software can take over. Nothing is priced here."""

    code: Label
    text: Label
    minutes: float
    procedure: Id | None
    fixtures: tuple[Id, ...]
    conditional: bool


class VisitPlan(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The visit planned at every site that was asked for, the best first. ``site`` is the best that can."""

    vehicle_id: Id
    vehicle_name: str
    date: Day
    outcome: Outcome
    outcome_because: Text
    site: Id | None
    scope: Scope
    sites: tuple[SitePlan, ...]
    preparation: tuple[MergedPreparation, ...]
    quote_lines: tuple[QuoteLine, ...]
    unchecked: tuple[str, ...]
    assumed: tuple[str, ...]
    invented: bool
    catalogue_revision: int
    sources: tuple[Source, ...]
    cautions: tuple[Caution, ...]


VISIT_STATES = ("planned", "in_work", "closed", "cancelled")
VisitState = Annotated[str, Meta(pattern=_WORD, extra_json_schema=_open(*VISIT_STATES))]
VisitId = Annotated[str, Meta(pattern=r"^vis_[0-9a-f]{32}$")]


class KeepVisit(Wire, frozen=True, kw_only=True):
    """A visit to plan and keep at one site, the best that can if none is named.

    ``reference`` is your own name for the job. Never put a VIN or a person's name into it.
    """

    request: VisitRequest
    site: Id | None = None
    reference: Label | None = None


class Visit(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A kept visit. Its plan has one site; the assets of that plan are promised to it on its day.

    One that runs past midnight has them on each day that it takes.
    """

    id: VisitId
    state: VisitState
    reference: Label | None
    site: Id
    date: Day
    vehicle_id: Id
    catalogue_revision: int
    promised: tuple[Id, ...]
    request: VisitRequest
    plan: VisitPlan
    created_at: str
    updated_at: str
    updated_by: str


class VisitSummary(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A kept visit in a list."""

    id: VisitId
    state: VisitState
    reference: Label | None
    site: Id
    date: Day
    vehicle_id: Id
    catalogue_revision: int


class VisitQuery(Wire, frozen=True, kw_only=True):
    """Filters of the list of kept visits. ``asset`` finds those that it is promised to."""

    date: Day | None = None
    site: Id | None = None
    state: VisitState | None = None
    asset: Id | None = None
    page_size: PageSize = 50
    page_token: PageToken | None = None


class VisitPage(Wire, frozen=True, kw_only=True):
    """One page of kept visits, in the order in which they were kept."""

    items: tuple[VisitSummary, ...]
    next_page_token: str | None = None


class VisitPatch(Wire, frozen=True, kw_only=True):
    """What changes in a kept visit (RFC 7396). Anything but state and reference plans it anew.

    ``operations`` are replaced as a whole; null takes all ``options``, ``answers`` or ``changes`` out.
    A visit goes from planned to in_work to closed, and from the first two to cancelled.
    """

    state: VisitState | UnsetType = UNSET
    reference: Label | UnsetType | None = UNSET
    site: Id | UnsetType = UNSET
    date: Day | UnsetType = UNSET
    start: ClockTime | UnsetType = UNSET
    operations: RepairLines | UnsetType = UNSET
    options: OptionsFittedPatch | UnsetType | None = UNSET
    answers: AnswersPatch | UnsetType | None = UNSET
    changes: ChangesOfCarPatch | UnsetType | None = UNSET
    cure_left_min: Minutes | UnsetType | None = UNSET


class PlanDifference(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One thing that a new plan has otherwise than the kept one."""

    what: Annotated[str, Meta(description="outcome, scope, alternative, bay, asset, step, time or revision.")]
    text: Text
    before: str | None
    after: str | None


class ReplannedVisit(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A visit planned anew on the catalogue and the assets of now, and what differs from before."""

    visit: Visit
    differences: tuple[PlanDifference, ...]


class BulkLine(Wire, frozen=True, kw_only=True):
    """One answer of a bulk plan: a plan or a problem, for the line of that number, counted from 1."""

    line: int
    plan: VisitPlan | None = None
    problem: Problem | None = None
