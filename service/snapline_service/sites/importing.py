"""Import sites from files: one site with its bays and physical fixtures to a file."""

from collections.abc import Collection, Iterator
from pathlib import Path

import msgspec
import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session

from snapline.wire.sites import Site, SiteAsset, SiteDocument
from snapline_service.access.keys import find_group
from snapline_service.access.people import at_command_line
from snapline_service.catalogue import store as catalogue
from snapline_service.catalogue.files import FileFault, Origin, locate
from snapline_service.database import writing
from snapline_service.errors import BadInput, Fault, InvalidValue
from snapline_service.requests import decode
from snapline_service.sites import actions, store
from snapline_service.sites.actions import Editor, text_of
from snapline_service.sites.checking import document_faults, serial_fault
from snapline_service.sites.store import Row


class Imported(Struct, frozen=True):
    """How many sites, bays and physical fixtures were read, and how many of them all are new or changed."""

    sites: int
    bays: int
    assets: int
    changed: int


class Filed(Struct, frozen=True):
    """A site and the file that it was read from."""

    site: SiteDocument
    file: Path


def import_files(
    engine: sa.Engine, folder: Path, *, group: str, by: str
) -> tuple[Imported | None, list[FileFault]]:
    """Put the files of a folder into the store; what is there and not in them stays.

    Returns every fault of the files, and then nothing is written. Raises UnknownName, InvalidValue.
    """
    with writing(engine) as session:
        group_id = find_group(session, group).id
        read = list(_read(folder, _fixtures(session, group_id)))
        faults = [found for found in read if isinstance(found, FileFault)]
        if faults:
            return None, faults
        filed = [found for found in read if isinstance(found, Filed)]
        faults = [*_repeated(filed), *_same_serials(session, group_id, filed)]
        if faults:
            return None, faults
        editor = Editor(session, group_id, at_command_line(by))
        changed = sum(_put(editor, one.site) for one in filed)
        sites = [one.site for one in filed]
    bays, assets = sum(len(site.bays) for site in sites), sum(len(site.assets) for site in sites)
    return Imported(len(sites), bays, assets, changed), []


def _fixtures(session: Session, group_id: str) -> Collection[str] | None:
    """Return the fixture types of the revision in force; None before there is one."""
    newest = catalogue.newest_revision(session, group_id)
    if newest is None:
        return None
    return {entry.name for entry in catalogue.entries(session, group_id, newest.number, "fixture")}


def _read(folder: Path, fixtures: Collection[str] | None) -> Iterator[Filed | FileFault]:
    files = [folder] if folder.is_file() else sorted(folder.glob("*.json"))
    if not files:
        message = f"There are no sites at '{folder}'."
        raise InvalidValue(message, pointer="/path", mend="Name a folder of .json files, one for each site.")
    for file in files:
        found, faults = _read_one(file.read_bytes(), fixtures)
        yield from (locate(Origin(file, None), fault) for fault in faults)
        if found and not faults:
            yield Filed(found, file)


def _read_one(body: bytes, fixtures: Collection[str] | None) -> tuple[SiteDocument | None, list[Fault]]:
    try:
        document: SiteDocument = decode(body, SiteDocument)
    except BadInput as refused:
        return None, refused.faults
    return document, list(document_faults(document, fixtures))


def _repeated(filed: list[Filed]) -> Iterator[FileFault]:
    """Find ids that two files give: of sites, and of assets, which are one list for the whole group."""
    seen: dict[tuple[str, str], Path] = {}
    for one in filed:
        named = [("site", one.site.id, "/id")]
        named += [("asset", asset.id, f"/assets/{n}/id") for n, asset in enumerate(one.site.assets)]
        for kind, name, at in named:
            first = seen.setdefault((kind, name), one.file)
            if first != one.file:
                detail = f"The {kind} '{name}' is already in {first}."
                mend = "Give it another id or remove one of the two."
                yield locate(Origin(one.file, None), Fault(at, detail, mend))


def _same_serials(session: Session, group_id: str, filed: list[Filed]) -> Iterator[FileFault]:
    """Find a type and serial that two assets have, of the files or of what stays in the store."""
    listed = {asset.id: asset for one in filed for asset in one.site.assets}
    stored = store.by_serial(session, group_id, {asset.fixture for asset in listed.values()})
    seen = {key: name for key, name in stored.items() if name not in listed}
    for one in filed:
        for number, asset in enumerate(one.site.assets):
            holder = seen.setdefault((asset.fixture, asset.serial), asset.id)
            if holder != asset.id:
                yield locate(Origin(one.file, None), serial_fault(asset, holder, f"/assets/{number}"))


def _put(editor: Editor, document: SiteDocument) -> int:
    """Create or replace a site with what is in it; return how much of it is new or changed."""
    session, group_id = editor.session, editor.group_id
    site = msgspec.convert(document, Site, from_attributes=True)
    row = store.site(session, group_id, site.id, to_change=True)
    changed = _keep(editor, row or actions.new_site(group_id, site), site)
    for bay in document.bays:
        bay_row = store.bay(session, group_id, site.id, bay.id, to_change=True)
        changed += _keep(editor, bay_row or actions.new_bay(group_id, site.id, bay), bay)
    for listed in document.assets:
        asset = SiteAsset(site=site.id, **msgspec.structs.asdict(listed))
        asset_row = store.asset(session, group_id, asset.id, to_change=True) or actions.new_asset(
            group_id, asset
        )
        actions.place(asset_row, asset)
        changed += _keep(editor, asset_row, asset)
    return changed


def _keep(editor: Editor, row: Row, document: Struct) -> int:
    changed = row.body != text_of(document)
    editor.keep(row, document)
    return int(changed)
