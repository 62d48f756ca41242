"""Whatever stands wherever: the sheet stays whole and legible."""

import math
import xml.etree.ElementTree as ET

from hypothesis import given, settings
from hypothesis import strategies as st

from sheets.read_svg import Sheet, drawn_points, overlapping
from sheets.scenes import CAR, FRONT_MM, around, rectangle
from snapline_service.sheets.plan_view import plan_view
from snapline_service.sheets.scene import (
    AimLine,
    Distance,
    FixtureView,
    Foot,
    PlanScene,
    SensorView,
)
from snapline_service.sheets.svg import to_svg

names = st.text(max_size=60) | st.sampled_from(["Board A", "Reflector left", "W" * 120, "", "a <b> & 'c'"])
turns = st.floats(-180, 180)


@st.composite
def fixtures(draw: st.DrawFn) -> FixtureView:
    """A fixture anywhere about the car, counted along any direction."""
    x, y = draw(st.floats(-7000, 12000)), draw(st.floats(-6000, 6000))
    facing, aim = draw(st.none() | turns), draw(st.sampled_from([0.0, 90.0, -90.0, 180.0, 0.5]) | turns)
    datum = draw(st.sampled_from([(FRONT_MM, 0.0), (0.0, 0.0), (-700.0, 650.0)]))
    ux, uy = math.cos(math.radians(aim)), math.sin(math.radians(aim))
    along_mm = (x - datum[0]) * ux + (y - datum[1]) * uy
    foot = (datum[0] + along_mm * ux, datum[1] + along_mm * uy)
    long_mm, wide_mm = draw(st.floats(50, 2000)), draw(st.floats(50, 3000))
    base = rectangle(x, y, long_mm, wide_mm, facing or 0.0)
    zone_mm = draw(st.none() | st.floats(500, 4000))
    return FixtureView(
        label=draw(names),
        reference=(x, y),
        facing_deg=facing,
        along=Distance(
            datum, foot, f"{abs(along_mm):,.0f} mm {'ahead of' if along_mm > 0 else 'behind'} datum"
        ),
        lateral=Distance(foot, (x, y), f"{math.dist(foot, (x, y)):,.0f} mm to the side"),
        height_text="centre 900 mm above floor",
        footprint=base if draw(st.booleans()) else (),
        feet=tuple(Foot(draw(names), *corner) for corner in base[: draw(st.integers(0, 4))]),
        clear_zone=rectangle(x, y, zone_mm, zone_mm, facing or 0.0) if zone_mm else (),
        notes=tuple(draw(st.lists(names, max_size=2))),
    )


@st.composite
def stages(draw: st.DrawFn) -> PlanScene:
    standing = tuple(draw(st.lists(fixtures(), max_size=8)))
    sensors = st.builds(SensorView, names, st.floats(-900, 3500), st.floats(-900, 900), turns)
    aims = st.builds(AimLine, names, st.floats(-900, 3500), st.floats(-900, 900), turns, st.booleans())
    return PlanScene(
        title_lines=tuple(draw(st.lists(names, max_size=7))),
        vehicle=CAR,
        fixtures=standing,
        extent=around(standing),
        sensors=tuple(draw(st.lists(sensors, max_size=4))),
        aim_lines=tuple(draw(st.lists(aims, max_size=3))),
        revision_text=draw(names),
        banner=draw(names),
        warnings=tuple(draw(st.lists(names, max_size=12))),
        cautions=tuple(draw(st.lists(names, max_size=12))),
    )


@settings(max_examples=40, deadline=None)
@given(stages())
def test_any_stage_stays_inside_the_frame_with_no_lettering_overlapping(stage: PlanScene) -> None:
    sheet = Sheet(to_svg(plan_view(stage)))
    width, height = sheet.page()
    for x, y in drawn_points(sheet.root):
        assert 20.0 - 0.1 <= x <= width - 10.0 + 0.1
        assert 10.0 - 0.1 <= y <= height - 10.0 + 0.1
    assert overlapping(sheet.texts) == []


@settings(max_examples=10, deadline=None)
@given(stages())
def test_any_stage_gives_the_same_file_twice_and_every_fixture_is_marked(stage: PlanScene) -> None:
    first, second = to_svg(plan_view(stage)), to_svg(plan_view(stage))
    assert first == second
    ET.fromstring(first)
    sheet = Sheet(first)
    left_out = sheet.words_named("left_out")
    for number in range(1, len(stage.fixtures) + 1):
        marks = {f"fixture.{number}.label", f"fixture.{number}.number"}
        assert marks & sheet.names() or f"fixture {number}" in left_out
