"""What is set and checked at a fixture once it stands: height, both distances, angles, each with a blank."""

from collections.abc import Iterator

from snapline.wire.catalogue import PlacementTolerance
from snapline.wire.setups import PlacedFixture
from snapline_service.setups import wording
from snapline_service.setups.facing import degrees, facing, lean, tilt
from snapline_service.setups.figures import limit
from snapline_service.sheets.document import Blank, Cell, Column, Table
from snapline_service.sheets.lengths import Units

_STANDS = {"square": "square", "along": "in line"}


def table(placements: tuple[PlacedFixture, ...], units: Units) -> Table:
    """Return the table of a stage."""
    columns = (
        Column("No.", 8),
        Column("What", 62),
        Column("To be", 26, is_figure=True),
        Column("Within", 22),
        Column("As set", 22),
        Column("Initials", 14),
    )
    rows = (
        (str(number), *row) for number, item in enumerate(placements, start=1) for row in _rows(item, units)
    )
    return Table("Set and check", columns, tuple(rows), note="'Within' holds either way.")


def reference_point(item: PlacedFixture) -> str:
    """Return what the placement fixes of the fixture."""
    return item.fixture.reference_point if item.fixture else "reference point"


def within(limit_mm: float | None, units: Units) -> str:
    """Return a tolerance, never rounded up."""
    return limit(limit_mm, units).replace(".0 ", " ") if limit_mm else "not stated"


def _rows(item: PlacedFixture, units: Units) -> Iterator[tuple[Cell, ...]]:
    tolerance = item.tolerance or PlacementTolerance()
    if item.in_vehicle.z_mm or tolerance.height_mm:
        what, height_mm = f"height of the {reference_point(item)} above the floor", item.in_vehicle.z_mm
        if item.floor and item.floor.height_setting_mm is not None:
            what, height_mm = f"{what} at its feet, corrected for the floor", item.floor.height_setting_mm
        yield _row(what, wording.length(height_mm, units), within(tolerance.height_mm, units), units)
    yield from _distances(item, tolerance, units)
    stands = facing(item.placement, item.in_vehicle)
    for what, to_be, limit_deg in (
        (stands, _STANDS.get(stands.partition(" ")[0], "so"), tolerance.yaw_deg),
        ("upright, seen from its side", tilt(item.placement.pitch_deg), tolerance.pitch_deg),
        ("level, seen from behind it", lean(item.placement.roll_deg), tolerance.roll_deg),
    ):
        if limit_deg:
            yield _row(what, to_be, degrees(limit_deg), "°")


def _distances(
    item: PlacedFixture, tolerance: PlacementTolerance, units: Units
) -> Iterator[tuple[Cell, ...]]:
    placement = item.placement
    aim_yaw_deg = item.in_vehicle.yaw_deg - placement.yaw_deg
    for text, distance_mm, limit_mm in (
        (wording.along(placement, aim_yaw_deg, units), placement.along.distance_mm, tolerance.along_mm),
        (wording.lateral(placement, aim_yaw_deg, units), placement.lateral.distance_mm, tolerance.lateral_mm),
    ):
        if text:
            figure = wording.length(distance_mm, units)
            to_be = figure if text.startswith(figure) else "on it"
            yield _row(text.removeprefix(figure).strip(), to_be, within(limit_mm, units), units)


def _row(what: str, to_be: str, allowed: str, unit: str) -> tuple[Cell, ...]:
    return what[0].upper() + what[1:], to_be, allowed, Blank(unit), Blank()
