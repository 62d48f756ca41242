"""Read and write catalogues as files: a folder of JSON documents, or one NDJSON file."""

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import json_source_map
import msgspec
from msgspec import Struct

from snapline.wire.catalogue import CatalogueDocument, VehicleDocument
from snapline_service.catalogue.documents import from_json, kind_of
from snapline_service.errors import Fault, InvalidValue
from snapline_service.faults import parse


class Origin(Struct, frozen=True):
    """The file a document was read from, and its line in a file of many documents."""

    file: Path
    line: int | None


class Filed(Struct, frozen=True):
    """A document and where it came from."""

    document: CatalogueDocument
    origin: Origin


class FileFault(Struct, frozen=True):
    """One thing wrong in a file. ``field`` is an RFC 6901 pointer into the document."""

    file: Path
    line: int
    field: str
    detail: str
    mend: str


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
    if folder.exists() and any(folder.iterdir()):
        message = f"'{folder}' is not empty."
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
    faults = faults or _repeated_fields(text)
    document = None
    if not faults:
        document, faults = from_json(value)
    if document is not None:
        yield Filed(document, origin)
    for fault in faults:
        line = origin.line or (_malformed_line(text) if fault.code == "MALFORMED_JSON" else None)
        line = line or _line_of(text, fault.pointer)
        yield FileFault(origin.file, line, fault.pointer, fault.detail, fault.mend)


def _unless_repeated(filed: Filed, seen: dict[tuple[str, str], Origin]) -> Filed | FileFault:
    name = (kind_of(filed.document), filed.document.id)
    first = seen.setdefault(name, filed.origin)
    if first is filed.origin:
        return filed
    detail = f"The {name[0]} '{name[1]}' is already in {first.file}."
    return locate(filed.origin, Fault("/id", detail, "Give it another id or remove one of the two."))


def _repeated_fields(text: bytes) -> list[Fault]:
    """Return a fault for each field that an object gives twice, which JSON readers silently pass over."""
    repeated: list[str] = []

    def note(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        fields = dict(pairs)
        if len(fields) < len(pairs):
            names = [name for name, _ in pairs]
            repeated.extend(name for name in fields if names.count(name) > 1)
        return fields

    json.loads(text, object_pairs_hook=note)
    return [
        Fault("", f"The field '{name}' stands twice in one object.", "Keep one of them.") for name in repeated
    ]


def _line_of(text: bytes, pointer: str) -> int:
    """Return the line on which a pointer's value begins, or that of the nearest thing around it."""
    places = json_source_map.calculate(text.decode())
    while pointer and pointer not in places:
        pointer = pointer.rpartition("/")[0]
    found = places[pointer]
    return 1 + int((found.key_start or found.value_start).line)


def _malformed_line(text: bytes) -> int:
    try:
        json.loads(text)
    except json.JSONDecodeError as error:
        return error.lineno
    except UnicodeDecodeError as error:
        return 1 + text[: error.start].count(b"\n")
    except RecursionError:
        pass
    return 1
