"""How much room lettering takes, without a font at hand: widths by table, wrapping, cutting short."""

import math
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from typing import NamedTuple

from snapline_service.sheets.drawing import Text

# Advance widths of Helvetica, which Arial and Liberation Sans share, in thousandths of the em (Adobe's
# published font metrics for Helvetica).
_CHARACTERS_BY_WIDTH = {
    222: "'`ijl",
    260: "|",
    278: " \N{NO-BREAK SPACE}!,./:;I[\\]ft",
    333: "()-r",
    334: "{}",
    355: '"',
    389: "*",
    469: "^",
    500: "Jcksvxyz",
    556: "#$0123456789?L_abdeghnopqu–",
    584: "+<=>~−×±",
    611: "FTZ",
    667: "&ABEKPSVXY",
    722: "CDHNRUw",
    778: "GOQ",
    833: "Mm",
    889: "%",
    944: "W",
    1015: "@",
}
_WIDTHS = {character: width for width, group in _CHARACTERS_BY_WIDTH.items() for character in group}
_UNKNOWN_WIDTH = 1000
_NO_BREAK = "\N{NO-BREAK SPACE}"
_SAFETY = 1.06  # the reader's font may be a little wider
_BOLD = 1.1
ASCENT = 0.78
DESCENT = 0.24
CAPITAL_MIDDLE = 0.36  # half a capital's height, in ems
LINE_PITCH = 1.3


class Box(NamedTuple):
    """An upright rectangle on the paper, y down."""

    x_min: float
    y_min: float
    x_max: float
    y_max: float

    def grown(self, margin_mm: float) -> "Box":
        """Give the rectangle with a margin on every side."""
        return Box(
            self.x_min - margin_mm, self.y_min - margin_mm, self.x_max + margin_mm, self.y_max + margin_mm
        )

    def holds(self, other: "Box") -> bool:
        """Tell whether another rectangle lies inside."""
        return (
            self.x_min <= other.x_min
            and self.y_min <= other.y_min
            and other.x_max <= self.x_max
            and other.y_max <= self.y_max
        )


@dataclass(frozen=True, slots=True)
class Lettered:
    """A line of lettering without a place yet."""

    text: str
    size_mm: float
    bold: bool = False


def tidy(text: str) -> str:
    """Put one space for any run of white space and leave out characters that do not print.

    A no-break space stays: it holds a figure and its fraction together.
    """
    spaced = _NO_BREAK.join(" ".join(part.split()) for part in text.split(_NO_BREAK))
    if spaced.isascii() and spaced.isprintable():
        return spaced
    return "".join(c for c in spaced if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Cn", "Co"))


def text_width_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Estimate a line's width, rather too wide than too narrow."""
    return sum(map(_character_width, text)) * _em_mm(size_mm, bold=bold)


def text_box(text: Text) -> Box:
    """Give the smallest upright rectangle about a line of lettering, turned or not."""
    width = text_width_mm(text.text, text.size_mm, bold=text.bold)
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    above, below = -ASCENT * text.size_mm, DESCENT * text.size_mm
    cos, sin = math.cos(math.radians(text.rotation_deg)), math.sin(math.radians(text.rotation_deg))
    corners = [
        (text.at[0] + x * cos + y * sin, text.at[1] - x * sin + y * cos)
        for x in (left, left + width)
        for y in (above, below)
    ]
    xs, ys = zip(*corners, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


def wrap(text: str, size_mm: float, width_mm: float, *, most_lines: int, bold: bool = False) -> list[str]:
    """Break a text into lines that fit; what goes beyond ``most_lines`` is cut short with '…'."""
    lines: list[str] = []
    rest = tidy(text)
    while rest and len(lines) < most_lines:
        line = _fitting(rest, size_mm, width_mm, bold=bold)
        lines.append(line)
        rest = rest[len(line) :].strip()
    if rest:
        last = lines[-1]
        while last and text_width_mm(last + "…", size_mm, bold=bold) > width_mm:
            last = last[:-1]
        lines[-1] = last.rstrip() + "…"
    return lines


def _fitting(text: str, size_mm: float, width_mm: float, *, bold: bool) -> str:
    """Give the longest start of a text that fits, up to a space if there is one; at least a character."""
    room = width_mm / _em_mm(size_mm, bold=bold)
    ends = accumulate(map(_character_width, text))
    count = next((i for i, end in enumerate(ends) if end > room), len(text))
    if count == len(text):
        return text
    space = text.rfind(" ", 1, count + 1)
    return text[:space] if space > 0 else text[: max(1, count)]


def _em_mm(size_mm: float, *, bold: bool) -> float:
    """Give a thousandth of an em, made wider for safety."""
    return size_mm / 1000 * _SAFETY * (_BOLD if bold else 1.0)


@lru_cache(4096)
def _character_width(character: str) -> int:
    if character in _WIDTHS:
        return _WIDTHS[character]
    base = unicodedata.normalize("NFD", character)[0]  # an accent does not widen its letter
    if unicodedata.combining(base):
        return 0
    return _WIDTHS.get(base, _UNKNOWN_WIDTH)
