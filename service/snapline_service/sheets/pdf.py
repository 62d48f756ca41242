"""The PDF writer: every drawing a page, to scale, black alone.

Lettering is in Helvetica, which every reader of PDF has: its characters are those of Windows-1252. A letter
with an accent that is not among them loses the accent; anything else shows as '?'.
"""

import io
import math
import unicodedata
from collections.abc import Sequence
from functools import lru_cache

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from snapline_service.sheets.drawing import (
    Arrow,
    Circle,
    Code,
    Dimension,
    Drawing,
    Fill,
    Item,
    Line,
    LineStyle,
    Point,
    Polygon,
    Text,
)
from snapline_service.sheets.lettering import ASCENT, DESCENT

_HATCH_MM, _HATCH_WIDTH_MM = 1.8, 0.25
_FONTS = {False: "Helvetica", True: "Helvetica-Bold"}


def to_pdf(drawings: Sequence[Drawing], *, title: str, subject: str) -> bytes:
    """Write drawings as one PDF, a page each; equal drawings give equal bytes."""
    file = io.BytesIO()
    canvas = Canvas(file, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setSubject(subject)
    canvas.setCreator("Snapline")
    for drawing in drawings:
        _Page(canvas, drawing).draw()
        canvas.showPage()
    canvas.save()
    return file.getvalue()


class _Page:
    """One page being written, in paper millimetres with y upwards as PDF has it."""

    def __init__(self, canvas: Canvas, drawing: Drawing) -> None:
        self._canvas = canvas
        self._drawing = drawing

    def draw(self) -> None:
        drawing, canvas = self._drawing, self._canvas
        canvas.setPageSize((drawing.width_mm * mm, drawing.height_mm * mm))
        canvas.scale(mm, mm)
        canvas.setLineJoin(0)
        for item in drawing.items:
            self._item(item)

    def _item(self, item: Item) -> None:
        match item:
            case Line():
                self._stroke(item.style)
                self._canvas.line(*self._at(item.start), *self._at(item.end))
            case Polygon():
                self._polygon(item)
            case Circle():
                self._stroke(item.style)
                self._shade(item.fill)
                x, y = self._at(item.centre)
                self._canvas.circle(x, y, item.radius_mm, stroke=bool(item.style), fill=item.fill != "none")
            case Text():
                self._text(item)
            case Code():
                self._code(item)
            case Arrow() | Dimension():
                for part in item.parts():
                    self._item(part)

    def _polygon(self, item: Polygon) -> None:
        path = self._canvas.beginPath()
        path.moveTo(*self._at(item.points[0]))
        for point in item.points[1:]:
            path.lineTo(*self._at(point))
        path.close()
        if item.fill == "hatch":
            self._hatch(path, item.points)
        self._stroke(item.style)
        self._shade(item.fill)
        is_filled = item.fill in ("paper", "solid")
        if item.style or is_filled:
            self._canvas.drawPath(path, stroke=bool(item.style), fill=is_filled)

    def _hatch(self, path: object, points: tuple[Point, ...]) -> None:
        """Draw thin strokes at 45 degrees inside an outline."""
        canvas = self._canvas
        canvas.saveState()
        canvas.clipPath(path, stroke=0, fill=0)
        canvas.setDash()
        canvas.setStrokeGray(0)
        canvas.setLineWidth(_HATCH_WIDTH_MM)
        xs, ys = zip(*map(self._at, points), strict=True)
        height, step = max(ys) - min(ys), _HATCH_MM * math.sqrt(2.0)
        for number in range(math.ceil((max(xs) - min(xs) + height) / step)):
            x = min(xs) - height + number * step
            canvas.line(x, min(ys), x + height, max(ys))
        canvas.restoreState()

    def _text(self, item: Text) -> None:
        canvas, font, words = self._canvas, _FONTS[item.bold], _writable(item.text)
        width = canvas.stringWidth(words, font, item.size_mm)
        left = {"start": 0.0, "middle": -width / 2, "end": -width}[item.anchor]
        canvas.saveState()
        canvas.translate(*self._at(item.at))
        canvas.rotate(item.rotation_deg)
        canvas.setFillGray(1)  # lines are interrupted where lettering stands (ISO 128)
        canvas.rect(left, -DESCENT * item.size_mm, width, (ASCENT + DESCENT) * item.size_mm, stroke=0, fill=1)
        canvas.setFillGray(0)
        canvas.setFont(font, item.size_mm)
        canvas.drawString(left, 0, words)
        canvas.restoreState()

    def _code(self, item: Code) -> None:
        path = self._canvas.beginPath()
        for x, y, width_mm in item.bars():
            left, top = self._at((x, y))
            path.rect(left, top - item.pitch_mm, width_mm, item.pitch_mm)
        self._canvas.setFillGray(0)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def _stroke(self, style: LineStyle | None) -> None:
        if style:
            self._canvas.setStrokeGray(0)
            self._canvas.setLineWidth(style.width_mm)
            self._canvas.setDash(list(style.dash_mm))

    def _shade(self, fill: Fill) -> None:
        self._canvas.setFillGray(1 if fill == "paper" else 0)

    def _at(self, point: Point) -> Point:
        return point[0], self._drawing.height_mm - point[1]


@lru_cache(4096)
def _writable(text: str) -> str:
    return "".join(map(_nearest_character, text))


def _nearest_character(character: str) -> str:
    for candidate in (character, unicodedata.normalize("NFKD", character)[0]):
        try:
            candidate.encode("cp1252")
        except UnicodeEncodeError:
            continue
        return candidate
    return "?"
