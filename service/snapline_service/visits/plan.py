"""Plan a visit: what is called for, and how each site could do it on the day."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

from snapline.offline import RevisionFile
from snapline.wire.catalogue import Procedure
from snapline.wire.common import Caution
from snapline.wire.sites import Asset, SiteDocument
from snapline.wire.vehicles import Vehicle
from snapline.wire.visits import SitePlan, VisitPlan, VisitRequest
from snapline_service import cautions, today
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.fixtures.shelf import shelf_of
from snapline_service.revisions.quoting import quoted_sources, references
from snapline_service.vehicles.summary import vehicle_name
from snapline_service.visits import choices, preparation
from snapline_service.visits.at_site import Able, Here, Outlook, outlook_at, plan_at
from snapline_service.visits.fitted import FittedCar
from snapline_service.visits.job import Job
from snapline_service.visits.mending import Lender
from snapline_service.visits.quoting import quote_lines
from snapline_service.visits.reserving import reservation
from snapline_service.visits.scope import scope_of
from snapline_service.visits.stock import Stock

_RANK = {"can": 0, "conditional": 1, "cannot": 2}


class Group(Struct, frozen=True):
    """The group's sites as they are stored, and the assets that other visits have, each with the day."""

    sites: Sequence[SiteDocument]
    promised: Mapping[str, str]


def plan(file: RevisionFile, group: Group, request: VisitRequest) -> VisitPlan:
    """Plan a visit. Raises UnknownName, InvalidValue for what the request names and nobody has."""
    vehicle = _vehicle(file, request)
    _require_a_day_to_come(request)
    sites = _sites(group, request)
    choices.require_known_preferences(request.prefer, vehicle)
    car = FittedCar(
        vehicle, options=request.options, build_codes=request.build_codes, answers=request.answers
    )
    scope = scope_of(file, car, request.operations, answers=request.answers, changes=request.changes)
    needs = choices.needs_of(vehicle, scope, plan_conditional=request.plan_conditional)
    job = Job(file, request, vehicle, scope, needs)
    heres = _heres(file, group, request)
    outlooks = [outlook_at(job, heres.pop(site.id)) for site in sites]
    able = _able(job, outlooks, heres.values())
    plans = sorted((plan_at(job, outlook, able) for outlook in outlooks), key=_rank)
    zones = {site.id: site.time_zone for site in sites}
    return _told(job, plans, zones)


def _told(job: Job, plans: Sequence[SitePlan], zones: Mapping[str, str]) -> VisitPlan:
    best = plans[0] if plans else None
    names = dict.fromkeys(name for way in best.ways for name in way.procedures) if best else job.procedures
    taken = [job.procedures[name] for name in names]
    quoted = quoted_sources(job.scope) | quoted_sources(tuple(taken))
    outcome, because = _outcome(best, job, taken)
    return VisitPlan(
        vehicle_id=job.vehicle.id,
        vehicle_name=vehicle_name(job.vehicle),
        date=job.request.date,
        outcome=outcome,
        outcome_because=because,
        site=best.site if best and best.outcome != "cannot" else None,
        scope=job.scope,
        sites=tuple(plans),
        preparation=preparation.merged(taken),
        quote_lines=tuple(quote_lines(best, job.procedures)) if best else (),
        unchecked=_unchecked(taken),
        assumed=(*(_past(job.request, best, zones) if best else ()), *_assumed(job, taken)),
        invented=job.vehicle.invented,
        catalogue_revision=job.file.revision,
        sources=tuple(source for source in job.vehicle.sources if source.id in quoted),
        cautions=_cautions(job, taken, best),
    )


def _vehicle(file: RevisionFile, request: VisitRequest) -> Vehicle:
    vehicle = file.get_vehicle(request.vehicle_id)
    if vehicle is None:
        detail = f"The catalogue has no vehicle '{request.vehicle_id}'."
        raise UnknownName(detail, pointer="/vehicle_id", mend="Find it with GET /v1/vehicles or identify it.")
    return vehicle


def _require_a_day_to_come(request: VisitRequest) -> None:
    """Raise InvalidValue for a day that is over everywhere on Earth, or that no calendar has."""
    try:
        date.fromisoformat(request.date)
    except ValueError:
        detail = f"There is no day {request.date}."
        raise InvalidValue(detail, pointer="/date", mend="Give a day of the calendar.") from None
    if request.date < today.earliest():
        raise InvalidValue(f"{request.date} is over.", pointer="/date", mend="Give today or a day to come.")


def _sites(group: Group, request: VisitRequest) -> list[SiteDocument]:
    known = {site.id: site for site in group.sites}
    for number, name in enumerate(request.sites):
        if name not in known:
            at = pointer(["sites", number])
            raise UnknownName(f"There is no site '{name}'.", pointer=at, mend=nearest(name, list(known)))
    return [known[name] for name in dict.fromkeys(request.sites or known)]


