"""What a draft would touch, or a revision did: told from the revision files before it and after it."""

from collections.abc import Iterator, Sequence

import msgspec
from sqlmodel import Session

from snapline.offline import RevisionFile
from snapline.wire.catalogue import VehicleDocument
from snapline.wire.impact import BayLost, FixturesOfVehicle, Homeless, Impact
from snapline.wire.sites import SiteDocument
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.documents import canonical
from snapline_service.catalogue.tables import DraftRow
from snapline_service.diffs import diff
from snapline_service.errors import Conflict, NotBuilt, NotFound
from snapline_service.fixtures.reverse import uses
from snapline_service.fixtures.shelf import shelf_of
from snapline_service.impact import trial
from snapline_service.impact.bays import served_bays
from snapline_service.impact.visits import changed_visits, open_visits
from snapline_service.revisions import revisions, supplement
from snapline_service.sites import store as sites
from snapline_service.vehicles.summary import vehicle_name

_VEHICLES = 100
_VISITS = 100
_MEASURES = ("/dimensions", "/sensors", "/standard_uncertainty", "/thrust_limit_deg")  # every setup has them
Bays = dict[str, set[tuple[str, str]]]


def of_draft(session: Session, draft: DraftRow, now: RevisionFile) -> Impact:
    """Return what a draft would touch in the revision in force.

    Raises Conflict if it is on an older one, NotBuilt if ``now`` is not yet the one that it is on.
    """
    if draft.base_revision > now.revision:
        raise _not_built(draft.base_revision)
    if draft.base_revision != now.revision:
        detail = f"Revision {now.revision} was published after this draft was begun."
        raise Conflict(detail, mend="Rebase it first.")
    names = [(change.kind, change.name) for change in draft_store.changes(session, draft.id)]
    with trial.as_drafted(session, draft, now) as then:
        return _impact(session, draft.group_id, names, (now, then))


def of_revision(session: Session, group_id: str, number: int, now: RevisionFile) -> Impact:
    """Return what a revision touched in the one before it; of the kept visits, those planned before it.

    ``now`` is the revision in force. Raises NotFound, NotBuilt.
    """
    revisions.found(session, group_id, number)
    if number == 1:
        raise NotFound("There was nothing that revision 1 could touch.", mend="Ask about a later one.")
    if number > now.revision:
        raise _not_built(number)
    names = store.names_between(session, group_id, number - 1, number)
    with (
        trial.as_it_was(session, group_id, number - 1, now) as before,
        trial.as_it_was(session, group_id, number, now) as then,
    ):
        return _impact(session, group_id, names, (before, then))


def _not_built(number: int) -> NotBuilt:
    detail = f"Revision {number} is new and has not been taken up here yet."
    return NotBuilt(detail, mend="Ask again in a second.")


def _impact(
    session: Session, group_id: str, names: list[tuple[str, str]], files: tuple[RevisionFile, RevisionFile]
) -> Impact:
    now, then = files
    touched = _touched(names, files)
    examined = touched[:_VEHICLES]
    group = list(sites.shelf(session, group_id).values())
    waiting = open_visits(session, group_id, set(touched), before=then.revision)
    pairs = [(name, now.get_vehicle(name), then.get_vehicle(name)) for name in examined]
    bays = [(name, _bays(now, before, group), _bays(then, after, group)) for name, before, after in pairs]
    return Impact(
        vehicles=len(touched),
        vehicles_examined=len(examined),
        fixtures=tuple(_fixtures(name, (now, before), (then, after)) for name, before, after in pairs),
        bays_lost=tuple(one for found in bays for one in _lost(*found)),
        homeless=tuple(
            Homeless(vehicle_id=name, procedure=procedure)
            for name, _, after in bays
            for procedure, served in after.items()
            if group and not served
        ),
        visits=len(waiting),
        visits_examined=min(len(waiting), _VISITS),
        visits_changed=tuple(changed_visits(session, then, waiting[:_VISITS])),
    )


def _touched(names: list[tuple[str, str]], files: tuple[RevisionFile, RevisionFile]) -> list[str]:
    """Return the vehicles that are among what differs, and those that rest on something else that does."""
    vehicles = {name for kind, name in names if kind == "vehicle"}
    grounds = {f"{kind} {name}" for kind, name in names if kind != "vehicle"}
    for fixture in (file.get_fixture(name) for kind, name in names if kind == "fixture" for file in files):
        grounds |= supplement.grounds_of_fixture(fixture)
    return sorted(vehicles | (supplement.dependants(files[0].path, grounds) if grounds else set()))


_Side = tuple[RevisionFile, VehicleDocument | None]


def _fixtures(name: str, before: _Side, after: _Side) -> FixturesOfVehicle:
    was, is_now = ({use.fixture_id for use in uses(car, shelf_of(file))} if car else set()
                   for file, car in (before, after))  # fmt: skip
    car = after[1] or before[1]
    return FixturesOfVehicle(
        vehicle_id=name,
        name=vehicle_name(car) if car else name,
        systems=tuple(sorted(_systems(before[1], after[1]))),
        gained=tuple(sorted(is_now - was)),
        lost=tuple(sorted(was - is_now)),
    )


def _systems(before: VehicleDocument | None, after: VehicleDocument | None) -> set[str]:
    """Return the systems that differ; all of them where one side lacks the vehicle or its measures differ."""
    every = {system.id for car in (before, after) if car for system in car.systems}
    if before is None or after is None:
        return every
    values = [msgspec.json.decode(canonical(_plain(car))) for car in (before, after)]
    found = list(diff.items("vehicle", after.id, *values))
    if any(item.pointer.startswith(_MEASURES) for item in found):
        return every
    return {item.system for item in found if item.system}


def _plain(car: VehicleDocument) -> VehicleDocument:
    """Return a vehicle without what look-ups add to its document."""
    return VehicleDocument(**{name: getattr(car, name) for name in VehicleDocument.__struct_fields__})


def _bays(file: RevisionFile, car: VehicleDocument | None, group: Sequence[SiteDocument]) -> Bays:
    return served_bays(file, car, group) if car else {}


def _lost(name: str, before: Bays, after: Bays) -> Iterator[BayLost]:
    for procedure, served in after.items():
        for site, bay in sorted(before.get(procedure, set()) - served):
            yield BayLost(vehicle_id=name, procedure=procedure, site=site, bay=bay)
