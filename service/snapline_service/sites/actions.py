"""Create, change and remove sites, bays and physical fixtures within one transaction."""

from collections.abc import Collection
from typing import Any, TypeVar

import msgspec
from msgspec import Struct
from sqlmodel import Session

from snapline.wire.sites import Bay, Site, SiteAsset
from snapline_service import today
from snapline_service.access.people import Person
from snapline_service.changes.record import record
from snapline_service.database import now
from snapline_service.errors import BadInput, Conflict, Fault, NotFound
from snapline_service.faults import nearest
from snapline_service.merge_patch import merged
from snapline_service.requests import convert
from snapline_service.sites import store
from snapline_service.sites.checking import asset_faults, bay_faults, serial_fault, site_faults
from snapline_service.sites.store import Row
from snapline_service.sites.tables import AssetRow, BayRow, SiteRow
from snapline_service.visits import store as visits

T = TypeVar("T", bound=Struct)
_NAMED = 200  # sites among which the nearest name is looked for
_TOLD = 5  # visits that a refusal names


class Editor(Struct, frozen=True):
    """Who changes what belongs to a group, and in which transaction."""

    session: Session
    group_id: str
    by: Person

    def keep(self, row: Row, document: T) -> T:
        """Write a document into its row, and return it; an unchanged one stays as it is."""
        body = text_of(document)
        if row.body != body:
            row.body, row.version = body, row.version + 1
            row.updated_at, row.updated_by = now(), self.by.name
            self._tell(row, "created" if row.version == 1 else "changed")
        self.session.add(row)
        self.session.flush()
        return document

    def remove(self, row: Row, kind: type[T]) -> T:
        """Delete a row and return the document that it held."""
        document = msgspec.json.decode(row.body, type=kind)
        self.session.delete(row)
        self.session.flush()
        self._tell(row, "deleted")
        return document

    def _tell(self, row: Row, change: str) -> None:
        what, subject = _told_as(row)
        data = {"change": change}
        if isinstance(row, AssetRow):
            data |= {"site": row.site_id, "fixture": row.fixture_id, "condition": row.condition}
        record(
            self.session,
            group_id=self.group_id,
            by=self.by,
            type=f"{what}.changed",
            subject=subject,
            data=data,
        )


def _told_as(row: Row) -> tuple[str, str]:
    """Return what kind of thing a row holds, and the address of the thing."""
    if isinstance(row, SiteRow):
        return "site", f"/v1/sites/{row.id}"
    if isinstance(row, BayRow):
        return "bay", f"/v1/sites/{row.site_id}/bays/{row.id}"
    return "asset", f"/v1/assets/{row.id}"


def text_of(document: Struct) -> str:
    """Return a document as it is stored and answered."""
    return msgspec.json.encode(document).decode()


def patched(body: str, patch: Struct, kind: type[T]) -> T:
    """Return a stored document with a merge patch applied. Raises BadInput with pointers into the patch."""
    changes = msgspec.json.decode(msgspec.json.encode(patch))
    answer: T = convert(merged(msgspec.json.decode(body), changes), kind)
    return answer


def site_row(session: Session, group_id: str, site_id: str, *, to_change: bool = False) -> SiteRow:
    """Return a site. Raises NotFound."""
    return _found(store.site(session, group_id, site_id, to_change=to_change), site_id, "/v1/sites")


def bay_row(session: Session, group_id: str, site_id: str, bay_id: str, *, to_change: bool = False) -> BayRow:
    """Return a bay. Raises NotFound."""
    found = store.bay(session, group_id, site_id, bay_id, to_change=to_change)
    return _found(found, bay_id, "/v1/sites/{site_id}/bays")


def asset_row(session: Session, group_id: str, asset_id: str, *, to_change: bool = False) -> AssetRow:
    """Return a physical fixture. Raises NotFound."""
    return _found(store.asset(session, group_id, asset_id, to_change=to_change), asset_id, "/v1/assets")


def create_site(editor: Editor, site: Site) -> Site:
    """Add a site and return it. Raises BadInput, Conflict."""
    _refuse(list(site_faults(site)))
    if store.site(editor.session, editor.group_id, site.id):
        raise _taken("site", site.id)
    return editor.keep(new_site(editor.group_id, site), site)


def change_site(editor: Editor, row: SiteRow, site: Site) -> Site:
    """Give a site another description. Raises BadInput."""
    _refuse(list(site_faults(site)))
    return editor.keep(row, site)


def delete_site(editor: Editor, row: SiteRow) -> Site:
    """Remove a site that has nothing left in it. Raises Conflict."""
    bays, assets = store.count_within(editor.session, editor.group_id, row.id)
    if bays or assets:
        detail = f"The site '{row.id}' still has bays: {bays}, physical fixtures: {assets}."
        raise Conflict(detail, mend="Delete its bays, and move or delete its fixtures first.")
    return editor.remove(row, Site)


