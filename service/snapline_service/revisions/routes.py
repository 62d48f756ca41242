"""HTTP of published revisions and of their offline copies."""

import base64
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
from litestar import Response, get
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Stream

from snapline.wire.revisions import Revision, RevisionPage, RevisionParts, RevisionQuery
from snapline_service import conditional
from snapline_service.access.callers import Caller, needs
from snapline_service.catalogue import store
from snapline_service.database import reading
from snapline_service.errors import NoSuchPart, NotFound
from snapline_service.listing import after, filters_of, next_token
from snapline_service.revisions import revision_files, revisions
from snapline_service.writing import Asked

_REVISION = "/v1/revisions/{number:int}"
_PIECE_BYTES = 1 << 20
_RANGE = re.compile(r"bytes=(\d{1,15})-(\d{0,15})")
SQLITE = "application/vnd.sqlite3"


@get(
    "/v1/revisions",
    operation_id="list_revisions",
    tags=["revisions"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"query": RevisionQuery},
)
def list_revisions(caller: NamedDependency[Caller], request: Asked, state: State) -> RevisionPage:
    """List the revisions of your group, newest first; the newest is in force."""
    query = filters_of(request, RevisionQuery)
    (before,) = after(query, int) or (None,)
    with reading(state.engine) as session:
        rows = store.revisions(session, caller.principal.group_id, before, query.page_size + 1)
        items = tuple(revisions.described(*row) for row in rows[: query.page_size])
    return RevisionPage(items=items, next_page_token=next_token(query, rows, lambda row: [row[0].number]))


@get(
    _REVISION,
    operation_id="get_revision",
    tags=["revisions"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Revision, "tagged": True, "refused": ["404"]},
)
def get_revision(
    number: FromPath[int], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Get a revision: when, by whom and why it was published, and who agreed to it."""
    with reading(state.engine) as session:
        row = revisions.found(session, caller.principal.group_id, number)
        shown = revisions.shown(session, row)
    return conditional.answer(request, msgspec.json.encode(shown))


@get(
    f"{_REVISION}/files",
    operation_id="list_revision_files",
    tags=["revisions"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"refused": ["404"]},
)
def list_revision_files(
    number: FromPath[int], caller: NamedDependency[Caller], state: State
) -> RevisionParts:
    """List the files of a revision's offline copy, for the newest revisions.

    The first is the one to open. A second, if there is one, is the large whole file that the first
    supplements: it stays the same over many revisions, so that who has it fetches little.
    """
    return revisions.parts(_path(caller, state, number))


@get(
    f"{_REVISION}/files/{{file_name:str}}",
    operation_id="download_revision_file",
    tags=["revisions"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"file": SQLITE, "pieces": True, "refused": ["404"]},
)
def download_revision_file(
    number: FromPath[int],
    file_name: FromPath[str],
    caller: NamedDependency[Caller],
    request: Asked,
    state: State,
) -> Response[Any]:
    """Download a file of a revision's offline copy, or with Range a part of it (RFC 9110, section 14).

    ``Repr-Digest`` (RFC 9530) is the SHA-256 of the whole file.
    """
    first = _path(caller, state, number)
    part = next((part for part in revisions.parts(first).items if part.name == file_name), None)
    if part is None:
        raise _no_file(number)
    path = first.with_name(part.name)
    digest = base64.b64encode(bytes.fromhex(part.sha256)).decode()
    headers = {
        "etag": f'"{part.sha256}"',
        "repr-digest": f"sha-256=:{digest}:",
        "accept-ranges": "bytes",
        "cache-control": "private, no-store",  # pieces of one address differ
        "vary": "Authorization",
    }
    wanted = _range(request, part.size_bytes, headers["etag"])
    if wanted is None:
        headers["content-length"] = str(part.size_bytes)
        return Stream(_pieces(path), headers=headers, media_type=SQLITE)
    begin, end = wanted
    if begin >= part.size_bytes:
        raise NoSuchPart(part.size_bytes)
    headers["content-range"] = f"bytes {begin}-{end}/{part.size_bytes}"
    with path.open("rb") as file:
        file.seek(begin)
        return Response(file.read(end - begin + 1), status_code=206, headers=headers, media_type=SQLITE)


def _path(caller: Caller, state: State, number: int) -> Path:
    """Return a revision's file, if this machine still keeps it. Raises NotFound."""
    group_id = caller.principal.group_id
    with reading(state.engine) as session:
        row = store.revision(session, group_id, number)
    folder = state.settings.data_folder
    path = revision_files.kept_file(folder, group_id, number, row.manifest_hash) if row else None
    if path is None:
        raise _no_file(number)
    return path


def _no_file(number: int) -> NotFound:
    message = f"There is no such file of revision {number} here."
    return NotFound(message, mend="List the files of the revision in force; those of old ones are not kept.")


def _range(request: Asked, size: int, etag: str) -> tuple[int, int] | None:
    """Return the first and last byte asked for, at most 16 MiB; None for the whole file."""
    found = _RANGE.fullmatch(request.headers.get("range", ""))
    if found is None or request.headers.get("if-range", etag) != etag:
        return None
    begin = int(found[1])
    end = min(int(found[2] or size), size - 1, begin + 16 * _PIECE_BYTES - 1)
    return None if found[2] and int(found[2]) < begin else (begin, end)


def _pieces(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while piece := file.read(_PIECE_BYTES):
            yield piece


HANDLERS = [list_revisions, get_revision, list_revision_files, download_revision_file]
