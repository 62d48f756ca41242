"""The SVG writer: one drawing, one self-contained file that prints to scale and in grey.

Lines carry their ISO 128 number as ``data-line`` and every named item its name as ``data-name``. Attributes
only: no style sheet, no script, nothing fetched, so that the strictest content policy shows it unchanged.
"""

import html

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

_INK = "#000"
_PAPER = "#fff"
_FONT = "Helvetica, Arial, 'Liberation Sans', sans-serif"
_FILLS: dict[str, str] = {"paper": _PAPER, "solid": _INK}
# Thin strokes at 45 degrees: copies and grey print keep them where a tone would vanish.
_HATCH = (
    '<defs><pattern id="{name}" width="1.8" height="1.8" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path d="M0 0V1.8" stroke="#000" stroke-width="0.25"/></pattern></defs>'
)
_HALO_MM = 0.8


def to_svg(drawing: Drawing, *, hatch: str = "hatch") -> str:
    """Write a drawing as SVG 1.1 whose user unit is one paper millimetre.

    ``hatch`` names its hatching: in a page that holds several drawings, each needs a name of its own.
    """
    width, height = _number(drawing.width_mm), _number(drawing.height_mm)
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" font-family="{_FONT}" fill="none" stroke-linejoin="miter">'
    )
    return "\n".join(
        (
            opening,
            f"<title>{_escaped(drawing.title)}</title>",
            f"<desc>{_escaped(drawing.description)}</desc>",
            _HATCH.format(name=hatch),
            f'<rect width="{width}" height="{height}" fill="{_PAPER}"/>',
            *(_element(item, hatch) for item in drawing.items),
            "</svg>\n",
        )
    )


def _element(item: Item, hatch: str) -> str:
    match item:
        case Line():
            return f"<line{_name(item.name)}{_ends(item.start, item.end)}{_stroke(item.style)}/>"
        case Polygon():
            points = " ".join(f"{_number(x)},{_number(y)}" for x, y in item.points)
            look = _fill(item.fill, hatch) + _stroke(item.style)
            return f'<polygon{_name(item.name)} points="{points}"{look}/>'
        case Circle():
            x, y = item.centre
            place = f' cx="{_number(x)}" cy="{_number(y)}" r="{_number(item.radius_mm)}"'
            return f"<circle{_name(item.name)}{place}{_fill(item.fill, hatch)}{_stroke(item.style)}/>"
        case Text():
            return _text(item)
        case Code():
            side = _number(item.pitch_mm)
            bars = (
                f"M{_number(x)} {_number(y)}h{_number(w)}v{side}h-{_number(w)}z" for x, y, w in item.bars()
            )
            return f'<path{_name(item.name)} d="{"".join(bars)}" fill="{_INK}" shape-rendering="crispEdges"/>'
        case Arrow() | Dimension():
            return f"<g{_name(item.name)}>{''.join(_element(part, hatch) for part in item.parts())}</g>"


def _text(item: Text) -> str:
    x, y = _number(item.at[0]), _number(item.at[1])
    anchor = "" if item.anchor == "start" else f' text-anchor="{item.anchor}"'
    weight = ' font-weight="bold"' if item.bold else ""
    turn = f' transform="rotate({_number(-item.rotation_deg)} {x} {y})"' if item.rotation_deg else ""
    # The halo keeps lettering legible where a line must pass behind it.
    halo = f' stroke="{_PAPER}" stroke-width="{_HALO_MM}" paint-order="stroke"'
    return (
        f'<text{_name(item.name)} x="{x}" y="{y}" font-size="{_number(item.size_mm)}"{anchor}{weight}{turn}'
        f' fill="{_INK}"{halo}>{_escaped(item.text)}</text>'
    )


def _stroke(style: LineStyle | None) -> str:
    if style is None:
        return ""
    dash = f' stroke-dasharray="{" ".join(_number(d) for d in style.dash_mm)}"' if style.dash_mm else ""
    return f' data-line="{style.iso}" stroke="{_INK}" stroke-width="{_number(style.width_mm)}"{dash}'


def _fill(fill: Fill, hatch: str) -> str:
    return "" if fill == "none" else f' fill="{_FILLS.get(fill, f"url(#{hatch})")}"'


def _name(name: str) -> str:
    return f' data-name="{_escaped(name)}"' if name else ""


def _ends(start: Point, end: Point) -> str:
    return f' x1="{_number(start[0])}" y1="{_number(start[1])}" x2="{_number(end[0])}" y2="{_number(end[1])}"'


def _number(value: float) -> str:
    """Give three decimals at most: a micrometre of paper."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _escaped(text: str) -> str:
    return html.escape(text if text.isprintable() else "".join(c for c in text if _is_allowed(c)))


def _is_allowed(character: str) -> bool:
    """Tell whether XML 1.0 may contain a character (its production 2, 'Char')."""
    code = ord(character)
    return code in (9, 10, 13) or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000
