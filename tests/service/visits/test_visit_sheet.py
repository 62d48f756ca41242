"""What the sheet of a visit says and draws, for every demo vehicle."""

import html
import math
import re
from collections.abc import Iterator
from datetime import date

import msgspec
from shapely import LineString, Point, Polygon

from service.catalogue.demo import SITES, VEHICLES
from service.visits.demo_visit import everything, planned_at
from snapline.offline import RevisionFile
from snapline.wire.scope import RepairLine
from snapline.wire.setups import Setup, SetupRequest
from snapline.wire.vehicles import Vehicle
from snapline.wire.visits import PlannedPose, VisitPlan
from snapline_service.geometry.vehicle_marks import CLEARANCE_MM
from snapline_service.setups.actions import compute
from snapline_service.sheets.document import Cell, SheetDocument, Statements, Table
from snapline_service.sheets.drawing import DASHED, Circle, Drawing, Item, Text
from snapline_service.sheets.drawing import Polygon as DrawnPolygon
from snapline_service.sheets.pages import pages
from snapline_service.visits import sheet
from snapline_service.visits.bringing_in import taped_points
from snapline_service.visits.ordering import clock

MILL_ROAD = next(site for site in SITES if site.id == "mill-road")


def test_a_visits_sheet_says_how_each_drive_is_driven(
    planned: tuple[Vehicle, VisitPlan], file: RevisionFile
) -> None:
    """The driver has this sheet alone: speed, sign of the end, and what to do if it does not end."""
    _, made = planned
    issued = sheet.issue(SITES, made, "Wendelbrook workshops (invented)", date(2027, 6, 14))
    text = html.unescape(sheet.as_html(file, made, issued, "a4"))
    for drive in made.sites[0].drives:
        limits = drive.conditions
        assert f"{limits.speed_min_kmh:g} to {limits.speed_max_kmh:g} km/h" in text
        assert limits.finished_sign in text
        assert limits.if_not_finished in text


def test_a_car_is_brought_in_by_wheel_marks_taped_from_solid_walls(
    planned: tuple[Vehicle, VisitPlan], file: RevisionFile
) -> None:
    """In a rectangle the tapes are the marks' own coordinates, or what is left of length and depth."""
    vehicle, made = planned
    best, size = made.sites[0], vehicle.dimensions
    told = iter(_marks_told(_text(made, file)))
    bays = {bay.id: bay for site in SITES if site.id == best.site for bay in site.bays}
    for pose in best.poses:
        bay = bays[pose.bay]
        length_mm, depth_mm = (max(axis) for axis in zip(*bay.ring, strict=True))
        axles = (
            ("Front", size.wheelbase_mm or 0.0, size.front_track_mm or 0.0),
            ("Rear", 0.0, size.rear_track_mm or 0.0),
        )
        for axle, ahead_mm, track_mm in axles:
            name, side, walls, figures = next(told)
            assert name == axle
            out_mm = track_mm / 2 + (size.tyre_width_mm or 0.0) / 2 + CLEARANCE_MM
            x_mm, y_mm = _in_bay(pose, ahead_mm, out_mm if side == "left" else -out_mm)
            if len(bay.ring) != 4:
                continue
            from_wall = dict(enumerate((y_mm, length_mm - x_mm, depth_mm - y_mm, x_mm), 1))
            assert figures == tuple(round(from_wall[wall]) for wall in walls)
            feet = {1: (x_mm, 0.0), 2: (length_mm, y_mm), 3: (x_mm, depth_mm), 4: (0.0, y_mm)}
            doors = [LineString([door.start, door.end]) for door in bay.doors]
            for wall, is_solid in walls.items():
                assert is_solid == all(Point(feet[wall]).distance(door) > 1 for door in doors)


def test_without_a_tyres_width_the_axles_are_marked_on_the_empty_floor(file: RevisionFile) -> None:
    made = planned_at(file, "quellovane-lirra-2020-eu", "mill-road")
    setup = _setup(file, made)
    bay, pose = next(bay for bay in MILL_ROAD.bays), made.sites[0].poses[0]
    known = taped_points(setup, pose, bay)
    assert known is not None
    assert known.names[0].startswith("Front")
    assert "wheel mark" in known.names[0]
    unknown = taped_points(msgspec.structs.replace(setup, tyre_width_mm=None), pose, bay)
    assert unknown is not None
    assert unknown.names == ("Middle of the front axle", "Middle of the rear axle")
    assert "Mark these on the empty floor, before the car comes in" in unknown.note


def test_a_plan_that_leaves_a_system_out_says_so_on_every_page_and_before_hand_over(
    file: RevisionFile,
) -> None:
    made = _mesquin(file, "north-quay")
    assert made.outcome == "cannot"
    document = sheet.document(file, made, _issue(made))
    said = (
        "NOT COMPLETE: front-corner radars are called for and not aimed; do not release the car as finished"
    )
    assert document.banners == (said, "INVENTED DATA")
    for page in pages(document):
        words = " ".join(item.text for item in page.items if isinstance(item, Text) and item.name == "banner")
        assert words == " ".join(document.banners), "a banner is whole on paper"
    warning, last = _steps(document)[-2:]
    assert warning[1] == f"{said}."
    assert str(last[1]).startswith("Tell the customer")


