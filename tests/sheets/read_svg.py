"""Reading an SVG sheet back as a measuring reader would: numbers and lettering, nothing of our model."""

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence

from snapline_service.sheets.lettering import ASCENT, DESCENT, text_width_mm

Point = tuple[float, float]

SVG = "{http://www.w3.org/2000/svg}"


class Sheet:
    """A parsed sheet with its named elements."""

    def __init__(self, svg: str) -> None:
        self.root = ET.fromstring(svg)
        self.texts = list(self.root.iter(f"{SVG}text"))

    def named(self, name: str) -> ET.Element:
        found = [element for element in self.root.iter() if element.get("data-name") == name]
        assert len(found) == 1, f"{len(found)} elements named {name}"
        return found[0]

    def names(self) -> set[str]:
        return {name for element in self.root.iter() if (name := element.get("data-name"))}

    def words(self) -> list[str]:
        return [text.text or "" for text in self.texts]

    def words_named(self, name: str) -> str:
        return " ".join(text.text or "" for text in self.texts if text.get("data-name") == name)

    def scale(self) -> int:
        (found,) = [match for text in self.words() if (match := re.fullmatch(r"1:(\d+)", text))]
        return int(found[1])

    def centre(self, name: str) -> Point:
        circle = self.named(name)
        return number(circle, "cx"), number(circle, "cy")

    def page(self) -> Point:
        _, _, width, height = (float(part) for part in self.root.attrib["viewBox"].split())
        return width, height


def number(element: ET.Element, key: str) -> float:
    return float(element.attrib[key])


def polygon(element: ET.Element) -> list[Point]:
    pairs = (pair.split(",") for pair in element.attrib["points"].split())
    return [(float(x), float(y)) for x, y in pairs]


def arrow_tips(group: ET.Element) -> list[Point]:
    """Give the tips of a group's arrowheads: their first corners."""
    return [polygon(head)[0] for head in group.iter(f"{SVG}polygon")]


def lettered_box(text: ET.Element) -> tuple[float, float, float, float]:
    """Give left, top, right and bottom of a text's estimated room, turned or not."""
    size, x, y = (number(text, key) for key in ("font-size", "x", "y"))
    width = text_width_mm(text.text or "", size, bold=text.get("font-weight") == "bold")
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[text.get("text-anchor", "start")]
    turn = re.match(r"rotate\((\S+) ", text.get("transform", ""))
    angle = math.radians(float(turn[1])) if turn else 0.0  # SVG turns clockwise, y down
    corners = [
        (x + a * math.cos(angle) - b * math.sin(angle), y + a * math.sin(angle) + b * math.cos(angle))
        for a in (left, left + width)
        for b in (-ASCENT * size, DESCENT * size)
    ]
    xs, ys = zip(*corners, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def drawn_points(root: ET.Element) -> Iterator[Point]:
    """Give every coordinate pair of every element, lettering by the corners of its room."""
    for element in root.iter():
        match element.tag.removeprefix(SVG):
            case "line":
                yield number(element, "x1"), number(element, "y1")
                yield number(element, "x2"), number(element, "y2")
            case "polygon":
                yield from polygon(element)
            case "circle":
                x, y, r = (number(element, key) for key in ("cx", "cy", "r"))
                yield x - r, y - r
                yield x + r, y + r
            case "text":
                left, top, right, bottom = lettered_box(element)
                yield left, top
                yield right, bottom


def overlapping(texts: Sequence[ET.Element], slack_mm: float = 0.002) -> list[tuple[str, str]]:
    """Give the pairs of texts whose rooms overlap by more than the file's rounding."""
    boxes = [(text.text or "", lettered_box(text)) for text in texts]
    return [
        (first, second)
        for i, (first, a) in enumerate(boxes)
        for second, b in boxes[:i]
        if min(a[2], b[2]) - max(a[0], b[0]) > slack_mm and min(a[3], b[3]) - max(a[1], b[1]) > slack_mm
    ]
