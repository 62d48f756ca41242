"""The plan view of one stage: to scale, dimensioned, from above, as an A4 or A3 sheet.

Lines by ISO 128, dimensions by ISO 129-1, sheet by ISO 5457, scales by ISO 5455. Forward is to the right of
the paper, the vehicle's left is at the top.
"""

from functools import cache
from typing import Literal

from snapline_service.sheets.drawing import OUTLINE, Drawing, Item, Point, Polygon, Text
from snapline_service.sheets.field import Lettering, description, drawn
from snapline_service.sheets.lengths import Units
from snapline_service.sheets.lettering import Box, tidy, wrap
from snapline_service.sheets.scene import PlanScene
from snapline_service.sheets.title_block import Strip, compose, draw_strip

Paper = Literal["A4 landscape", "A3 landscape"]

PAPERS_MM: dict[Paper, tuple[float, float]] = {"A4 landscape": (297.0, 210.0), "A3 landscape": (420.0, 297.0)}

MARGIN_MM, FILING_MARGIN_MM = 10.0, 20.0  # ISO 5457
_FIELD_INSET_MM = 3.0
_BANNER_MM, _BANNER_HEIGHT_MM = 6.0, 9.0


def plan_view(scene: PlanScene, *, paper: Paper = "A4 landscape", units: Units = "mm") -> Drawing:
    """Draw one stage at the largest scale at which it fits the paper, or one smaller to give its labels room.

    Fixtures carry their statements at their place, or numbers and a list where these have no room. Raises
    ``InvalidValue`` when the stage does not fit at the smallest scale or has too many fixtures for a sheet.
    """
    width, height = PAPERS_MM[paper]
    frame = Box(FILING_MARGIN_MM, MARGIN_MM, width - MARGIN_MM, height - MARGIN_MM)
    banner_mm = _BANNER_HEIGHT_MM if tidy(scene.banner) else 0.0

    @cache
    def strip_for(lettering: Lettering) -> Strip:
        return compose(scene, frame.x_max - frame.x_min, numbered=lettering == "numbers")

    def field_of(lettering: Lettering) -> Box:
        bottom = frame.y_max - strip_for(lettering).height_mm
        return frame._replace(y_min=frame.y_min + banner_mm, y_max=bottom).grown(-_FIELD_INSET_MM)

    plan, lettering = drawn(scene, "statements", units, field_of)
    strip = strip_for(lettering)
    foot = frame._replace(y_min=frame.y_max - strip.height_mm)
    surround = (*_frame(frame), *_banner(scene, frame), *draw_strip(strip, foot, plan.on.scale, units))
    title = " – ".join(tidy(line) for line in scene.title_lines)
    return Drawing(width, height, (*surround, *plan.items), title, description(plan))


def _frame(frame: Box) -> tuple[Item, ...]:
    return (Polygon(_corners(frame), OUTLINE, name="frame"),)


def _banner(scene: PlanScene, frame: Box) -> tuple[Item, ...]:
    """Draw the banner across the head of the sheet, boxed."""
    lines = wrap(scene.banner, _BANNER_MM, frame.x_max - frame.x_min - 4.0, most_lines=1, bold=True)
    if not lines:
        return ()
    band = frame._replace(y_max=frame.y_min + _BANNER_HEIGHT_MM)
    at = ((band.x_min + band.x_max) / 2, band.y_max - 2.4)
    text = Text(at, lines[0], _BANNER_MM, "middle", bold=True, name="banner")
    return Polygon(_corners(band), OUTLINE), text


def _corners(box: Box) -> tuple[Point, ...]:
    return (box.x_min, box.y_min), (box.x_max, box.y_min), (box.x_max, box.y_max), (box.x_min, box.y_max)
