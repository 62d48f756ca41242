"""The code on a sheet that a telephone reads: the same words as beneath it, nothing else."""

from functools import lru_cache

import segno

from snapline_service.sheets.drawing import Code, Point

_BORDER = 4  # ISO/IEC 18004: four light squares all round


@lru_cache(64)
def squares(text: str) -> tuple[str, ...]:
    """Give the rows of a QR code, its light border included, at error correction level M."""
    code = segno.make_qr(text, error="m", boost_error=False)
    return tuple("".join("1" if dark else "0" for dark in row) for row in code.matrix_iter(border=_BORDER))


def code(text: str, at: Point, side_mm: float) -> Code:
    """Draw a text as a code of a given size."""
    rows = squares(text)
    return Code(at, side_mm / len(rows), rows, name="code")
