"""The mechanism of prepared look-ups: bytes from the revision file, with ETag, 304 and ready compression.

They are read synchronously on the event loop, since a read costs less than a hop to a thread, and they
bypass the framework's own routing, which would cost more than they do.
"""

import hashlib
from collections.abc import Callable, Iterable, Mapping
from typing import Any
from urllib.parse import parse_qsl

import msgspec
from msgspec import Struct

from snapline.offline import Prepared, RevisionFile
from snapline.page_token import PageTokenInvalid
from snapline_service.errors import BadInput, Fault, NotFound
from snapline_service.requests import convert

Headers = list[tuple[bytes, bytes]]
Reply = tuple[int, Headers, bytes]


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


def _shape(parts: list[str]) -> tuple[str, ...]:
    """Return an address without its names, which stand at every second place after the collection."""
    return tuple("" if place >= 3 and place % 2 else part for place, part in enumerate(parts))


def reply(
    read: Read, names: list[str], query: bytes, headers: Mapping[bytes, bytes], file: RevisionFile
) -> Reply:
    """Answer a look-up. Raises NotFound, BadInput."""
    filters = _filters(read, query)
    try:
        found = read.answer(file, names, filters)
    except PageTokenInvalid:
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
    if wanted is not None and (wanted == etag or _names(wanted, prepared.etag)):
        return 304, common, b""
    common.append((b"content-type", b"application/json"))
    if compressed:
        common.append((b"content-encoding", b"gzip"))
    body = prepared.gzip if compressed else prepared.body
    common.append((b"content-length", str(len(body)).encode()))
    return 200, common, body


def _accepts_gzip(accept_encoding: bytes) -> bool:
    if accept_encoding == b"gzip":
        return True
    for part in accept_encoding.lower().split(b","):
        coding, _, parameters = part.partition(b";")
        if coding.strip() in (b"gzip", b"*"):
            return parameters.replace(b" ", b"") not in (b"q=0", b"q=0.0", b"q=0.00", b"q=0.000")
    return False


def _names(if_none_match: bytes, etag: str) -> bool:
    """Whether If-None-Match names either encoding of the answer, or any; weak comparison, as it asks for."""
    tags = {tag.strip().removeprefix("W/") for tag in if_none_match.decode("latin-1").split(",")}
    return bool(tags & {"*", f'"{etag}"', f'"{etag}-gzip"'})


def _filters(read: Read, query: bytes) -> Any:
    pairs = parse_qsl(query.decode("latin-1"), keep_blank_values=True)
    if read.query is None:
        if pairs:
            raise BadInput([Fault(f"/{pairs[0][0][:80]}", "This address takes no query.", "Leave it out.")])
        return None
    given: dict[str, Any] = dict(pairs)
    if len(given) < len(pairs):
        raise BadInput([Fault("", "A query parameter stands twice.", "Give each one once.")])
    types = {field.name: field.type for field in msgspec.structs.fields(read.query)}
    return convert({name: _value(text, types.get(name)) for name, text in given.items()}, read.query)


def _value(text: str, wanted: Any) -> Any:
    """Read numbers and truth values out of a query, which has only text."""
    words = str(wanted)
    if "int" in words and text.isascii() and text.lstrip("-").isdigit() and len(text) < 20:
        return int(text)
    if wanted is bool and text in ("true", "false"):
        return text == "true"
    return text