def test_what_may_be_called_for_and_cannot_be_done_is_doubtful_on_every_page(file: RevisionFile) -> None:
    made = planned_at(file, "mirandeux-celadine-2023-eu", "north-quay", options={"corner_radars": "yes"})
    document = sheet.document(file, made, _issue(made))
    said = "PERHAPS NOT COMPLETE: rear-corner radars are not aimed; find out first whether that is called for"
    assert document.banners[0] == said
    assert _steps(document)[-2][1] == f"{said}."


def test_a_plan_that_leaves_nothing_out_has_no_such_banner(file: RevisionFile) -> None:
    made = _mesquin(file, "mill-road")
    assert made.outcome == "can"
    assert "NOT COMPLETE" not in _text(made, file)


def test_the_cure_heads_the_steps(planned: tuple[Vehicle, VisitPlan], file: RevisionFile) -> None:
    _, made = planned
    rows = _steps(sheet.document(file, made, _issue(made)))
    cures = bool(rows and "The adhesive cures. Not on the road" in str(rows[0][1]))
    assert cures == (bool(rows) and made.sites[0].cure_min > 0)
    if cures:
        assert rows[0][0] == f"07:00 to {clock('07:00', made.sites[0].cure_min)}"


def test_the_steps_say_what_is_done_only_if_needed(file: RevisionFile) -> None:
    made = planned_at(file, "mirandeux-celadine-2023-eu", "copper-street")
    rows = _steps(sheet.document(file, made, _issue(made)))
    said = [str(row[1]).startswith("If needed: ") for row in rows if "NOT" not in str(row[1])]
    assert said[-len(made.sites[0].steps) :] == [step.conditional for step in made.sites[0].steps]
    assert any(said)


def test_what_hangs_is_overhead_and_drawn_without_hatch(file: RevisionFile) -> None:
    made = planned_at(file, "mirandeux-celadine-2023-eu", "copper-street")
    text = _text(made, file)
    assert "overhead, 2,150 to 2,600 mm above the floor: mind tall stands, tailgate and lifting" in text
    assert "in the bay " not in text
    (beam,) = _items(made, file, "obstacle.1")
    assert isinstance(beam, DrawnPolygon)
    assert (beam.style, beam.fill) == (DASHED, "none")


def test_a_bays_plan_names_doors_front_and_lines_and_no_number_hides_an_obstacle(file: RevisionFile) -> None:
    made = planned_at(file, "mirandeux-celadine-2023-eu", "north-quay")
    drawing = _drawing(made, file)
    said = [item.text for item in drawing.items if isinstance(item, Text)]
    assert {"folding door", "front", "wall 4", "5,000 mm"} <= set(said)
    assert any("Dashed: door, or overhead" in text for text in said)
    shapes = [
        Polygon(item.points)
        for item in drawing.items
        if isinstance(item, DrawnPolygon) and item.name.startswith("obstacle.")
    ]
    rings = [item for item in drawing.items if isinstance(item, Circle)]
    assert len(shapes) == 2
    for ring in rings:
        assert all(Point(ring.centre).distance(shape) > ring.radius_mm for shape in shapes)


def test_the_least_distance_says_between_what(file: RevisionFile) -> None:
    made = planned_at(file, "mirandeux-celadine-2023-eu", "north-quay")
    assert re.search(
        r"The least distance to a wall or obstacle is [\d,]+ mm: the car to south post\.", _text(made, file)
    )


def test_a_fixture_that_stands_through_two_stages_is_one(file: RevisionFile) -> None:
    name = "mirandeux-aurelle-2021-eu"
    at = {site.id: planned_at(file, name, site.id, *everything(name)) for site in SITES}
    stood = [made for made in at.values() if made.sites[0].poses]
    missed = [made for made in at.values() if any(b.kind == "no_fixture" for b in made.sites[0].blockers)]
    assert stood
    assert missed
    for made in stood:
        text = _text(made, file)
        assert text.count("In the stage after it still standing: do not move.") == 1
        assert len(_items(made, file, "fixture.1")) == len(_items(made, file, "fixture.2")) == 1
        assert not _items(made, file, "fixture.3")
    for made in missed:
        text = _text(made, file)
        assert "'laser'" in text
        assert "'laser still standing'" not in text


def test_where_only_the_makers_procedure_can_tell_nothing_is_cleared(file: RevisionFile) -> None:
    made = planned_at(
        file, "mirandeux-aurelle-2021-eu", "mill-road", RepairLine(operation="rear bumper cover")
    )
    text = _text(made, file)
    assert "nothing planned" in text
    assert "the maker's procedure is open for: Laser scanner" in text