def _heres(file: RevisionFile, group: Group, request: VisitRequest) -> dict[str, Here]:
    stocks = {site.id: _stock(file, site.assets, group, request) for site in group.sites}
    lenders = [Lender(site, asset) for site in group.sites for asset in stocks[site.id].usable]
    return {
        site.id: Here(site, stocks[site.id], [one for one in lenders if one.site.id != site.id])
        for site in group.sites
    }


def _able(job: Job, outlooks: Sequence[Outlook], others: Iterable[Here]) -> Able:
    """Return the sites that can meet what another cannot; those not asked for only where it needs one."""
    unmet = frozenset[str]().union(*(outlook.unmet for outlook in outlooks))
    able = {name: [one.here.site for one in outlooks if name not in one.unmet] for name in sorted(unmet)}
    for here in others:
        wanting = [name for name, found in able.items() if not found]
        blocked = outlook_at(job, here).unmet if wanting else ()
        for name in wanting:
            able[name] += [] if name in blocked else [here.site]
    return able


def _stock(file: RevisionFile, assets: Iterable[Asset], group: Group, request: VisitRequest) -> Stock:
    return Stock(
        assets,
        shelf_of(file),
        date=request.date,
        promised=group.promised,
        by_property=request.by_property,
    )


def _rank(site: SitePlan) -> tuple[int, float, float, str]:
    """Order sites: those that can, then the quickest, then those with the least to mend."""
    return _RANK.get(site.outcome, 2), site.remedies_effort_min or 0.0, site.total_min, site.site


def _outcome(best: SitePlan | None, job: Job, taken: Sequence[Procedure]) -> tuple[str, str]:
    """Return the outcome and why; systems and changes of the car without a rule are named whatever it is."""
    scope = job.scope
    silent = [one.name for one in scope.systems if one.answer == "no_rule"]
    changes = [one.change.replace("_", " ") for one in scope.changed_car if one.answer == "no_rule"]
    silent += [f"the change '{change}'" for change in changes]
    tail = f" No rule speaks of: {', '.join(silent)}; look in the maker's procedure." if silent else ""
    if best and best.outcome == "cannot":
        return "cannot", f"No site that was asked for can do it on {job.request.date}.{tail}"
    reserved = [job.alignment_first(taken), reservation(scope) or _own_reservation(best, job)]
    if any(reserved):
        return "conditional", f"{' '.join(filter(None, reserved))}{tail}"
    said = f"{best.name} can do it." if best and job.needs else "No rule of the catalogue calls for anything."
    return "can", f"{said}{tail}"


def _own_reservation(best: SitePlan | None, job: Job) -> str:
    if best is None and job.needs:
        return "There is no site to plan it at."
    dark = best and any(one.inside_window is False for one in best.drives)
    return "The drive falls outside the light that is asked for." if dark else ""


def _unchecked(taken: Sequence[Procedure]) -> tuple[str, ...]:
    found = [r for r in references(tuple(taken)) if r.checked_on is None]
    return tuple(dict.fromkeys(f"{reference.source}, {reference.locator}" for reference in found))


def _past(request: VisitRequest, best: SitePlan, zones: Mapping[str, str]) -> Iterable[str]:
    zone = ZoneInfo(zones[best.site])
    if datetime.fromisoformat(f"{request.date}T{request.start}").replace(tzinfo=zone) < datetime.now(UTC):
        yield f"The start, {request.start} on {request.date}, is past at {best.name}: begin later."


def _assumed(job: Job, taken: Sequence[Procedure]) -> Iterable[str]:
    yield "Times of scans, moves and setting up are the group's own figures, not the maker's."
    if cure_min := job.cure_min():
        start = job.request.start
        yield f"The repair is taken as done at {start}; the adhesive then needs {cure_min:g} min to cure."
    items = [item for p in taken for stage in p.stages for item in stage.placements]
    thrust = any(item.placement.aim_line == "thrust_line" for item in items)
    if first := job.alignment_first(taken):
        yield f"{first} Room is reckoned with the thrust line on the centreline."
    elif thrust and "vehicle.thrust_yaw_deg" not in job.request.measured:
        yield "The thrust line is taken to lie on the centreline until rear toe is measured."


def _cautions(job: Job, taken: Sequence[Procedure], best: SitePlan | None) -> tuple[Caution, ...]:
    kinds = [one.kind for one in job.scope.systems if one.answer in ("called_for", "conditional")]
    used = best.assets if best else ()
    return cautions.for_work(
        taken,
        kinds,
        [one.fixture_kind for one in used],
        by_property=any(one.match == "by_property" for one in used),
    )
