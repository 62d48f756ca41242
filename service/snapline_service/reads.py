"""The mechanism of prepared look-ups: bytes from the revision file, with ETag, 304 and ready compression.

They are read synchronously on the event loop, since a read costs less than a hop to a thread, and they
bypass the framework's own routing, which would cost more than they do.
"""

import hashlib
import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from typing import Any
from urllib.parse import parse_qsl

import msgspec
from msgspec import Struct

from snapline.offline import Prepared, RevisionFile
from snapline.page_token import PageTokenInvalid
from snapline_service.errors import BadInput, Fault, NotFound
from snapline_service.faults import pointer
from snapline_service.requests import convert

Headers = list[tuple[bytes, bytes]]
Reply = tuple[int, Headers, bytes]

_REFUSED = re.compile(rb"\s*q\s*=\s*0(\.0{0,3})?\s*")  # the weight 0 of RFC 9110, 12.4.2
_WHOLE_NUMBER = re.compile(r"-?[0-9]{1,18}")


class Read(Struct, frozen=True):
    """A prepared look-up: its address, its filters, what it answers and how it is described.

    ``answer`` takes the revision file, the names in the address and the filters. It returns bytes that stand
    ready, or a body that is made for the occasion; None if a name is not there.
    """

    path: str
    operation_id: str
    tag: str
    summary: str
    answers: type
    answer: Callable[[RevisionFile, list[str], Any], Prepared | bytes | None]
    query: type | None = None


class Reads:
    """All prepared look-ups, found by address."""

    def __init__(self, reads: Iterable[Read]) -> None:
        self._by_shape = {_shape(read.path.split("/")): read for read in reads}

    def find(self, path: str) -> tuple[Read, list[str]] | None:
        """Return the look-up at an address and the names in it."""
        parts = path.split("/")
        read = self._by_shape.get(_shape(parts))
        return (read, parts[3::2]) if read else None


def _shape(parts: list[str]) -> tuple[object, ...]:
    """Return what is fixed in an address: version, collection, length and the collection below a name."""
    return (*parts[1:3], len(parts), *parts[4:5])


def reply(
    read: Read, names: list[str], query: bytes, headers: Mapping[bytes, bytes], file: RevisionFile
) -> Reply:
    """Answer a look-up. Raises NotFound, BadInput."""
    filters = _filters(read, query)
    try:
        found = read.answer(file, names, filters)
    except (PageTokenInvalid, OverflowError, RecursionError):  # the latter two from a forged token
        detail = "This page token is damaged or was made for other filters."
        raise BadInput([Fault("/page_token", detail, "Start again without it.")]) from None
    if found is None:
        message = f"There is nothing called '{names[-1][:80]}' here."
        raise NotFound(message, mend=f"List what there is with GET {read.path.partition('/{')[0]}.")
    prepared = found if isinstance(found, Prepared) else _prepare(found)
    return _conditional(prepared, headers, file.revision)


def _prepare(body: bytes) -> Prepared:
    return Prepared(hashlib.sha256(body).hexdigest()[:32], body, b"")


def _conditional(prepared: Prepared, headers: Mapping[bytes, bytes], revision: int) -> Reply:
    """Choose the encoding and decide by RFC 9110 whether the caller has this already.

    A strong ETag names one sequence of bytes, so the compressed body has one of its own.
    """
    compressed = bool(prepared.gzip) and _accepts_gzip(headers.get(b"accept-encoding", b""))
    etag = f'"{prepared.etag}{"-gzip" if compressed else ""}"'.encode()
    common: Headers = [
        (b"etag", etag),
        (b"cache-control", b"private, no-cache"),
        (b"vary", b"Accept-Encoding, Authorization"),
        (b"catalogue-revision", str(revision).encode()),
    ]
    wanted = headers.get(b"if-none-match")
    if wanted is not None and (wanted == etag or _names(wanted, etag)):
        return 304, common, b""
    common.append((b"content-type", b"application/json"))
    if compressed:
        common.append((b"content-encoding", b"gzip"))
    body = prepared.gzip if compressed else prepared.body
    common.append((b"content-length", str(len(body)).encode()))
    return 200, common, body


def _accepts_gzip(accept_encoding: bytes) -> bool:
    """Whether the caller takes gzip: what is said of gzip itself goes before what is said of '*'."""
    if accept_encoding == b"gzip":
        return True
    taken = {}
    for part in accept_encoding.lower().split(b","):
        coding, _, weight = part.partition(b";")
        taken[coding.strip()] = _REFUSED.fullmatch(weight) is None
    return taken.get(b"gzip", taken.get(b"*", False))


def _names(if_none_match: bytes, etag: bytes) -> bool:
    """Whether If-None-Match names this answer, or any; by weak comparison, as it asks for."""
    tags = {tag.strip().removeprefix(b"W/") for tag in if_none_match.split(b",")}
    return etag in tags or b"*" in tags


def _filters(read: Read, query: bytes) -> Any:
    if not query:
        return read.query() if read.query else None
    pairs = parse_qsl(query.decode("latin-1"), keep_blank_values=True)
    if read.query is None:
        if pairs:
            at = pointer([pairs[0][0][:80]])
            raise BadInput([Fault(at, "This address takes no query.", "Leave it out.", "UNKNOWN_FIELD")])
        return None
    given: dict[str, Any] = {}
    for name, text in pairs:
        if name in given:
            detail = f"The query parameter '{name[:80]}' stands twice."
            raise BadInput([Fault(pointer([name[:80]]), detail, "Give it once.")])
        given[name] = text
    types = _types(read.query)
    return convert({name: _value(text, types.get(name)) for name, text in given.items()}, read.query)


@cache
def _types(query: type) -> dict[str, Any]:
    return {field.name: field.type for field in msgspec.structs.fields(query)}


def _value(text: str, wanted: Any) -> Any:
    """Read numbers and truth values out of a query, which has only text."""
    words = str(wanted)
    if "int" in words and _WHOLE_NUMBER.fullmatch(text):
        return int(text)
    if wanted is bool and text in ("true", "false"):
        return text == "true"
    return text
