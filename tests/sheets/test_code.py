"""The printed code, against another encoder."""

import pytest
from reportlab.graphics.barcode.qrencoder import QR8bitByte, QRCode, QRErrorCorrectLevel

from snapline_service.sheets.code import code, squares

TEXTS = [
    "Snapline; catalogue revision 2; vehicle a-b-2020-eu; procedure camera-board; setup 0123456789abcdef",
    "é 字 – °",
    "A",
]


def other_encoder(text: str, version: int, mask: int) -> list[list[bool]]:
    """Encode by reportlab's own encoder, which shares no code with the one in use."""
    qr = QRCode(version, QRErrorCorrectLevel.M)
    qr.addData(QR8bitByte(text.encode()))
    qr.makeImpl(False, mask)
    return [[bool(dark) for dark in row] for row in qr.modules]


def test_another_encoder_makes_the_same_squares() -> None:
    # 106 bytes fill version 6 at level M (ISO/IEC 18004, table 7): the two pad shorter ones differently.
    rows = squares(TEXTS[0].ljust(106, "."))
    side = len(rows) - 8
    inner = [[square == "1" for square in row[4:-4]] for row in rows[4:-4]]
    version = (side - 17) // 4  # ISO/IEC 18004: 21 squares for version 1, four more for each next
    assert inner in [other_encoder(TEXTS[0].ljust(106, "."), version, mask) for mask in range(8)]


@pytest.mark.parametrize("text", TEXTS)
def test_a_light_border_of_four_squares_belongs_to_it(text: str) -> None:
    rows = squares(text)
    assert all(len(row) == len(rows) for row in rows)
    border = [*rows[:4], *rows[-4:], *(row[:4] + row[-4:] for row in rows)]
    assert set("".join(border)) == {"0"}


def test_it_is_drawn_at_its_size() -> None:
    drawn = code(TEXTS[0], (10.0, 20.0), 32.0)
    assert drawn.pitch_mm * len(drawn.rows) == pytest.approx(32.0)
    bars = list(drawn.bars())
    assert sum(width for _, _, width in bars) == pytest.approx(
        "".join(drawn.rows).count("1") * drawn.pitch_mm
    )
    # The finder pattern's upper edge: seven dark squares, four squares in from both sides.
    assert bars[0] == pytest.approx(
        (10.0 + 4 * drawn.pitch_mm, 20.0 + 4 * drawn.pitch_mm, 7 * drawn.pitch_mm)
    )
