"""Read and write catalogues as files: a folder of JSON documents, or one NDJSON file."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import json_source_map
import msgspec
from msgspec import Struct

from snapline.wire.catalogue import CatalogueDocument, VehicleDocument
from snapline_service.catalogue.documents import from_json, kind_of
from snapline_service.errors import Fault, InvalidValue
from snapline_service.faults import TOO_DEEP, parse, repeated_names


class Origin(Struct, frozen=True):
    """The file a document was read from, and its line in a file of many documents."""

    file: Path
    line: int | None


class Filed(Struct, frozen=True):
    """A document and where it came from."""

    document: CatalogueDocument
    origin: Origin


class FileFault(Struct, frozen=True):
    """One thing wrong in a file. ``field`` is an RFC 6901 pointer into the document.

    ``document`` is the id of a document that cannot be taken, as far as it can be told: what refers to it is
    not at fault.
    """

    file: Path
    line: int
    field: str
    detail: str
    mend: str
    document: str = ""


def read(path: Path) -> Iterator[Filed | FileFault]:
    """Yield every document below a path, and every fault of form instead of a document that has any.

    Raises InvalidValue if there is nothing to read.
    """
    files = (
        [path] if path.is_file() else sorted(p for p in path.rglob("*") if p.suffix in (".json", ".ndjson"))
    )
    if not files:
        message = f"There is no catalogue at '{path}'."
        raise InvalidValue(message, pointer="/path", mend="Name a folder of .json files or an .ndjson file.")
    seen: dict[tuple[str, str], Origin] = {}
    for file in files:
        for origin, text in _texts(file):
            for found in _read_one(origin, text):
                yield found if isinstance(found, FileFault) else _unless_repeated(found, seen)


def locate(origin: Origin, fault: Fault) -> FileFault:
    """Return a document's fault with the line it is on."""
    line = origin.line or _line_of(origin.file.read_bytes(), fault.pointer)
    return FileFault(origin.file, line, fault.pointer, fault.detail, fault.mend)


def write_folder(documents: Iterable[CatalogueDocument], folder: Path) -> int:
    """Write each document to a file and return how many. Raises InvalidValue if the folder is in use."""
    if folder.is_file() or (folder.exists() and any(folder.iterdir())):
        message = f"'{folder}' is not an empty folder."
        raise InvalidValue(message, pointer="/path", mend="Name a new or empty folder.")
    count = 0
    for count, document in enumerate(documents, 1):  # noqa: B007 - the last count is the answer
        place = folder / f"{kind_of(document)}s"
        if isinstance(document, VehicleDocument):
            place /= "".join(c if c.isalnum() else "-" for c in document.make.casefold())
        place.mkdir(parents=True, exist_ok=True)
        body = msgspec.json.format(msgspec.json.encode(document), indent=2)
        (place / f"{document.id}.json").write_bytes(body + b"\n")
    return count


def write_lines(documents: Iterable[CatalogueDocument], path: Path) -> int:
    """Write documents one to a line and return how many."""
    count = 0
    with path.open("wb") as file:
        for count, document in enumerate(documents, 1):  # noqa: B007 - the last count is the answer
            file.write(msgspec.json.encode(document) + b"\n")
    return count


def _texts(file: Path) -> Iterator[tuple[Origin, bytes]]:
    if file.suffix != ".ndjson":
        yield Origin(file, None), file.read_bytes()
        return
    with file.open("rb") as lines:
        for number, text in enumerate(lines, 1):
            if text.strip():
                yield Origin(file, number), text


def _read_one(origin: Origin, text: bytes) -> Iterator[Filed | FileFault]:
    value, faults = parse(text)
    if faults:
        line = origin.line or _malformed_line(text)
        likely = "" if origin.line else origin.file.stem
        yield from (FileFault(origin.file, line, f.pointer, f.detail, f.mend, likely) for f in faults)
        return
    document, faults = from_json(value)
    if TOO_DEEP not in faults:
        faults += repeated_names(text)
    if document is not None and not faults:
        yield Filed(document, origin)
    name = str(value.get("id", "")) if isinstance(value, dict) else ""
    for fault in faults:
        line = origin.line or _line_of(text, fault.pointer)
        yield FileFault(origin.file, line, fault.pointer, fault.detail, fault.mend, name)


def _unless_repeated(filed: Filed, seen: dict[tuple[str, str], Origin]) -> Filed | FileFault:
    name = (kind_of(filed.document), filed.document.id)
    first = seen.setdefault(name, filed.origin)
    if first is filed.origin:
        return filed
    detail = f"The {name[0]} '{name[1]}' is already in {first.file}."
    return locate(filed.origin, Fault("/id", detail, "Give it another id or remove one of the two."))


def _line_of(text: bytes, pointer: str) -> int:
    """Return the line on which a pointer's value begins, or that of the nearest thing around it."""
    if not pointer:
        return 1 + text[: len(text) - len(text.lstrip())].count(b"\n")
    try:
        places = _places(text)
    except RecursionError:  # under the first of two equal names anything may stand
        return 1
    while pointer and _unescaped(pointer) not in places:
        pointer = pointer.rpartition("/")[0]
    found = places[_unescaped(pointer)]
    return 1 + int((found.key_start or found.value_start).line)


def _unescaped(pointer: str) -> str:
    """Return a pointer as the source map writes it: without the escapes of RFC 6901."""
    return pointer.replace("~1", "/").replace("~0", "~")


@lru_cache(maxsize=1)
def _places(text: bytes) -> Any:
    """Return where in a text everything stands; the faults of a file ask for this one after the other."""
    return json_source_map.calculate(text.decode())


def _malformed_line(text: bytes) -> int:
    """Return the line that spoils a text: with the lines before it, it could still become JSON."""
    lines = text.split(b"\n")
    spoilt = range(1, len(lines) + 1)
    found = bisect_left(spoilt, True, key=lambda count: not _may_go_on(b"\n".join(lines[:count])))
    return min(found + 1, len(lines))


def _may_go_on(text: bytes) -> bool:
    _, faults = parse(text)
    return not faults or not text.strip() or "truncated" in faults[0].detail
