"""Keep a visit: its plan, its state, and the assets that it is promised."""

from collections.abc import Sequence

import msgspec
from msgspec import Struct
from sqlmodel import Session

from snapline.offline import RevisionFile
from snapline.wire.scope import Scope, UnknownOperation
from snapline.wire.visits import (
    KeepVisit,
    PlanDifference,
    ReplannedVisit,
    Visit,
    VisitPatch,
    VisitPlan,
    VisitRequest,
)
from snapline_service.access.people import Person
from snapline_service.changes.record import record
from snapline_service.database import new_id, now
from snapline_service.errors import BadInput, Conflict, Fault, InvalidValue, NotFound
from snapline_service.faults import pointer
from snapline_service.merge_patch import merged
from snapline_service.requests import convert
from snapline_service.visits import store
from snapline_service.visits.differences import differences
from snapline_service.visits.promises import days_of, plan_around
from snapline_service.visits.tables import VisitRow

_NEXT = {"planned": ("in_work", "cancelled"), "in_work": ("closed", "cancelled")}
_OF_REQUEST = ("date", "start", "operations", "options", "answers", "changes", "cure_left_min")


class Keeper(Struct, frozen=True):
    """Who keeps visits of a group, on which catalogue and in which transaction."""

    session: Session
    group_id: str
    by: Person
    file: RevisionFile


def keep(keeper: Keeper, wanted: KeepVisit) -> Visit:
    """Plan a visit at one site, keep it and promise it its assets. Raises Conflict if it cannot be done."""
    made = _plan_at(keeper, wanted.request, wanted.site, None)
    _require_understood(made.scope, "request", "operations")
    stamp = now()
    visit = Visit(
        id=new_id("vis"),
        state="planned",
        reference=wanted.reference,
        site=made.sites[0].site,
        date=made.date,
        vehicle_id=made.vehicle_id,
        catalogue_revision=made.catalogue_revision,
        promised=_assets(made),
        request=wanted.request,
        plan=made,
        created_at=stamp,
        updated_at=stamp,
        updated_by=keeper.by.name,
    )
    return _write(keeper, visit, version=1)


def row_of(session: Session, group_id: str, visit_id: str, *, to_change: bool = False) -> VisitRow:
    """Return a kept visit's row. Raises NotFound."""
    row = store.visit(session, group_id, visit_id, to_change=to_change)
    if row is None:
        raise NotFound(f"There is no visit '{visit_id[:80]}'.", mend="List them with GET /v1/visits.")
    return row


def change(keeper: Keeper, row: VisitRow, patch: VisitPatch) -> Visit:
    """Change a kept visit; anything but its state and reference plans it anew. Raises Conflict."""
    visit = _visit(row)
    if visit.state not in _NEXT:
        raise Conflict(f"The visit is {visit.state} and stays as it is.", mend="Keep a new one.")
    given = msgspec.to_builtins(patch)
    visit = msgspec.structs.replace(visit, reference=given.get("reference", visit.reference))
    changes = {name: given[name] for name in _OF_REQUEST if name in given}
    if changes or "site" in given:
        request = convert(merged(msgspec.to_builtins(visit.request), changes), VisitRequest)
        made = _plan_at(keeper, request, given.get("site", visit.site), visit.id)
        _require_understood(made.scope, "operations")
        visit = _with_plan(visit, request, made)
    if "state" in given:
        visit = msgspec.structs.replace(visit, state=_moved(visit.state, given["state"]))
    return _write(keeper, visit, row.version + 1)


def replan(keeper: Keeper, row: VisitRow) -> ReplannedVisit:
    """Plan a kept visit anew as things are now. Raises Conflict where that cannot be kept."""
    visit = _visit(row)
    if visit.state not in _NEXT:
        raise Conflict(f"The visit is {visit.state} and stays as it is.", mend="Keep a new one.")
    made = _plan_at(keeper, visit.request, visit.site, visit.id)
    found: tuple[PlanDifference, ...] = tuple(differences(visit.plan, made))
    if not found:
        return ReplannedVisit(visit=visit, differences=())
    kept = _write(keeper, _with_plan(visit, visit.request, made), row.version + 1)
    return ReplannedVisit(visit=kept, differences=found)


