"""Writing is whole or not at all, and writers wait for each other."""

import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest
import sqlalchemy as sa
from sqlmodel import select

from service.shop import Shop, rows
from snapline_service import database
from snapline_service.access.tables import GroupRow, HolderRow
from snapline_service.database import new_id, now, reading, writing


def test_a_transaction_that_fails_writes_nothing(shop: Shop) -> None:
    def half_the_work() -> None:
        with writing(shop.engine) as session:
            session.add(GroupRow(id=new_id("grp"), name="half", title="half", created_at=now()))
            session.flush()
            raise InterruptedError

    before = rows(shop.engine)
    with pytest.raises(InterruptedError):
        half_the_work()
    assert rows(shop.engine) == before


def test_a_transaction_that_succeeds_is_seen_by_the_next(shop: Shop) -> None:
    with writing(shop.engine) as session:
        session.add(HolderRow(id=new_id("hld"), group_id=shop.group_id, name="Ada"))
    with reading(shop.engine) as session:
        found = session.exec(select(HolderRow.name).where(HolderRow.group_id == shop.group_id))
        assert found.all() == ["Ada"]


def test_a_reference_to_nothing_is_refused(shop: Shop) -> None:
    with pytest.raises(sa.exc.IntegrityError), writing(shop.engine) as session:
        session.add(HolderRow(id=new_id("hld"), group_id="grp_none", name="Ada"))


def test_writers_at_the_same_time_all_get_their_turn(shop: Shop) -> None:
    with ThreadPoolExecutor(8) as pool:
        issued = list(pool.map(lambda number: shop.key(holder=f"writer {number}"), range(24)))
    assert len({key.key_id for key in issued}) == 24
    assert len(rows(shop.engine, shop.group_id)["holders"]) == 24


def test_ids_carry_their_kind_and_sort_by_time() -> None:
    """The version is that of RFC 9562, section 5.7."""
    ids = [new_id("grp") for _ in range(1000)]
    assert ids == sorted(ids)
    assert len(set(ids)) == 1000
    prefix, _, digits = ids[0].partition("_")
    assert prefix == "grp"
    assert uuid.UUID(digits).version == 7


def test_the_folder_of_an_embedded_database_is_made(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("new") / "deep" / "down" / "snapline.db"
    database.migrate(f"sqlite:///{path}")
    assert path.exists()
