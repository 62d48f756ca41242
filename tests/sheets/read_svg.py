"""Reading an SVG sheet back as a measuring reader would: numbers and lettering, nothing of our model."""

import math
import re
import xml.etree.ElementTree as ET

from snapline_service.sheets.lettering import ASCENT, DESCENT, text_width_mm

SVG = "{http://www.w3.org/2000/svg}"


class Sheet:
    """A parsed sheet with its named elements."""

    def __init__(self, svg):
        self.root = ET.fromstring(svg)
        self.texts = list(self.root.iter(f"{SVG}text"))

    def named(self, name):
        found = [element for element in self.root.iter() if element.get("data-name") == name]
        assert len(found) == 1, f"{len(found)} elements named {name}"
        return found[0]

    def names(self):
        return {element.get("data-name") for element in self.root.iter()} - {None}

    def words(self):
        return [text.text for text in self.texts]

    def words_named(self, name):
        return " ".join(text.text for text in self.texts if text.get("data-name") == name)

    def scale(self):
        (found,) = [match for text in self.words() if (match := re.fullmatch(r"1:(\d+)", text))]
        return int(found[1])

    def centre(self, name):
        circle = self.named(name)
        return float(circle.get("cx")), float(circle.get("cy"))

    def page(self):
        return tuple(float(part) for part in self.root.get("viewBox").split())


def polygon(element):
    return [tuple(float(v) for v in pair.split(",")) for pair in element.get("points").split()]


def arrow_tips(group):
    """Give the tips of a group's arrowheads: their first corners."""
    return [polygon(head)[0] for head in group.iter(f"{SVG}polygon")]


def lettered_box(text):
    """Give left, top, right and bottom of a text's estimated room, turned or not."""
    size, x, y = (float(text.get(key)) for key in ("font-size", "x", "y"))
    width = text_width_mm(text.text, size, bold=text.get("font-weight") == "bold")
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


def drawn_points(root):
    """Give every coordinate pair of every element, lettering by the corners of its room."""
    for element in root.iter():
        match element.tag.removeprefix(SVG):
            case "line":
                yield float(element.get("x1")), float(element.get("y1"))
                yield float(element.get("x2")), float(element.get("y2"))
            case "polygon":
                yield from polygon(element)
            case "circle":
                x, y, r = (float(element.get(key)) for key in ("cx", "cy", "r"))
                yield x - r, y - r
                yield x + r, y + r
            case "text":
                left, top, right, bottom = lettered_box(element)
                yield left, top
                yield right, bottom


def overlapping(texts, slack_mm=0.002):
    """Give the pairs of texts whose rooms overlap by more than the file's rounding."""
    boxes = [(text.text, lettered_box(text)) for text in texts]
    return [
        (first, second)
        for i, (first, a) in enumerate(boxes)
        for second, b in boxes[:i]
        if min(a[2], b[2]) - max(a[0], b[0]) > slack_mm and min(a[3], b[3]) - max(a[1], b[1]) > slack_mm
    ]
