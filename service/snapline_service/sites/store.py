"""All SQL of sites, bays and physical fixtures."""

from collections import defaultdict
from collections.abc import Collection

import msgspec
import sqlalchemy as sa
from sqlmodel import Session, col, select

from snapline.wire.sites import Asset, AssetQuery, Bay, Site, SiteDocument
from snapline_service.sites.tables import AssetRow, BayRow, SiteRow

Row = SiteRow | BayRow | AssetRow


def site(session: Session, group_id: str, site_id: str, *, to_change: bool = False) -> SiteRow | None:
    """Return a site of the group. ``to_change`` makes others who want to change it wait."""
    return session.get(SiteRow, (group_id, site_id), with_for_update=to_change or None)


def bay(
    session: Session, group_id: str, site_id: str, bay_id: str, *, to_change: bool = False
) -> BayRow | None:
    """Return a bay of a site."""
    return session.get(BayRow, (group_id, site_id, bay_id), with_for_update=to_change or None)


def asset(session: Session, group_id: str, asset_id: str, *, to_change: bool = False) -> AssetRow | None:
    """Return a physical fixture of the group."""
    return session.get(AssetRow, (group_id, asset_id), with_for_update=to_change or None)


def sites(session: Session, group_id: str, after: str | None, limit: int) -> list[str]:
    """Return the bodies of the group's sites by id, those behind an id."""
    query = select(SiteRow.body).where(SiteRow.group_id == group_id)
    if after is not None:
        query = query.where(SiteRow.id > after)
    return list(session.exec(query.order_by(col(SiteRow.id)).limit(limit)))


def bays(session: Session, group_id: str, site_id: str) -> list[str]:
    """Return the bodies of a site's bays by id."""
    query = select(BayRow.body).where(BayRow.group_id == group_id, BayRow.site_id == site_id)
    return list(session.exec(query.order_by(col(BayRow.id))))


def assets(session: Session, group_id: str, wanted: AssetQuery, after: str | None, limit: int) -> list[str]:
    """Return the bodies of the physical fixtures that pass the filters by id, those behind an id."""
    query = select(AssetRow.body).where(AssetRow.group_id == group_id)
    if wanted.site:
        query = query.where(AssetRow.site_id == wanted.site)
    if wanted.fixture:
        query = query.where(AssetRow.fixture_id == wanted.fixture)
    if wanted.condition:
        query = query.where(AssetRow.condition == wanted.condition)
    if after is not None:
        query = query.where(AssetRow.id > after)
    return list(session.exec(query.order_by(col(AssetRow.id)).limit(limit)))


def by_serial(session: Session, group_id: str, fixtures: Collection[str]) -> dict[tuple[str, str], str]:
    """Return the ids of the group's physical fixtures of some types, by type and serial."""
    query = select(AssetRow.body).where(AssetRow.group_id == group_id, col(AssetRow.fixture_id).in_(fixtures))
    assets = map(_ASSET.decode, session.exec(query))
    return {(asset.fixture, asset.serial): asset.id for asset in assets}


def count_within(session: Session, group_id: str, site_id: str) -> tuple[int, int]:
    """Return how many bays and how many physical fixtures a site has."""
    counts = [
        sa.select(sa.func.count())
        .where(col(table.group_id) == group_id, col(table.site_id) == site_id)
        .scalar_subquery()
        for table in (BayRow, AssetRow)
    ]
    in_bays, in_assets = session.connection().execute(sa.select(*counts)).one()
    return in_bays, in_assets


def shelf(
    session: Session, group_id: str, site_ids: Collection[str] | None = None
) -> dict[str, SiteDocument]:
    """Return sites with their bays and physical fixtures by id, in three queries whatever their number.

    ``site_ids`` None: all of the group's. A name that the group does not have is not in the answer.
    """
    of_sites = select(SiteRow.id, SiteRow.body).where(SiteRow.group_id == group_id)
    of_bays = select(BayRow.site_id, BayRow.body).where(BayRow.group_id == group_id)
    of_assets = select(AssetRow.site_id, AssetRow.body).where(AssetRow.group_id == group_id)
    if site_ids is not None:
        of_sites = of_sites.where(col(SiteRow.id).in_(site_ids))
        of_bays = of_bays.where(col(BayRow.site_id).in_(site_ids))
        of_assets = of_assets.where(col(AssetRow.site_id).in_(site_ids))
    bays_at, assets_at = defaultdict[str, list[Bay]](list), defaultdict[str, list[Asset]](list)
    for site_id, body in session.exec(of_bays.order_by(col(BayRow.id))):
        bays_at[site_id].append(_BAY.decode(body))
    for site_id, body in session.exec(of_assets.order_by(col(AssetRow.id))):
        assets_at[site_id].append(_ASSET.decode(body))
    return {
        site_id: SiteDocument(
            **msgspec.structs.asdict(_SITE.decode(body)),
            format=1,
            bays=tuple(bays_at[site_id]),
            assets=tuple(assets_at[site_id]),
        )
        for site_id, body in session.exec(of_sites.order_by(col(SiteRow.id)))
    }


_SITE, _BAY, _ASSET = msgspec.json.Decoder(Site), msgspec.json.Decoder(Bay), msgspec.json.Decoder(Asset)
