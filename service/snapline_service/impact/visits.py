"""Which kept visits would be planned otherwise on another catalogue."""

from collections.abc import Iterator, Sequence

import msgspec
from sqlmodel import Session, col, select

from snapline.offline import RevisionFile
from snapline.wire.impact import VisitChanged
from snapline.wire.visits import Visit
from snapline_service.errors import SnaplineError
from snapline_service.visits.differences import differences
from snapline_service.visits.promises import plan_around
from snapline_service.visits.tables import VisitRow

_OPEN = ("planned", "in_work")


def open_visits(session: Session, group_id: str, vehicles: set[str], *, before: int) -> list[VisitRow]:
    """Return the visits of some vehicles, neither closed nor cancelled, planned before a revision."""
    query = select(VisitRow).where(VisitRow.group_id == group_id, col(VisitRow.state).in_(_OPEN))
    rows = session.exec(query.order_by(col(VisitRow.id)))
    visits = ((row, _visit(row)) for row in rows)
    return [row for row, one in visits if one.vehicle_id in vehicles and one.plan.catalogue_revision < before]


def changed_visits(session: Session, file: RevisionFile, rows: Sequence[VisitRow]) -> Iterator[VisitChanged]:
    """Plan visits anew on another catalogue and yield those that come out otherwise."""
    for row in rows:
        texts = tuple(_told(session, file, row, _visit(row)))
        if texts:
            yield VisitChanged(visit_id=row.id, date=row.date, site=row.site, texts=texts)


def _told(session: Session, file: RevisionFile, row: VisitRow, visit: Visit) -> Iterator[str]:
    asked = msgspec.structs.replace(visit.request, sites=(visit.site,))
    try:
        made = plan_around(session, row.group_id, file, asked, but_to=row.id)
    except SnaplineError as error:  # it cannot be planned any more, or its day is past
        yield error.detail
        return
    for difference in differences(visit.plan, made):
        if difference.what != "revision":
            yield difference.text


def _visit(row: VisitRow) -> Visit:
    return msgspec.json.decode(row.body, type=Visit)
