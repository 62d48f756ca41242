"""All SQL of kept visits."""

from collections.abc import Sequence
from itertools import product

import sqlalchemy as sa
from sqlmodel import Session, col, select

from snapline.wire.visits import VisitQuery
from snapline_service.visits.tables import PromiseRow, VisitRow


class AlreadyPromised(Exception):
    """Another visit was promised one of the assets in the meantime."""


def visit(session: Session, group_id: str, visit_id: str, *, to_change: bool = False) -> VisitRow | None:
    """Return a visit of the group. ``to_change`` makes others who want to change it wait."""
    query = select(VisitRow).where(VisitRow.group_id == group_id, VisitRow.id == visit_id)
    return session.exec(query.with_for_update() if to_change else query).first()


def visits(
    session: Session, group_id: str, wanted: VisitQuery, after: str | None, limit: int
) -> list[VisitRow]:
    """Return visits by id, those behind an id."""
    query = select(VisitRow).where(VisitRow.group_id == group_id)
    if wanted.date is not None:
        query = query.where(VisitRow.date == wanted.date)
    if wanted.site is not None:
        query = query.where(VisitRow.site == wanted.site)
    if wanted.state is not None:
        query = query.where(VisitRow.state == wanted.state)
    if wanted.asset is not None:
        having = select(PromiseRow.visit_id).where(
            PromiseRow.group_id == group_id, PromiseRow.asset == wanted.asset
        )
        query = query.where(col(VisitRow.id).in_(having))
    if after is not None:
        query = query.where(VisitRow.id > after)
    return list(session.exec(query.order_by(col(VisitRow.id)).limit(limit)).all())


def promised(
    session: Session, group_id: str, days: Sequence[str], *, but_to: str | None = None
) -> dict[str, str]:
    """Return the assets that visits have on any of some days, with the first such; one visit left aside."""
    query = select(PromiseRow.asset, PromiseRow.date).where(
        PromiseRow.group_id == group_id, col(PromiseRow.date).in_(days)
    )
    if but_to is not None:
        query = query.where(PromiseRow.visit_id != but_to)
    return dict(session.exec(query.order_by(col(PromiseRow.date).desc())).all())


def having(session: Session, group_id: str, asset: str, *, from_day: str) -> dict[str, str]:
    """Return the visits that an asset is promised to from a day on, each with its first such day."""
    first = sa.func.min(PromiseRow.date)
    query = select(PromiseRow.visit_id, first).where(
        PromiseRow.group_id == group_id, PromiseRow.asset == asset, PromiseRow.date >= from_day
    )
    return dict(session.exec(query.group_by(col(PromiseRow.visit_id)).order_by(first)).all())


def write(session: Session, row: VisitRow, assets: Sequence[str], days: Sequence[str]) -> None:
    """Store a visit and give it these assets on these days, and no others. Raises AlreadyPromised."""
    session.merge(row)
    session.flush()
    session.exec(sa.delete(PromiseRow).where(col(PromiseRow.visit_id) == row.id))
    for day, asset in product(days, assets):
        session.add(PromiseRow(group_id=row.group_id, date=day, asset=asset, visit_id=row.id))
    try:
        session.flush()
    except sa.exc.IntegrityError as error:
        raise AlreadyPromised from error
