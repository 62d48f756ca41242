"""A difference between two documents as a sentence of the trade."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import msgspec
from msgspec import Struct

from snapline.wire.geometry import Placement
from snapline_service.setups import wording

Json = Mapping[str, Any]

_UNITS = {
    "_mm": "mm",
    "_deg": "°",
    "_min": "min",
    "_kmh": "km/h",
    "_km": "km",
    "_kg": "kg",
    "_ghz": "GHz",
    "_dbsm": "dBsm",
}
_LISTS = {"systems": "system", "procedures": "procedure", "placements": "placement"}
_AXES = {"along": "distance", "lateral": "lateral distance", "height": "height"}


class Told(Struct, frozen=True):
    """A sentence and the ids of what it speaks of."""

    text: str
    system: str | None = None
    procedure: str | None = None
    placement: str | None = None


def told(kind: str, before: Json, after: Json, path: Sequence[str]) -> Told:
    """Return what differs at a path of field and entry names between two documents of a name."""
    found = {_LISTS[one]: name for one, name in pairwise(path) if one in _LISTS}
    system = found.get("system") or _system_of(after, found.get("procedure"))
    where = _named(after, before, "systems", system)
    start = f"{where} of {heading(kind, after)}" if where else heading(kind, after)
    procedure = _named(after, before, "procedures", found.get("procedure"))
    what, change = _change(before, after, path)
    what = " ".join(filter(None, [found.get("placement"), what]))
    text = f"{start}: {f'{procedure}, ' if procedure else ''}{what}{change}"
    return Told(text[0].upper() + text[1:], system, found.get("procedure"), found.get("placement"))


def heading(kind: str, document: Json) -> str:
    """Return a document's name as people say it."""
    if kind == "vehicle":
        last = document.get("model_year_last", "today")
        return f"{document['make']} {document['model']} ({document['model_year_first']}–{last})"
    return f"{kind} '{document.get('name') or document.get('title')}'"


def _change(before: Json, after: Json, path: Sequence[str]) -> tuple[str, str]:
    field = path[-1]
    if len(path) > 1 and path[-2] in _AXES:
        was, is_now = _stands(before, path), _stands(after, path)
        if was and is_now:
            figure, _, where = was.partition(" mm ")
            same = where and is_now.endswith(f" mm {where}")
            return _AXES[path[-2]], f" {figure if same else was} → {is_now}"
    return _field_words(path), f" {_value(field, _at(before, path))} → {_value(field, _at(after, path))}"


def _stands(document: Json, path: Sequence[str]) -> str | None:
    """Return in words where a placement stands along one of its axes; None if it is not there."""
    found = _at(document, path[:-2])
    if not isinstance(found, dict):
        return None
    placement = msgspec.convert(found, Placement)
    line = placement.aim_line
    sensor = document.get("sensors", {}).get(line.removeprefix("sensor:"), {})
    yaw_deg = float(sensor.get("yaw_deg", 0)) if line.startswith("sensor:") else 0.0
    if path[-2] == "along":
        return wording.along(placement, yaw_deg)
    if path[-2] == "lateral":
        return wording.lateral(placement, yaw_deg)
    return wording.height(placement, "", "mm").strip()


def _value(field: str, value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return str(value.get("name") or value.get("id") or "another entry")
    if isinstance(value, list):
        return ", ".join(_value(field, one) for one in value) or "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    unit = next((unit for ending, unit in _UNITS.items() if field.endswith(ending)), "")
    if isinstance(value, (int, float)):
        number = f"{value:,g}" if abs(value) < 1000 or field.endswith("_mm") else f"{value:g}"
        return f"{number}{unit if unit == '°' else f' {unit}' if unit else ''}"
    return f"'{value}'"


def _field_words(path: Sequence[str]) -> str:
    """Return what a path is of, without the lists that the sentence has named already."""
    rest = list(path)
    for name in _LISTS:
        if name in rest:
            at = rest.index(name)
            rest = rest[at + 2 :]
    rest = [part for part in rest if part not in ("stages", "placement", "dimensions")] or ["entry"]
    for ending in _UNITS:
        rest[-1] = rest[-1].removesuffix(ending)
    return " ".join(part.replace("_", " ") for part in rest)


def _at(document: Any, path: Sequence[str]) -> Any:
    """Return what a path of field and entry names leads to; None if there is nothing."""
    value = document
    for name in path:
        if isinstance(value, list):
            value = next((e for e in value if isinstance(e, dict) and name in e.values()), None)
        elif isinstance(value, dict):
            value = value.get(name)
        else:
            return None
    return value


def _named(after: Json, before: Json, field: str, name: str | None) -> str | None:
    if name is None:
        return None
    found = _at(after, (field, name)) or _at(before, (field, name)) or {}
    return str(found.get("name", name))


def _system_of(vehicle: Json, procedure: str | None) -> str | None:
    """Return the system that a procedure is for, if it is for one alone."""
    if procedure is None:
        return None
    found = {
        system["id"]
        for system in vehicle.get("systems", [])
        for requirement in system.get("requirements", [])
        for way in requirement["alternatives"]
        if procedure in way["procedures"]
    }
    return found.pop() if len(found) == 1 else None