def create_bay(editor: Editor, site_id: str, bay: Bay) -> Bay:
    """Add a bay to a site. Raises NotFound, BadInput, Conflict."""
    site_row(editor.session, editor.group_id, site_id)
    _refuse(bay_faults(bay))
    if store.bay(editor.session, editor.group_id, site_id, bay.id):
        raise _taken("bay", bay.id)
    return editor.keep(new_bay(editor.group_id, site_id, bay), bay)


def change_bay(editor: Editor, row: BayRow, bay: Bay) -> Bay:
    """Give a bay another description. Raises BadInput."""
    if bay.id != row.id:
        detail = f"The body is about '{bay.id}', the address about '{row.id}'."
        _refuse([Fault("/id", detail, "A bay keeps its id: create another and delete this one.")])
    _refuse(bay_faults(bay))
    return editor.keep(row, bay)


def create_asset(editor: Editor, asset: SiteAsset, fixtures: Collection[str] | None) -> SiteAsset:
    """Add a physical fixture. ``fixtures`` are those of the catalogue. Raises BadInput, Conflict."""
    _refuse([*asset_faults(asset, fixtures), *_site_faults(editor, asset), *_serial_faults(editor, asset)])
    if store.asset(editor.session, editor.group_id, asset.id):
        raise _taken("physical fixture", asset.id)
    return editor.keep(new_asset(editor.group_id, asset), asset)


def change_asset(
    editor: Editor, row: AssetRow, asset: SiteAsset, fixtures: Collection[str] | None
) -> SiteAsset:
    """Give a physical fixture another description or site. Raises BadInput.

    One whose type the catalogue no longer has may still be moved or taken out of service.
    """
    known = None if asset.fixture == row.fixture_id else fixtures
    faults = [*asset_faults(asset, known), *_site_faults(editor, asset)]
    before = msgspec.json.decode(row.body, type=SiteAsset)
    if (asset.fixture, asset.serial) != (before.fixture, before.serial):
        faults += _serial_faults(editor, asset)
    _refuse(faults)
    place(row, asset)
    return editor.keep(row, asset)


def delete_asset(editor: Editor, row: AssetRow) -> SiteAsset:
    """Remove a physical fixture that no visit from today on was promised. Raises Conflict."""
    having = visits.having(editor.session, editor.group_id, row.id, from_day=today.earliest())
    if having:
        told = ", ".join(f"{visit} on {day}" for visit, day in list(having.items())[:_TOLD])
        more = f" and {len(having) - _TOLD} more" if len(having) > _TOLD else ""
        detail = f"The physical fixture '{row.id}' is promised to visits: {told}{more}."
        mend = "Put it out of service and plan those visits anew, or cancel them; then delete it."
        raise Conflict(detail, mend=mend)
    return editor.remove(row, SiteAsset)


def new_site(group_id: str, site: Site) -> SiteRow:
    """Return an empty row for a site."""
    return SiteRow(group_id=group_id, id=site.id, **_NOTHING)


def new_bay(group_id: str, site_id: str, bay: Bay) -> BayRow:
    """Return an empty row for a bay."""
    return BayRow(group_id=group_id, site_id=site_id, id=bay.id, **_NOTHING)


def new_asset(group_id: str, asset: SiteAsset) -> AssetRow:
    """Return an empty row for a physical fixture."""
    row = AssetRow(group_id=group_id, id=asset.id, **_NOTHING)
    place(row, asset)
    return row


def place(row: AssetRow, asset: SiteAsset) -> None:
    """Write beside a physical fixture's document what it is searched for by."""
    row.site_id, row.fixture_id, row.condition = asset.site, asset.fixture, asset.condition


_NOTHING: dict[str, Any] = {"body": "", "version": 0, "updated_at": "", "updated_by": ""}
R = TypeVar("R", SiteRow, BayRow, AssetRow)


def _found(row: R | None, name: str, where: str) -> R:
    if row is None:
        message = f"There is nothing called '{name[:80]}' here."
        raise NotFound(message, mend=f"List what there is with GET {where}.")
    return row


def _site_faults(editor: Editor, asset: SiteAsset) -> list[Fault]:
    if store.site(editor.session, editor.group_id, asset.site):
        return []
    bodies = store.sites(editor.session, editor.group_id, None, _NAMED)
    known = [msgspec.json.decode(body, type=Site).id for body in bodies]
    detail = f"The group has no site '{asset.site}'."
    return [Fault("/site", detail, nearest(asset.site, known), "UNKNOWN_NAME")]


def _serial_faults(editor: Editor, asset: SiteAsset) -> list[Fault]:
    known = store.by_serial(editor.session, editor.group_id, [asset.fixture])
    holder = known.get((asset.fixture, asset.serial), asset.id)
    return [] if holder == asset.id else [serial_fault(asset, holder)]


def _refuse(faults: list[Fault]) -> None:
    if faults:
        raise BadInput(faults)


def _taken(what: str, name: str) -> Conflict:
    mend = "Choose another id, or change what is there with PATCH."
    return Conflict(f"There is already a {what} '{name}'.", pointer="/id", mend=mend)
