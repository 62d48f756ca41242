"""What a sheet says of each fixture: a label at its place, or a number where labels have no room."""

from snapline_service.sheets.callout import ANYWHERE_MM, LABEL, call_out, lead, on_edges
from snapline_service.sheets.drawing import Circle, Point, Text
from snapline_service.sheets.lettering import CAPITAL_MIDDLE, Lettered, wrap
from snapline_service.sheets.plan import Plan
from snapline_service.sheets.scene import FixtureView
from snapline_service.sheets.space import Terms

LABEL_MM = 3.5
_LABEL_WIDTHS_MM = (72.0, 50.0, 40.0)  # wide where there is room, else narrow
_RING_MM = 3.5


def fixture_statements(fixture: FixtureView) -> list[str]:
    """Give what a sheet says of a fixture, its name first."""
    distances = [distance.text for distance in (fixture.along, fixture.lateral) if distance]
    return [fixture.label, *distances, *filter(None, (fixture.height_text,)), *fixture.notes]


def label_fixtures(plan: Plan, *, with_statements: bool) -> bool:
    """Letter every fixture at its place, by its name or by all that is said; False if one has no room."""
    return all(
        any(_label(plan, fixture, number, width_mm, with_statements) for width_mm in _LABEL_WIDTHS_MM)
        for number, fixture in enumerate(plan.scene.fixtures, start=1)
    )


def number_fixtures(plan: Plan) -> None:
    """Put a number in a ring at every fixture, as parts are numbered on an assembly drawing (ISO 6433)."""
    for number, fixture in enumerate(plan.scene.fixtures, start=1):
        size_mm = (2 * _RING_MM, 2 * _RING_MM)
        targets = _targets(plan, fixture)
        spot = plan.space.spot(size_mm, targets, Terms(ANYWHERE_MM, LABEL.most_covered, plan.footprints()))
        if spot is None:
            plan.left_out.append(f"fixture {number}")
            continue
        centre = (spot.box.x_min + _RING_MM, spot.box.y_min + _RING_MM)
        at = (centre[0], centre[1] + LABEL_MM * CAPITAL_MIDDLE)
        plan.draw(
            Circle(centre, _RING_MM, fill="paper"),
            Text(at, str(number), LABEL_MM, "middle", bold=True, name=f"fixture.{number}.number"),
        )
        plan.space.letter(spot.box)
        lead(plan, spot, LABEL)


def _label(plan: Plan, fixture: FixtureView, number: int, width_mm: float, with_statements: bool) -> bool:
    label, *statements = fixture_statements(fixture) if with_statements else [fixture.label]
    heading = wrap(label, LABEL_MM, width_mm, most_lines=3, bold=True) or [f"fixture {number}"]
    body = [line for text in statements for line in wrap(text, LABEL_MM, width_mm, most_lines=4)]
    lines = [Lettered(line, LABEL_MM, bold=True) for line in heading]
    lines += [Lettered(line, LABEL_MM) for line in body]
    return call_out(plan, tuple(lines), _targets(plan, fixture), LABEL, name=f"fixture.{number}.label")


def _targets(plan: Plan, fixture: FixtureView) -> tuple[Point, ...]:
    if fixture.footprint:
        return on_edges(plan.on.outline(fixture.footprint))
    return (plan.on.paper(fixture.reference),)
