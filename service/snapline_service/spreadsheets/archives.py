"""ZIP files, of which workbooks are some: how much they really unpack to."""

import io
import lzma
import struct
import zipfile
import zlib
from collections.abc import Iterator

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
                for piece in pieces(files, name):
                    size += len(piece)
                    if size > MAX_UNPACKED_BYTES:
                        raise too_large
    except _DAMAGED as error:
        detail = f"The file is damaged or protected: {error}."
        raise InvalidValue(detail, mend="Save it again, without a password.") from None
    return names


def pieces(files: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    """Yield what a part of a ZIP file unpacks to, little by little."""
    with files.open(name) as file:
        while piece := file.read(_PIECE_BYTES):
            yield piece
