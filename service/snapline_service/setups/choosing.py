"""Which fixture stands at a placement, and at which distance."""

import msgspec

from snapline.wire.catalogue import FixtureDocument, FixtureNeed, FixturePlacement
from snapline.wire.geometry import Placement
from snapline.wire.setups import ChosenFixture, PlacementChoice, SetupRequest
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.fixtures.matching import Shelf, judge


def require_known_placements(request: SetupRequest, known: list[str]) -> None:
    """Raise UnknownName for a choice about a placement that the procedure does not have."""
    for name in request.placements:
        if name not in known:
            detail = f"The procedure has no placement '{name}'."
            raise UnknownName(detail, pointer=pointer(["placements", name]), mend=nearest(name, known))


def placement_at(item: FixturePlacement, choice: PlacementChoice) -> Placement:
    """Return the placement with the chosen distance. Raises InvalidValue if the source does not allow it."""
    wanted = choice.along_distance_mm
    along = item.placement.along
    if wanted is None or wanted == along.distance_mm:
        return item.placement
    if item.range is None:
        mend = f"Leave it out, or give {along.distance_mm:,g} mm."
        raise _distance_fault(item, "The source allows no other distance here.", mend)
    if not item.range.min_mm <= wanted <= item.range.max_mm:
        mend = f"Give {item.range.min_mm:,g} to {item.range.max_mm:,g} mm."
        raise _distance_fault(item, "The distance is outside the range that the source allows.", mend)
    return msgspec.structs.replace(item.placement, along=msgspec.structs.replace(along, distance_mm=wanted))


def choose(
    need: FixtureNeed, wanted: str | None, at: str, shelf: Shelf, *, by_property: bool
) -> tuple[FixtureDocument, ChosenFixture] | None:
    """Return the fixture that a person wants, or else the first that the source names or states to serve.

    ``at`` points to the wish. Raises UnknownName, or InvalidValue if the wanted one does not meet the need.
    """
    if wanted is not None:
        return _wanted(need, wanted, at, shelf, by_property=by_property)
    allowed = {
        name: match for name, match in shelf.matches(need).items() if by_property or match != "by_property"
    }
    order = [*need.named, *(n for n in allowed if allowed[n] == "equivalent"), *allowed]
    first = next((name for name in order if name in allowed), None)
    return (shelf.fixtures[first], _chosen(shelf.fixtures[first], allowed[first])) if first else None


def choose_carrier(
    item: FixturePlacement, wanted: str | None, shelf: Shelf
) -> tuple[FixtureDocument, ChosenFixture] | None:
    """Return what carries the fixture, chosen as ``choose`` does; None where nothing needs to."""
    at = pointer(["placements", item.id, "carrier_id"])
    if item.carrier is None:
        if wanted is not None:
            raise InvalidValue("Nothing carries the fixture here.", pointer=at, mend="Leave it out.")
        return None
    return choose(item.carrier, wanted, at, shelf, by_property=False)


def _wanted(
    need: FixtureNeed, wanted: str, at: str, shelf: Shelf, *, by_property: bool
) -> tuple[FixtureDocument, ChosenFixture]:
    fixture = shelf.fixtures.get(wanted)
    if fixture is None:
        detail = f"There is no fixture '{wanted}'."
        raise UnknownName(detail, pointer=at, mend=nearest(wanted, list(shelf.fixtures)))
    verdict = judge(fixture, need)
    if verdict.match is None:
        detail = f"'{wanted}' does not meet what is needed here. {verdict.reason}"
        raise InvalidValue(detail, pointer=at, mend=nearest(wanted, list(shelf.matches(need))))
    if verdict.match == "by_property" and not by_property:
        detail = f"'{wanted}' matches by our arithmetic alone and is not named by the source."
        raise InvalidValue(detail, pointer=at, mend="Set by_property to true if your group allows that.")
    return fixture, _chosen(fixture, verdict.match)


def _chosen(fixture: FixtureDocument, match: str) -> ChosenFixture:
    return ChosenFixture(
        id=fixture.id,
        name=fixture.name,
        fixture_kind=fixture.fixture_kind,
        reference_point=fixture.reference_point,
        match=match,
    )


def _distance_fault(item: FixturePlacement, detail: str, mend: str) -> InvalidValue:
    return InvalidValue(detail, pointer=pointer(["placements", item.id, "along_distance_mm"]), mend=mend)
