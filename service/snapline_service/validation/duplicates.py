"""Vehicles that nobody could tell apart."""

from collections.abc import Iterable, Iterator
from datetime import MAXYEAR

from snapline.wire.catalogue import VehicleDocument, VinPattern
from snapline_service.validation.doubt import Doubt
from snapline_service.vehicles.summary import vehicle_name


def indistinct(vehicle: VehicleDocument, others: Iterable[VehicleDocument]) -> Iterator[Doubt]:
    """Yield the neighbours that neither build, trait nor VIN tells from a vehicle, and VINs of two."""
    for other in others:
        if other.id == vehicle.id or not _same_years(vehicle, other) or _seen_apart(vehicle, other):
            continue
        crossing = _crossing(vehicle.vin_patterns, other.vin_patterns)
        if (vehicle.make, vehicle.model) != (other.make, other.model):
            if crossing is not None:
                text = f"One VIN can match this and {vehicle_name(other)}, '{other.id}'."
                mend = "Narrow the pattern of one of the two."
                yield Doubt("warning", "VIN_PATTERNS_CROSS", f"/vin_patterns/{crossing}", text, mend)
        elif crossing is not None or not vehicle.vin_patterns or not other.vin_patterns:
            text = f"Nothing tells this from {vehicle_name(other)}, '{other.id}'."
            mend = "Add a trait that can be seen, or VIN patterns that differ; or retire one."
            yield Doubt("warning", "NEAR_DUPLICATE", "", text, mend)


def _same_years(one: VehicleDocument, other: VehicleDocument) -> bool:
    return one.model_year_first <= (other.model_year_last or MAXYEAR) and other.model_year_first <= (
        one.model_year_last or MAXYEAR
    )


def _seen_apart(one: VehicleDocument, other: VehicleDocument) -> bool:
    """Whether where a car is sold, its build or a trait tells which of the two it is."""
    theirs = {trait.trait: trait.value for trait in other.traits}
    return (
        not set(one.markets) & set(other.markets)
        or (one.body, one.drive_side) != (other.body, other.drive_side)
        or any(theirs.get(trait.trait, trait.value) != trait.value for trait in one.traits)
    )


def _crossing(ours: Iterable[VinPattern], theirs: Iterable[VinPattern]) -> int | None:
    """Return the number of the first of our patterns that shares a VIN with one of theirs."""
    read = [_positions(other.pattern) for other in theirs]
    for number, pattern in enumerate(ours):
        mine = _positions(pattern.pattern)
        for other in read:
            pairs = zip(mine, other, strict=False)
            if all(one is None or two is None or one & two for one, two in pairs):
                return number
    return None


def _positions(pattern: str) -> list[frozenset[str] | None]:
    """Return the characters that each position allows; None is any."""
    found: list[frozenset[str] | None] = []
    rest = pattern
    while rest:
        if rest[0] == "[":
            inside, _, rest = rest[1:].partition("]")
            found.append(frozenset(inside))
        else:
            found.append(None if rest[0] == "?" else frozenset(rest[0]))
            rest = rest[1:]
    return found
