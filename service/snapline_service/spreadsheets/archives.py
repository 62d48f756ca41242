"""ZIP files, of which workbooks are some: how much they really unpack to, and where formulas stand."""

import io
import lzma
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from xml.etree import ElementTree

from snapline_service.errors import BodyTooLarge, InvalidValue

MAX_UNPACKED_BYTES = 200_000_000
_MAX_MEMBERS = 200
_PIECE_BYTES = 1 << 20
# All that the standard library raises for damaged or protected ZIP files.
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    EOFError,
    LookupError,
    NotImplementedError,
    OSError,
    RuntimeError,
    ValueError,
)
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")


def is_archive(body: bytes) -> bool:
    """Whether a file is a ZIP file."""
    return body.startswith(b"PK")


def members(body: bytes) -> list[str]:
    """Return the names in a ZIP file, once it is known to be sound and not too large.

    Raises InvalidValue, BodyTooLarge. What a ZIP file says of its own size is not believed: it is unpacked.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(body)) as files:
            names = files.namelist()
            too_large = BodyTooLarge(
                "Unpacked, the file is too large.",
                mend=f"Import less at once: at most {MAX_UNPACKED_BYTES:,} bytes in {_MAX_MEMBERS} parts.",
            )
            if len(names) > _MAX_MEMBERS:
                raise too_large
            size = 0
            for name in names:
                for piece in _pieces(files, name):
                    size += len(piece)
                    if size > MAX_UNPACKED_BYTES:
                        raise too_large
    except _DAMAGED as error:
        detail = f"The file is damaged or protected: {error}."
        raise InvalidValue(detail, mend="Save it again, without a password.") from None
    return names


def formulas(body: bytes) -> Iterator[tuple[str, str]]:
    """Yield the part of a workbook and the address (``C7``) of every cell with a formula."""
    with zipfile.ZipFile(io.BytesIO(body)) as files:
        for name in files.namelist():
            if name.startswith("xl/worksheets/") and _has_formula(files, name):
                yield from _formulas_in(files, name)


def _has_formula(files: zipfile.ZipFile, name: str) -> bool:
    before = b""
    for piece in _pieces(files, name):
        if _FORMULA.search(before + piece):
            return True
        before = piece[-20:]
    return False


def _formulas_in(files: zipfile.ZipFile, name: str) -> Iterator[tuple[str, str]]:
    with files.open(name) as file:
        for _, element in ElementTree.iterparse(file):  # noqa: S314 - expat 2.4 and later bounds entities
            kind = element.tag.rpartition("}")[2]
            if kind == "c" and any(part.tag.rpartition("}")[2] == "f" for part in element):
                yield name, element.get("r", "")
            elif kind == "row":
                element.clear()


def _pieces(files: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    with files.open(name) as file:
        while piece := file.read(_PIECE_BYTES):
            yield piece
