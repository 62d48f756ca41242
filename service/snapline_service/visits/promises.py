"""Plan around what other visits were promised, on every day that a visit takes."""

from datetime import date, timedelta

import msgspec
from sqlmodel import Session

from snapline.offline import RevisionFile
from snapline.wire.visits import SitePlan, VisitPlan, VisitRequest
from snapline_service.sites import store as sites
from snapline_service.visits import store
from snapline_service.visits.plan import Group, plan

_DAY_MIN = 24 * 60


def group_on(session: Session, group_id: str, day: str, *, but_to: str | None = None) -> Group:
    """Return the group's sites, and the assets that visits other than one have on a day."""
    found = sites.shelf(session, group_id)
    return Group(tuple(found.values()), store.promised(session, group_id, [day], but_to=but_to))


def plan_around(
    session: Session, group_id: str, file: RevisionFile, request: VisitRequest, *, but_to: str | None = None
) -> VisitPlan:
    """Plan a visit with none of the assets that visits other than ``but_to`` have while it lasts.

    How long it lasts is known only when it is planned: one that runs into a day on which another visit has
    its assets is planned anew without them.
    """
    group = group_on(session, group_id, request.date, but_to=but_to)
    while True:
        made = plan(file, group, request)
        clashes: dict[str, str] = {}
        for site in made.sites:
            later = days_of(site, request)[1:]
            taken = store.promised(session, group_id, later, but_to=but_to) if later else {}
            clashes |= {one.asset: taken[one.asset] for one in site.assets if one.asset in taken}
        if not clashes:
            return made
        group = msgspec.structs.replace(group, promised={**group.promised, **clashes})


def days_of(site: SitePlan, request: VisitRequest) -> tuple[str, ...]:
    """Return the days that a visit takes at a site: more than one where it runs past midnight."""
    first = date.fromisoformat(request.date)
    hours, _, minutes = request.start.partition(":")
    until_min = int(hours) * 60 + int(minutes) + round(site.total_min)
    nights = min(max(until_min - 1, 0) // _DAY_MIN, (date.max - first).days)
    return tuple((first + timedelta(days=number)).isoformat() for number in range(nights + 1))
