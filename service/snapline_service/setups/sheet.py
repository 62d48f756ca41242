"""A setup as the document that a person works from: what to know first, then a part for each stage."""

import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import msgspec
import rfc8785

from snapline.wire.catalogue import DriveConditions
from snapline.wire.setups import Paper, Setup
from snapline_service.geometry.input_words import input_words, inputs_words, spoken
from snapline_service.setups import preparation
from snapline_service.setups.drawing import banners
from snapline_service.setups.facing import degrees, direction
from snapline_service.setups.sheet_stage import not_sure, stage_section
from snapline_service.setups.wording import length
from snapline_service.sheets.document import Block, Section, SheetDocument, Statements, TitleBlock
from snapline_service.sheets.lengths import Units
from snapline_service.sheets.page_html import to_html
from snapline_service.sheets.pages import pages

_HASH_LENGTH = 16
_THRUST = "vehicle.thrust_yaw_deg"


@dataclass(frozen=True, slots=True)
class Issue:
    """What a sheet says of itself that the setup does not know: whose it is, and of which day."""

    legal_owner: str
    date_of_issue: date


def as_html(setup: Setup, issue: Issue, paper: Paper) -> str:
    """Return the sheet as one self-contained page. Raises MissingDimension, InvalidValue."""
    return to_html(document(setup, issue), paper)


def as_pdf(setup: Setup, issue: Issue, paper: Paper) -> bytes:
    """Return the sheet for printing. Raises MissingDimension, InvalidValue."""
    from snapline_service.sheets.pdf import to_pdf  # noqa: PLC0415 - its library would slow the start

    title = f"{setup.vehicle_name} – {setup.procedure_name}"
    return to_pdf(pages(document(setup, issue), paper), title=title, subject="Setting-out sheet")


def document(setup: Setup, issue: Issue) -> SheetDocument:
    """Return a setup as a document. Raises MissingDimension if a dimension of the vehicle is not known."""
    number = setup_hash(setup)
    known = f"Snapline; catalogue revision {setup.catalogue_revision}; vehicle {setup.vehicle_id}"
    known = f"{known}; procedure {setup.procedure_id}"
    return SheetDocument(
        title_block=TitleBlock(
            legal_owner=issue.legal_owner,
            title=setup.vehicle_name,
            supplementary_title=setup.procedure_name,
            identification_number=f"setup {number}",
            revision=f"Catalogue revision {setup.catalogue_revision}",
            date_of_issue=issue.date_of_issue.isoformat(),
        ),
        sections=(
            Section(
                "Before you start",
                f"{known}; all stages; setup {number}",
                tuple(_before(setup)),
            ),
            *(
                stage_section(setup, stage, f"{known}; stage {stage.id}; setup {number}")
                for stage in setup.stages
            ),
        ),
        banners=tuple(banners(setup)),
        units=setup.units,
    )


def setup_hash(setup: Setup) -> str:
    """Return the start of the SHA-256 of the setup's canonical JSON (RFC 8785), in hexadecimal digits."""
    canonical = rfc8785.dumps(msgspec.to_builtins(setup))
    return hashlib.sha256(canonical).hexdigest()[:_HASH_LENGTH]


def _before(setup: Setup) -> Iterator[Block]:
    yield Statements("STOP", setup.stops_work, "stop")
    yield Statements("Bring", tuple(_to_bring(setup)))
    thrust = _THRUST in setup.measured
    turned = _value("thrust_yaw_deg", setup.vehicle.thrust_yaw_deg, setup.units) if thrust else None
    yield from preparation.tables(setup.preparation, thrust_line=turned)
    yield Statements("Not checked or assumed", tuple(_not_sure(setup)), "warning")
    yield Statements("Measured on this car", tuple(_measured(setup)))
    if setup.drive:
        yield Statements("On the road", tuple(drive_words(setup.drive)))
    if setup.tool_function:
        yield Statements("In the diagnostic tool", (setup.tool_function,))
    yield Statements("Cautions", tuple(caution.text for caution in setup.cautions))
    yield Statements(
        "Sources",
        tuple(f"{source.title}, {source.edition}, {source.published_on}" for source in setup.sources),
    )


def _to_bring(setup: Setup) -> Iterator[str]:
    """Yield the fixtures of all stages, each as often as the stage that needs most of it."""
    most: Counter[str] = Counter()
    for stage in setup.stages:
        chosen = [one.name for item in stage.placements for one in (item.fixture, item.carrier) if one]
        most |= Counter(chosen)
    yield from (f"{count} × {name}" for name, count in most.items())
    for stage in setup.stages:
        for item in stage.placements:
            if item.fixture is None:
                yield f"for {spoken(item.id)}, {spoken(item.capability)}: none is chosen yet"
            if item.carrier is None and item.carrier_needed:
                yield f"for {spoken(item.id)}: a {spoken(item.carrier_needed)}; none is chosen"


def _not_sure(setup: Setup) -> Iterator[str]:
    yield from not_sure(setup, setup.stages)
    if setup.unknown_dimensions:
        yield f"Not known of this vehicle: {inputs_words(setup.unknown_dimensions)}."
    yield from setup.marks_left_out
    if setup.without_uncertainty:
        yield f"No uncertainty is stated for: {inputs_words(setup.without_uncertainty)}."


def _measured(setup: Setup) -> Iterator[str]:
    """Yield what a person measured, without a sign."""
    for name in setup.measured:
        sensor, _, field = name.removeprefix("vehicle.").removeprefix("sensors.").rpartition(".")
        holder = setup.vehicle.sensors[sensor] if sensor else setup.vehicle
        value: float = getattr(holder, field)
        yield f"{input_words(name)}: {_value(field, value, setup.units)}"


def _value(field: str, value: float, units: Units) -> str:
    if field == "thrust_yaw_deg":
        return f"turned {degrees(value)} to the {'left' if value > 0 else 'right'}" if value else "straight"
    if field == "yaw_deg":
        return direction(value)
    if field == "pitch_deg":
        return f"{abs(value):g}° {'down' if value > 0 else 'up'}"
    ways = {"x_mm": ("ahead of it", "behind it"), "y_mm": ("to its left", "to its right")}
    if field in ways:
        plus, minus = ways[field]
        return f"{length(value, units)} {plus if value >= 0 else minus}"
    return length(value, units)


def drive_words(drive: DriveConditions) -> Iterator[str]:
    """Yield how an on-road part is driven and how one sees that it is finished."""
    yield f"Speed: {drive.speed_min_kmh:g} to {drive.speed_max_kmh:g} km/h"
    if drive.minimum_time_min is not None:
        yield f"Drive for at least {drive.minimum_time_min:g} min"
    if drive.minimum_distance_km is not None:
        yield f"Drive at least {drive.minimum_distance_km:g} km"
    for name, words in (
        ("Roads", drive.road_classes),
        ("Lane markings", (drive.lane_markings,)),
        ("Traffic", (drive.traffic,)),
        ("Weather", drive.weather),
        ("Light", (drive.light,)),
        ("If interrupted, it", (drive.interruption,)),
    ):
        said = [word.replace("_", " ") for word in words if word]
        if said:
            yield f"{name}: {', '.join(said)}"
    if drive.min_sun_elevation_deg is not None:
        least_deg = drive.min_sun_elevation_deg
        limit, side = ("at least", "above") if least_deg >= 0 else ("no more than", "below")
        yield f"Sun {limit} {abs(least_deg):g}° {side} the horizon"
    yield f"Finished when: {drive.finished_sign}"
    yield f"If it does not finish: {drive.if_not_finished}"
