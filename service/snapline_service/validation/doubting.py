"""The doubts about what a draft sets, among the fixtures and vehicles that it leaves in force."""

from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from sqlmodel import Session

from snapline.offline import RevisionFile
from snapline.wire.catalogue import CatalogueDocument, FixtureDocument, FixtureNeed, VehicleDocument
from snapline.wire.vehicles import VehicleQuery
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.documents import decode
from snapline_service.catalogue.tables import DraftRow
from snapline_service.fixtures.matching import Shelf
from snapline_service.validation.doubt import Doubt
from snapline_service.validation.validation import doubts

# More vehicles than this in one draft are a whole catalogue, and not held in memory against each other.
_COMPARED = 2000
_PAGE = 200
_NOT_COMPARED = Doubt(
    "warning",
    "NOT_COMPARED",
    "",
    f"The draft sets more than {_COMPARED:,} vehicles: whether two could be confused is not known.",
    "Publish in smaller drafts, or say how that was made sure of.",
)


class _Surroundings:
    """What a draft's documents stand among."""

    def __init__(self, session: Session, draft: DraftRow, file: RevisionFile | None) -> None:
        changes = draft_store.changes(session, draft.id)
        self._file = file
        self._changed = {change.name for change in changes if change.kind == "vehicle"}
        self._by_model: dict[tuple[str, str], list[VehicleDocument]] = defaultdict(list)
        self._by_maker: dict[str, list[VehicleDocument]] = defaultdict(list)
        hashes = {c.hash: c.kind for c in changes if c.hash and c.kind in ("vehicle", "fixture")}
        self.too_many = len(self._changed) > _COMPARED
        if self.too_many:
            hashes = {digest: kind for digest, kind in hashes.items() if kind == "fixture"}
        fixtures: dict[str, FixtureDocument] = dict(file.fixtures()) if file else {}
        for change in changes:
            if change.kind == "fixture":
                fixtures.pop(change.name, None)
        for digest, body in store.bodies(session, draft.group_id, hashes):
            document = decode(hashes[digest], body)
            if isinstance(document, FixtureDocument):
                fixtures[document.id] = document
            elif isinstance(document, VehicleDocument):
                self._add(document)
        self._shelf = Shelf(fixtures.values())

    def served(self, need: FixtureNeed) -> bool:
        """Whether some fixture meets a need."""
        return bool(self._shelf.matches(need))

    def neighbours(self, vehicle: VehicleDocument) -> list[VehicleDocument]:
        """Return the vehicles that might be taken for one; none in a draft of too many."""
        if self.too_many:
            return []
        found = {one.id: one for one in self._by_model[vehicle.make, vehicle.model]}
        makers = {pattern.pattern[:3] for pattern in vehicle.vin_patterns}
        found |= {one.id: one for maker in makers for one in self._by_maker[maker]}
        if self._file:
            names = {row.vehicle_id for maker in makers for row in self._file.vin_patterns(maker)}
            query = VehicleQuery(make=vehicle.make, model=vehicle.model, page_size=_PAGE)
            names |= {item.id for item in self._file.list_vehicles(query).items}
            for name in sorted(names - self._changed)[:_PAGE]:
                other = self._file.get_vehicle(name)
                if other:
                    found[name] = other
        return [found[name] for name in sorted(found)]

    def _add(self, vehicle: VehicleDocument) -> None:
        self._by_model[vehicle.make, vehicle.model].append(vehicle)
        for maker in {pattern.pattern[:3] for pattern in vehicle.vin_patterns}:
            self._by_maker[maker].append(vehicle)


def draft_doubts(
    session: Session, draft: DraftRow, published: Path | None
) -> Iterator[tuple[CatalogueDocument, Doubt]]:
    """Yield the doubts about the documents that a draft sets."""
    file = RevisionFile(published) if published else None
    try:
        around = _Surroundings(session, draft, file)
        told = False
        hashes = {c.hash: c.kind for c in draft_store.changes(session, draft.id) if c.hash}
        for digest, body in store.bodies(session, draft.group_id, hashes):
            document = decode(hashes[digest], body)
            near = around.neighbours(document) if isinstance(document, VehicleDocument) else []
            if around.too_many and isinstance(document, VehicleDocument) and not told:
                told = True
                yield document, _NOT_COMPARED
            for doubt in doubts(document, around.served, near):
                yield document, doubt
    finally:
        if file:
            file.close()