def _plan_at(keeper: Keeper, request: VisitRequest, site: str | None, visit_id: str | None) -> VisitPlan:
    asked = msgspec.structs.replace(request, sites=(site,)) if site else request
    made = plan_around(keeper.session, keeper.group_id, keeper.file, asked, but_to=visit_id)
    if not made.sites:
        raise Conflict("There is no site to keep the visit at.", mend="Add a site with POST /v1/sites.")
    best = made.sites[0]
    if best.outcome == "cannot":
        said = " ".join(one.text for one in best.blockers[:3])
        mend = " ".join(one.text for one in best.remedies[:3]) or "Choose another site or day."
        raise Conflict(f"{best.name} cannot do it on {request.date}. {said}", pointer="/site", mend=mend)
    return msgspec.structs.replace(made, sites=(best,), site=best.site)


def _require_understood(scope: Scope, *at: str) -> None:
    """Raise BadInput for a visit of which no repair line is understood: it would keep a day for nothing."""
    if not scope.operations:
        raise BadInput([_not_understood(line, at) for line in scope.unknown_operations])


def _not_understood(line: UnknownOperation, at: Sequence[str]) -> Fault:
    near = " or ".join(f"'{term}'" for term in line.nearest)
    mend = f"Did you mean {near}?" if near else "Name the part that was worked on in a term of the trade."
    detail = f"The catalogue has no operation '{line.text}'."
    return Fault(pointer([*at, line.line, "operation"]), detail, mend, "UNKNOWN_NAME")


def _with_plan(visit: Visit, request: VisitRequest, made: VisitPlan) -> Visit:
    return msgspec.structs.replace(
        visit,
        request=request,
        plan=made,
        site=made.sites[0].site,
        date=made.date,
        catalogue_revision=made.catalogue_revision,
        promised=_assets(made),
    )


def _moved(state: str, wanted: str) -> str:
    if wanted != state and wanted not in _NEXT[state]:
        mend = f"From {state} it goes to: {', '.join(_NEXT[state])}."
        raise InvalidValue(f"A visit does not go from {state} to {wanted}.", pointer="/state", mend=mend)
    return wanted


def _write(keeper: Keeper, visit: Visit, version: int) -> Visit:
    held = visit.promised if visit.state in _NEXT else ()
    visit = msgspec.structs.replace(visit, updated_at=now(), updated_by=keeper.by.name, promised=held)
    row = VisitRow(
        id=visit.id,
        group_id=keeper.group_id,
        version=version,
        state=visit.state,
        reference=visit.reference,
        site=visit.site,
        date=visit.date,
        vehicle_id=visit.vehicle_id,
        catalogue_revision=visit.catalogue_revision,
        body=msgspec.json.encode(visit),
    )
    try:
        store.write(keeper.session, row, visit.promised, days_of(visit.plan.sites[0], visit.request))
    except store.AlreadyPromised:
        detail = "Another visit was promised one of its assets in this very moment."
        raise Conflict(detail, mend="Send it again: it is then planned around the other.") from None
    _tell(keeper, visit, version)
    return visit


def _tell(keeper: Keeper, visit: Visit, version: int) -> None:
    what = "kept" if version == 1 else "cancelled" if visit.state == "cancelled" else "changed"
    record(
        keeper.session,
        group_id=keeper.group_id,
        by=keeper.by,
        type=f"visit.{what}",
        subject=f"/v1/visits/{visit.id}",
        data={"site": visit.site, "date": visit.date, "state": visit.state, "vehicle_id": visit.vehicle_id},
    )


def _visit(row: VisitRow) -> Visit:
    return msgspec.json.decode(row.body, type=Visit)


def _assets(made: VisitPlan) -> tuple[str, ...]:
    return tuple(sorted({one.asset for one in made.sites[0].assets}))
