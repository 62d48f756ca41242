"""What a draft would touch: told from a revision file made of it on trial, beside the one in force."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import msgspec
from sqlmodel import Session

from snapline.offline import RevisionFile
from snapline.wire.catalogue import FixtureDocument, VehicleDocument
from snapline.wire.impact import BayLost, FixturesOfVehicle, Homeless, Impact
from snapline.wire.sites import SiteDocument
from snapline_service.catalogue import draft_store
from snapline_service.catalogue.documents import canonical, decode
from snapline_service.catalogue.store import Entry
from snapline_service.catalogue.tables import DraftRow
from snapline_service.diffs import diff
from snapline_service.drafts import drafts
from snapline_service.errors import Conflict, NotBuilt
from snapline_service.fixtures.reverse import uses
from snapline_service.fixtures.shelf import shelf_of
from snapline_service.impact.bays import served_bays
from snapline_service.impact.visits import changed_visits, open_visits
from snapline_service.revisions import building, supplement
from snapline_service.revisions.content import Plan
from snapline_service.sites import store as sites
from snapline_service.vehicles.summary import vehicle_name

_VEHICLES = 100
_VISITS = 100
_MEASURES = ("/dimensions", "/sensors", "/standard_uncertainty", "/thrust_limit_deg")  # every setup has them
Bays = dict[str, set[tuple[str, str]]]


def impact(session: Session, draft: DraftRow, now: RevisionFile) -> Impact:
    """Return what a draft would touch in the revision in force.

    Raises Conflict if it is on an older one, NotBuilt if ``now`` is not yet the one that it is on.
    """
    if draft.base_revision > now.revision:
        detail = f"Revision {draft.base_revision} is new and has not been taken up here yet."
        raise NotBuilt(detail, mend="Ask again in a second.")
    if draft.base_revision != now.revision:
        detail = f"Revision {now.revision} was published after this draft was begun."
        raise Conflict(detail, mend="Rebase it first.")
    touched = _touched(session, draft, now)
    examined = touched[:_VEHICLES]
    group = list(sites.shelf(session, draft.group_id).values())
    waiting = open_visits(session, draft.group_id, set(touched))
    with _trial(session, draft, now) as then:
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


def _touched(session: Session, draft: DraftRow, now: RevisionFile) -> list[str]:
    """Return the vehicles that a draft sets or retires, and those that rest on what else it changes."""
    vehicles, grounds = set(), set()
    for change in draft_store.changes(session, draft.id):
        if change.kind == "vehicle":
            vehicles.add(change.name)
            continue
        grounds.add(f"{change.kind} {change.name}")
        if change.kind == "fixture":
            body = drafts.body_of(session, draft.group_id, change.hash)
            for fixture in (now.get_fixture(change.name), decode("fixture", body) if body else None):
                if isinstance(fixture, FixtureDocument):
                    grounds |= supplement.grounds_of_fixture(fixture)
    return sorted(vehicles | (supplement.dependants(now.path, grounds) if grounds else set()))


@contextmanager
def _trial(session: Session, draft: DraftRow, now: RevisionFile) -> Iterator[RevisionFile]:
    """Build the revision that a draft would become, and remove it again."""
    changes = draft_store.changes(session, draft.id)
    number = draft.base_revision + 1
    plan = Plan(
        group_id=draft.group_id,
        number=number,
        base_number=draft.base_revision,
        base_manifest=now.manifest_hash,
        changes=[Entry(c.kind, c.name, c.hash, number) for c in changes if c.hash],
        retired=[(c.kind, c.name) for c in changes if c.hash is None],
    )
    place = building.beside(now.path)
    try:
        building.build(session, plan, place, now.path)
        file = RevisionFile(place)
        try:
            yield file
        finally:
            file.close()
    finally:
        place.unlink(missing_ok=True)


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
