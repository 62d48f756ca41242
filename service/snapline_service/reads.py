"""The mechanism of prepared look-ups: bytes from the revision file, with ETag, 304 and ready compression.

They are read synchronously on the event loop, since a read costs less than a hop to a thread, and they
bypass the framework's own routing, which would cost more than they do.
"""

import hashlib
import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache, lru_cache
from typing import Any, Protocol
from urllib.parse import parse_qsl

import msgspec
from msgspec import Struct

from snapline.offline import FORMAT, Prepared, RevisionFile
from snapline.page_token import PageTokenInvalid
from snapline_service.errors import BadInput, Fault, NotFound
from snapline_service.faults import pointer
from snapline_service.requests import convert

Headers = list[tuple[bytes, bytes]]
Reply = tuple[int, Headers, bytes]
Make = Callable[[RevisionFile, list[str], Any], bytes | None]

_JSON = (b"content-type", b"application/json")
_COMPRESSED = (b"content-encoding", b"gzip")
_REFUSED = re.compile(rb"\s*q\s*=\s*0(\.0{0,3})?\s*")  # the weight 0 of RFC 9110, 12.4.2
_TRUTHS = {"true": True, "false": False}
_WHOLE_NUMBER = re.compile(r"-?[0-9]{1,18}")


class Document(Protocol):
    """Reads a prepared document in the form that the caller takes."""

    def __call__(self, file: RevisionFile, name: str, /, *, gzip: bool, known: str | None) -> Prepared | None:
        """Return it, without its body if its ETag is the known one; None if there is no such name."""


class Read(Struct, frozen=True):
    """A look-up: its address, its filters, what it answers and how it is described.

    Either a ``document`` stands ready, or ``make`` makes the body, from the revision file, the names in the
    address and the filters; None if a name is not there.
    """

    path: str
    operation_id: str
    tag: str
    summary: str
    answers: type
    document: Document | None = None
    make: Make | None = None
    query: type | None = None


class Reads:
    """All prepared look-ups, found by address."""

    def __init__(self, reads: Iterable[Read]) -> None:
        self._by_shape = {_shape(read.path.split("/")): read for read in reads}
        documents = (read for read in self._by_shape.values() if read.document)
        self._documents = {read.path.rpartition("/")[0]: read for read in documents}

    def find(self, path: str) -> tuple[Read, list[str]] | None:
        """Return the look-up at an address and the names in it."""
        collection, _, name = path.rpartition("/")
        if read := self._documents.get(collection):
            return read, [name]
        parts = path.split("/")
        found = self._by_shape.get(_shape(parts))
        return (found, parts[3::2]) if found else None


def _shape(parts: list[str]) -> tuple[object, ...]:
    """Return what is fixed in an address: version, collection, length and the collection below a name."""
    return (*parts[1:3], len(parts), *parts[4:5])


def reply(
    read: Read, names: list[str], query: bytes, headers: Mapping[bytes, bytes], file: RevisionFile
) -> Reply:
    """Answer a look-up, with 304 if the caller has it already. Raises NotFound, BadInput."""
    wanted = headers.get(b"if-none-match")
    gzip, found = False, None
    if read.document:
        if query:
            filters(None, query)
        accepted = headers.get(b"accept-encoding")
        gzip = accepted is not None and _accepts_gzip(accepted)
        found = read.document(file, names[0], gzip=gzip, known=wanted.decode("latin-1") if wanted else None)
    elif read.make:
        # The tag is of what the answer is made from: a revision answers an address in one way alone.
        made_from = f"{FORMAT} {file.revision} {file.manifest_hash} {read.path} {names}".encode() + query
        etag = f'"{hashlib.blake2b(made_from, digest_size=16).hexdigest()}"'
        has_it = wanted == etag.encode()
        body = b"" if has_it else _make(read.make, names, filters(read.query, query), file)
        found = None if body is None else Prepared(etag, body)
    if found is None:
        message = f"There is nothing called '{names[-1][:80]}' here."
        raise NotFound(message, mend=f"List what there is with GET {read.path.partition('/{')[0]}.")
    tag, body = found.etag.encode(), found.body
    if wanted is not None and (not body or _names(wanted, tag)):
        return 304, [(b"etag", tag), *_fixed(file.revision)], b""
    length = (b"content-length", b"%d" % len(body))
    coding = [_COMPRESSED] if gzip else []
    return 200, [(b"etag", tag), length, *coding, _JSON, *_fixed(file.revision)], body


@cache
def _fixed(revision: int) -> Headers:
    return [
        (b"cache-control", b"private, no-cache"),
        (b"vary", b"Accept-Encoding, Authorization"),
        (b"catalogue-revision", b"%d" % revision),
    ]


def _make(make: Make, names: list[str], given: Any, file: RevisionFile) -> bytes | None:
    try:
        return make(file, names, given)
    except (PageTokenInvalid, OverflowError, RecursionError):  # the latter two from a forged token
        detail = "This page token is damaged or was made for other filters or another list."
        raise BadInput([Fault("/page_token", detail, "Start again without it.")]) from None


@lru_cache(64)
def _accepts_gzip(accept_encoding: bytes) -> bool:
    """Whether the caller takes gzip: what is said of gzip itself goes before what is said of '*'."""
    taken = {}
    for part in accept_encoding.lower().split(b","):
        coding, _, weight = part.partition(b";")
        taken[coding.strip()] = _REFUSED.fullmatch(weight) is None
    return taken.get(b"gzip", taken.get(b"*", False))


def _names(if_none_match: bytes, etag: bytes) -> bool:
    """Whether If-None-Match names this answer, or any; by weak comparison, as it asks for."""
    tags = {tag.strip().removeprefix(b"W/") for tag in if_none_match.split(b",")}
    return etag in tags or b"*" in tags


def filters(query_type: type | None, query: bytes) -> Any:
    """Return the filters that a query gives, as the type that lists them. Raises BadInput.

    A word that the service does not know is refused: nothing here can have it, and an empty list would hide
    the slip.
    """
    if not query:
        return query_type() if query_type else None
    pairs = parse_qsl(query.decode("latin-1"), keep_blank_values=True)
    if query_type is None:
        if pairs:
            at = pointer([pairs[0][0][:80]])
            raise BadInput([Fault(at, "This address takes no query.", "Leave it out.", "UNKNOWN_FIELD")])
        return None
    given: dict[str, Any] = {}
    readers = _readers(query_type)
    for name, text in pairs:
        if name in given:
            detail = f"The query parameter '{name[:80]}' stands twice."
            raise BadInput([Fault(pointer([name[:80]]), detail, "Give it once.")])
        given[name] = readers.get(name, str)(text)
    return convert(given, query_type, known_words=True)


@cache
def _readers(query_type: type) -> dict[str, Callable[[str], Any]]:
    """Return how each parameter is read from a query, which has only text."""
    types = {field.name: str(field.type) for field in msgspec.structs.fields(query_type)}
    return {name: _reader(words) for name, words in types.items()}


def _reader(words: str) -> Callable[[str], Any]:
    return _whole_number if "int" in words else _truth if words == str(bool) else str


def _whole_number(text: str) -> int | str:
    return int(text) if _WHOLE_NUMBER.fullmatch(text) else text


def _truth(text: str) -> bool | str:
    return _TRUTHS.get(text, text)
