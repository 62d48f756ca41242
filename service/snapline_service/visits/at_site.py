"""A visit at one site: what stops each procedure, which alternatives are taken, where, in which order."""

from collections.abc import Mapping, Sequence

from msgspec import Struct

from snapline.wire.sites import SiteDocument
from snapline.wire.visits import BayTried, Blocker, ChosenWay, PlannedDrive, SitePlan, UsedAsset
from snapline_service.planning.choice import Choice
from snapline_service.planning.precedence import PrecedenceCycle
from snapline_service.planning.timeline import Schedule
from snapline_service.visits import choices, driving, ordering, rooms
from snapline_service.visits.job import Job
from snapline_service.visits.mending import Lender, Mending
from snapline_service.visits.ordering import Work
from snapline_service.visits.reserving import reservation
from snapline_service.visits.stock import Lack, Stock


class Here(Struct, frozen=True):
    """A site as it is on the day of the visit, and what the group's other sites could lend."""

    site: SiteDocument
    stock: Stock
    lenders: Sequence[Lender]


class _Found(Struct, frozen=True):
    """What each procedure has at a site: its assets, what it lacks, and the bays that were tried."""

    assets: Mapping[str, list[UsedAsset]]
    lacks: Mapping[str, list[Lack]]
    needed: Mapping[str, rooms.Needed]
    rooms: Sequence[rooms.Room]
    tried: Sequence[BayTried]


class Outlook(Struct, frozen=True):
    """What a site has for a visit, and the ways that it would take."""

    here: Here
    found: _Found
    choice: Choice
    ways: tuple[ChosenWay, ...]

    @property
    def unmet(self) -> frozenset[str]:
        """The requirements of which every alternative is blocked."""
        return frozenset(way.requirement for way in self.ways if way.alternative is None)


Able = Mapping[str, Sequence[SiteDocument]]


def outlook_at(job: Job, here: Here) -> Outlook:
    """Look at what a site has for a visit."""
    found = _look_around(job, here)
    return Outlook(here, found, *choices.choose(job.needs, found.lacks, job.request.prefer, job.procedures))


def plan_at(job: Job, outlook: Outlook, able: Able) -> SitePlan:
    """Plan the visit at one site. ``able`` are the sites that meet what some site does not."""
    here, found, choice, ways = outlook.here, outlook.found, outlook.choice, outlook.ways
    names = dict.fromkeys(name for way in ways for name in way.procedures)
    taken = [job.procedures[name] for name in names]
    standing = [found.needed[procedure.id] for procedure in taken if procedure.method == "static"]
    work = Work(
        procedures=taken,
        after=choice.after,
        poses=rooms.fewest_poses(found.rooms, standing),
        assets=[one for procedure in taken for one in found.assets[procedure.id]],
        spots=job.spots(),
        conditional=frozenset(names) - {one for way in ways if not way.conditional for one in way.procedures},
        cure_min=job.cure_min(),
    )
    schedule = _schedule(work, job)
    steps = ordering.steps_of(schedule, work, job.request.start) if schedule else ()
    drives = driving.drives(steps, taken, here.site, job.request)
    unmet = [need for need in job.needs if need.requirement.id in outlook.unmet]
    mending = Mending(here.stock, here.lenders, job.request.effort, able)
    remedies, effort_min = mending.cheapest(unmet, found.lacks) if unmet else ((), None)
    return SitePlan(
        site=here.site.id,
        name=here.site.name,
        outcome=_outcome(ways, drives, reserved=bool(reservation(job.scope) or job.alignment_first(taken))),
        ways=ways,
        assets=tuple(work.assets),
        poses=tuple(work.poses),
        bays=tuple(found.tried),
        limits=tuple(one for room in found.rooms for one in room.limits if one.procedure in names),
        steps=steps,
        total_min=schedule.total_min if schedule else 0.0,
        people=schedule.people if schedule else 0,
        order_proven=schedule.proven if schedule else False,
        drives=drives,
        cure_min=work.cure_min,
        blockers=tuple(_blockers(ways)),
        remedies=remedies,
        remedies_effort_min=effort_min,
    )


def _look_around(job: Job, here: Here) -> _Found:
    """Find for every procedure the assets and the room, or what it lacks."""
    assets: dict[str, list[UsedAsset]] = {}
    lacks: dict[str, list[Lack]] = {}
    for name, procedure in job.procedures.items():
        assets[name], lacking = here.stock.assign(procedure)
        lacks[name] = [*job.stopped[name], *lacking, *driving.too_dark(procedure, here.site, job.request)]
    needed = {
        name: rooms.Needed(
            procedure,
            job.room_for(procedure, assets[name], slack=False),
            job.room_for(procedure, assets[name], slack=True),
        )
        for name, procedure in job.procedures.items()
        if procedure.method == "static" and not job.stopped[name]
    }
    tried = [rooms.try_bay(bay, list(needed.values())) for bay in here.site.bays]
    short = rooms.shortcomings(tried, list(needed.values()))
    for name, found in short.items():
        lacks[name].append(rooms.lacking(found, name))
    return _Found(assets, lacks, needed, tried, [rooms.tried(room, short) for room in tried])


def _schedule(work: Work, job: Job) -> Schedule | None:
    """Return the schedule, or None where nothing is to be done or the catalogue contradicts itself."""
    try:
        return ordering.in_order(work, job.request.minutes) if work.procedures else None
    except PrecedenceCycle:  # told by the choice already
        return None


def _blockers(ways: Sequence[ChosenWay]) -> dict[Blocker, None]:
    unmet = [way for way in ways if way.alternative is None]
    return dict.fromkeys(one for way in unmet for rejected in way.rejected for one in rejected.blockers)


def _outcome(ways: Sequence[ChosenWay], drives: Sequence[PlannedDrive], *, reserved: bool) -> str:
    if any(way.alternative is None and not way.conditional for way in ways):
        return "cannot"
    open_ways = any(way.conditional for way in ways)
    dark = any(one.inside_window is False for one in drives)
    return "conditional" if reserved or open_ways or dark else "can"
