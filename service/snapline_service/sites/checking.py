"""Check what is said of a site, its bays and its physical fixtures, beyond the form of each value."""

import difflib
from collections.abc import Collection, Iterator
from datetime import datetime
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from snapline.wire.sites import Asset, Bay, Site, SiteDocument
from snapline_service.errors import Fault
from snapline_service.sites.contents import content_faults
from snapline_service.sites.outline import outline_faults

FORMAT = 1
# Clocks run up to three hours off the sun (from memory): a greater gap is a slip of sign.
_CLOCK_AGREES_WITHIN_DEG = 60.0
_NEAREST = 3


def site_faults(site: Site) -> Iterator[Fault]:
    """Yield what is wrong with a site itself."""
    if site.time_zone not in _time_zones():
        detail = f"There is no time zone '{site.time_zone}'."
        otherwise = "Write it as the IANA time zone database does, such as Europe/Berlin."
        yield Fault("/time_zone", detail, _meant(site.time_zone, _time_zones()) or otherwise, "UNKNOWN_NAME")
    elif _off_the_clock_deg(site) > _CLOCK_AGREES_WITHIN_DEG:
        detail = f"The longitude {site.longitude_deg:g}° is not where {site.time_zone} is the time."
        yield Fault("/longitude_deg", detail, "Check both; west of Greenwich is negative.")


def bay_faults(bay: Bay, at: str = "") -> list[Fault]:
    """Return what is wrong with a bay, whose pointer is ``at``; of a spoilt outline's contents nothing."""
    of_outline = outline_faults(bay.ring, f"{at}/ring")
    return [
        *of_outline,
        *([] if of_outline else content_faults(bay, at)),
        *_headings(bay, at),
        *_light(bay, at),
    ]


def asset_faults(asset: Asset, fixtures: Collection[str] | None, at: str = "") -> Iterator[Fault]:
    """Yield what is wrong with a physical fixture. ``fixtures`` are those of the catalogue, if there is one.

    A group may list its equipment before it publishes its first catalogue; then any name will do.
    """
    if fixtures is not None and asset.fixture not in fixtures:
        detail = f"The catalogue has no fixture '{asset.fixture}'."
        mend = _meant(asset.fixture, fixtures) or "List what there is with GET /v1/fixtures."
        yield Fault(f"{at}/fixture", detail, mend, "UNKNOWN_NAME")


def serial_fault(asset: Asset, holder: str, at: str = "") -> Fault:
    """Return the fault of a physical fixture whose type and serial another one has."""
    detail = f"'{holder}' is a '{asset.fixture}' with the serial '{asset.serial}' already."
    mend = "Each has a serial of its own: read it off the plate, or change the one that is there."
    return Fault(f"{at}/serial", detail, mend)


def document_faults(document: SiteDocument, fixtures: Collection[str] | None) -> Iterator[Fault]:
    """Yield everything that is wrong with a site's file whose form is good."""
    if document.format != FORMAT:
        detail = f"Site files of format {document.format} are not known here."
        yield Fault("/format", detail, f"Write format {FORMAT}.")
    yield from site_faults(document)
    yield from _repeated([bay.id for bay in document.bays], "bays")
    yield from _repeated([asset.id for asset in document.assets], "assets")
    for index, bay in enumerate(document.bays):
        yield from bay_faults(bay, f"/bays/{index}")
    for index, asset in enumerate(document.assets):
        yield from asset_faults(asset, fixtures, f"/assets/{index}")


def _headings(bay: Bay, at: str) -> Iterator[Fault]:
    seen: dict[float, float] = {}
    for index, heading_deg in enumerate(bay.headings_deg):
        before_deg = seen.get(heading_deg % 360)
        if before_deg is not None:
            detail = f"The heading {heading_deg:g}° is {before_deg:g}° again."
            yield Fault(f"{at}/headings_deg/{index}", detail, "Give each heading once.")
        seen[heading_deg % 360] = heading_deg


def _light(bay: Bay, at: str) -> Iterator[Fault]:
    least, greatest = bay.light_min_lux, bay.light_max_lux
    if least is not None and greatest is not None and least > greatest:
        detail = f"The least light, {least:g} lux, is more than the most, {greatest:g} lux."
        yield Fault(f"{at}/light_min_lux", detail, "Exchange the two.")


def _repeated(names: list[str], field: str) -> Iterator[Fault]:
    for index, name in enumerate(names):
        if name in names[:index]:
            detail = f"The id '{name}' stands twice among the {field}."
            yield Fault(f"/{field}/{index}/id", detail, "Give each an id of its own.")


def _meant(name: str, known: Collection[str]) -> str:
    close = difflib.get_close_matches(name[:100], known, n=_NEAREST, cutoff=0.5)
    return f"Did you mean {' or '.join(map(repr, close))}?" if close else ""


@cache
def _time_zones() -> frozenset[str]:
    return frozenset(available_timezones() - {"localtime", "posixrules", "Factory"})


def _off_the_clock_deg(site: Site) -> float:
    """Return how far a site lies from the meridian that its clock keeps, in winter or summer, the nearer."""
    zone = ZoneInfo(site.time_zone)
    offsets = [datetime(2025, month, 1, tzinfo=zone).utcoffset() for month in (1, 7)]
    meridians = [offset.total_seconds() / 240 for offset in offsets if offset is not None]
    return min(abs((site.longitude_deg - meridian + 180) % 360 - 180) for meridian in meridians)
