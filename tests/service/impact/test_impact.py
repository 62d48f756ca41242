"""Bays that stop fitting and kept visits that change, on the demo scenario and its sites."""

from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from service.catalogue.demo import DOCUMENTS, FOLDER, VEHICLES
from service.shop import Shop
from snapline.offline import RevisionFile
from snapline.wire.catalogue import VehicleDocument
from snapline.wire.impact import Impact
from snapline.wire.visits import KeepVisit, VisitRequest
from snapline_service.access.people import Person
from snapline_service.catalogue.documents import canonical
from snapline_service.database import reading, writing
from snapline_service.drafts import drafts
from snapline_service.errors import Conflict, NotFound
from snapline_service.examples import BODIES
from snapline_service.impact.impact import of_draft, of_revision
from snapline_service.sites import importing
from snapline_service.visits import keeping
from snapline_service.visits.keeping import Keeper

CELADINE = "mirandeux-celadine-2023-eu"
ADA = Person("hld_ada", "Ada")
Stocked = tuple[Shop, RevisionFile]


@pytest.fixture(scope="module")
def stocked(new_shop: Callable[[], Shop]) -> Stocked:
    """A group with the demo's catalogue and sites."""
    return stock(new_shop())


def stock(shop: Shop) -> Stocked:
    published = shop.put([msgspec.json.decode(canonical(document)) for document in DOCUMENTS])
    _, faults = importing.import_files(shop.engine, FOLDER / "sites", group=shop.name, by="Ada")
    assert faults == []
    return shop, shop.file(published)


def moved(distance_mm: float) -> VehicleDocument:
    """Return the demo car with its camera board elsewhere."""
    car: Any = msgspec.json.decode(canonical(VEHICLES[CELADINE]))
    (board,) = (one for one in car["procedures"] if one["id"] == "camera-board")
    board["stages"][0]["placements"][0]["placement"]["along"]["distance_mm"] = distance_mm
    return msgspec.convert(car, VehicleDocument)


def impact_of(stocked: Stocked, car: VehicleDocument | None) -> Impact:
    shop, file = stocked
    with writing(shop.engine) as session:
        draft = drafts.begin(session, shop.group_id, ADA)
        body = canonical(car) if car else None
        drafts.put(session, draft, ADA, kind="vehicle", name=CELADINE, body=body)
        return of_draft(session, draft, file)


def test_a_board_beyond_every_wall_leaves_its_procedure_without_a_bay(stocked: Stocked) -> None:
    found = impact_of(stocked, moved(30_000))
    assert {(one.vehicle_id, one.procedure) for one in found.bays_lost} == {(CELADINE, "camera-board")}
    assert (CELADINE, "camera-board") in {(one.vehicle_id, one.procedure) for one in found.homeless}


def test_a_board_moved_by_a_millimetre_loses_no_bay_and_no_fixture(stocked: Stocked) -> None:
    found = impact_of(stocked, moved(3401))
    assert found.bays_lost == ()
    (one,) = found.fixtures
    assert (one.gained, one.lost) == ((), ())
    assert len(one.systems) == 1


def test_another_wheelbase_touches_every_system(stocked: Stocked) -> None:
    car = VEHICLES[CELADINE]
    longer = msgspec.structs.replace(car.dimensions, wheelbase_mm=(car.dimensions.wheelbase_mm or 0) + 5)
    (one,) = impact_of(stocked, msgspec.structs.replace(car, dimensions=longer)).fixtures
    assert set(one.systems) == {system.id for system in car.systems}


def test_a_retired_vehicle_gives_up_all_its_fixtures(stocked: Stocked) -> None:
    (one,) = impact_of(stocked, None).fixtures
    assert one.gained == ()
    assert "board-two-circle" in one.lost


def test_a_kept_visit_that_can_no_longer_be_done_so_is_named(stocked: Stocked) -> None:
    shop, file = stocked
    wanted = BODIES["keep_visit"]
    assert isinstance(wanted, KeepVisit)
    assert isinstance(wanted.request, VisitRequest)
    with writing(shop.engine) as session:
        visit = keeping.keep(Keeper(session, shop.group_id, ADA, file), wanted)
    assert visit.vehicle_id == CELADINE
    found = impact_of(stocked, moved(30_000))
    assert (found.visits, found.visits_examined) == (1, 1)
    (changed,) = found.visits_changed
    assert changed.visit_id == visit.id
    assert changed.texts
    assert impact_of(stocked, moved(3401)).visits_changed == ()


def test_a_draft_on_an_older_revision_is_rebased_first(stocked: Stocked) -> None:
    shop, file = stocked
    with writing(shop.engine) as session:
        draft = drafts.begin(session, shop.group_id, ADA)
        draft.base_revision = 0
        with pytest.raises(Conflict, match="after this draft"):
            of_draft(session, draft, file)
        draft.base_revision = file.revision


def test_a_revision_is_told_as_its_draft_was_and_long_after_its_file_is_gone(
    new_shop: Callable[[], Shop],
) -> None:
    shop, file = stock(new_shop())
    wanted = BODIES["keep_visit"]
    assert isinstance(wanted, KeepVisit)
    with writing(shop.engine) as session:
        keeping.keep(Keeper(session, shop.group_id, ADA, file), wanted)
    with writing(shop.engine) as session:
        draft = drafts.begin(session, shop.group_id, ADA)
        drafts.put(session, draft, ADA, kind="vehicle", name=CELADINE, body=canonical(moved(30_000)))
        told = of_draft(session, draft, file)
    assert told.visits_changed
    assert told.homeless
    second = shop.file(shop.publish())
    third = shop.file(shop.put([msgspec.json.decode(canonical(moved(3401)))]))
    second.close()
    shop.path(2).unlink()
    with reading(shop.engine) as session:
        assert of_revision(session, shop.group_id, 2, third) == told
        back = of_revision(session, shop.group_id, 3, third)
        assert (back.vehicles, back.bays_lost, back.homeless) == (1, (), ())
    assert sorted(path.name for path in third.path.parent.glob("*.building")) == []


def test_what_no_revision_before_it_has_is_not_told(stocked: Stocked) -> None:
    shop, file = stocked
    with reading(shop.engine) as session:
        for number, why in ((1, "nothing that revision 1 could touch"), (9, "no revision 9")):
            with pytest.raises(NotFound, match=why):
                of_revision(session, shop.group_id, number, file)