def test_a_sheet_speaks_of_documents_and_options_by_their_names(
    planned: tuple[Vehicle, VisitPlan], file: RevisionFile
) -> None:
    vehicle, made = planned
    document = sheet.document(file, made, _issue(made))
    (unsure,) = [b for s in document.sections for b in s.blocks if b.title == "Not checked or assumed"]
    assert isinstance(unsure, Statements)
    said = [text for text in unsure.texts if text.startswith("UNCHECKED: not compared with ")]
    assert len(said) == len(made.unchecked)
    assert all(any(source.title in text for source in made.sources) for text in said)
    without = planned_at(
        file,
        vehicle.id,
        "mill-road",
        options={option.id: "no" for option in vehicle.options if option.availability == "optional"},
    )
    systems = next(
        b for b in sheet.document(file, without, _issue(without)).sections[0].blocks if b.title == "Systems"
    )
    assert isinstance(systems, Table)
    for row in systems.rows:
        assert not any("_" in option.id and option.id in str(row[2]) for option in vehicle.options)


def test_a_visit_asks_for_the_sheets_that_it_is_set_out_by(
    planned: tuple[Vehicle, VisitPlan], file: RevisionFile
) -> None:
    vehicle, made = planned
    text = _text(made, file)
    known = {one.id: one for one in vehicle.procedures}
    for name in {name for pose in made.sites[0].poses for name in pose.procedures}:
        assert (
            f"Bring the setting-out sheet of: {known[name].name} (snapline sheet {vehicle.id} {name})."
            in text
        )
        if any(p.placement.aim_line == "thrust_line" for s in known[name].stages for p in s.placements):
            assert "Read both rear toes at the wheel alignment and print its sheet anew with them." in text
        assert "Once marks are made the car must not move" in text
        assert "a second person guides" in text


def test_the_timeline_shows_how_long_the_adhesive_cures(
    planned: tuple[Vehicle, VisitPlan], file: RevisionFile
) -> None:
    _, made = planned
    issued = sheet.issue(SITES, made, "Wendelbrook workshops (invented)", date(2027, 6, 14))
    shown = "Adhesive cures: do not drive" in sheet.as_html(file, made, issued, "a4")
    assert shown == (bool(made.sites[0].steps) and made.sites[0].cure_min > 0)


def _mesquin(file: RevisionFile, site: str) -> VisitPlan:
    """Everything on a car with all that it may have."""
    name = "jorvantel-mesquin-2024-us"
    options = {option.id: "yes" for option in VEHICLES[name].options if not option.choice}
    return planned_at(file, name, site, *everything(name), options=options)


def _issue(made: VisitPlan) -> sheet.Issue:
    return sheet.issue(SITES, made, "Wendelbrook workshops (invented)", date(2027, 6, 14))


def _text(made: VisitPlan, file: RevisionFile) -> str:
    page = sheet.as_html(file, made, _issue(made), "a4")
    return html.unescape(re.sub("<[^>]*>", " ", page))


def _steps(document: SheetDocument) -> tuple[tuple[Cell, ...], ...]:
    found = [b for s in document.sections for b in s.blocks if isinstance(b, Table) and b.title == "Steps"]
    return found[0].rows if found else ()


def _drawing(made: VisitPlan, file: RevisionFile) -> Drawing:
    section = next(s for s in sheet.document(file, made, _issue(made)).sections if "where the car" in s.title)
    assert isinstance(section.plan, Drawing)
    return section.plan


def _items(made: VisitPlan, file: RevisionFile, name: str) -> list[Item]:
    return [item for item in _drawing(made, file).items if getattr(item, "name", "") == name]


def _setup(file: RevisionFile, made: VisitPlan) -> Setup:
    procedure = made.sites[0].poses[0].procedures[0]
    return compute(file, SetupRequest(vehicle_id=made.vehicle_id, procedure_id=procedure))


def _marks_told(text: str) -> Iterator[tuple[str, str, dict[int, bool], tuple[int, ...]]]:
    """Yield of every wheel mark: its axle, its side, two walls, each solid or not, and how far they are."""
    for table in text.split("Bring the car there")[1:]:
        headings = re.findall(r"From (the line of )?wall (\d)(, string across the door)?, mm", table)[:2]
        walls = {int(wall): not line for line, wall, _ in headings}
        row = r"(Front|Rear) (left|right) wheel mark: straight .*?floor\.\s+([\d,]+)\s+([\d,]+)"
        for axle, side, *figures in re.findall(row, table):
            yield axle, side, walls, tuple(int(mm.replace(",", "")) for mm in figures)


def _in_bay(pose: PlannedPose, x_mm: float, y_mm: float) -> tuple[float, float]:
    turn = math.radians(pose.pose.heading_deg)
    c, s = math.cos(turn), math.sin(turn)
    return pose.pose.x_mm + c * x_mm - s * y_mm, pose.pose.y_mm + s * x_mm + c * y_mm
