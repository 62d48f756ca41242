"""Events are written with what they tell of, numbered in the order of commits, and never changed."""

import threading
import time
from collections.abc import Iterator

import pytest
import sqlalchemy as sa
from sqlmodel import Session

from service.shop import Shop
from snapline_service.access.people import Person
from snapline_service.changes import store
from snapline_service.changes.record import record
from snapline_service.changes.tables import EventRow
from snapline_service.database import reading, writing

ADA = Person("hld_ada", "Ada")


def tell(session: Session, shop: Shop, subject: str, *, data: object = None) -> None:
    record(
        session,
        group_id=shop.group_id,
        by=ADA,
        type="site.changed",
        subject=subject,
        data={"change": data or "created"},
    )


def told(shop: Shop, after: int = 0) -> list[EventRow]:
    with reading(shop.engine) as session:
        return store.events(session, shop.group_id, after, 500)


class _Undone(Exception):
    pass


def test_events_are_numbered_without_gaps_from_one(shop: Shop) -> None:
    for subject in "abc":
        with writing(shop.engine) as session:
            tell(session, shop, subject)
    assert [(row.number, row.subject) for row in told(shop)] == [(1, "a"), (2, "b"), (3, "c")]


def test_what_is_undone_is_not_told_and_leaves_no_gap(shop: Shop) -> None:
    def tell_and_fail() -> None:
        with writing(shop.engine) as session:
            tell(session, shop, "undone")
            raise _Undone

    with pytest.raises(_Undone):
        tell_and_fail()
    with writing(shop.engine) as session:
        tell(session, shop, "done")
    assert [(row.number, row.subject) for row in told(shop)] == [(1, "done")]


def test_a_session_that_was_rolled_back_tells_nothing_of_before(shop: Shop) -> None:
    with Session(shop.engine.execution_options(snapline_writes=True)) as session:
        session.begin()
        tell(session, shop, "undone")
        session.rollback()
        tell(session, shop, "done")
        session.commit()
        session.commit()
    assert [row.subject for row in told(shop)] == ["done"]


def test_what_one_transaction_tells_twice_is_one_event(shop: Shop) -> None:
    with writing(shop.engine) as session:
        for _ in range(3):
            tell(session, shop, "a")
        tell(session, shop, "a", data="deleted")
    assert [row.data for row in told(shop)] == ['{"change":"created"}', '{"change":"deleted"}']


def test_groups_are_numbered_apart(shop: Shop, new_shop) -> None:  # type: ignore[no-untyped-def]
    other = new_shop()
    with writing(shop.engine) as session:
        tell(session, shop, "here")
        tell(session, other, "there")
    assert [row.number for row in told(shop)] == [row.number for row in told(other)] == [1]


@pytest.mark.parametrize(
    "statement", ["UPDATE events SET by_name = 'nobody'", "DELETE FROM events", "TRUNCATE events"]
)
def test_events_can_be_neither_changed_nor_deleted(shop: Shop, statement: str) -> None:
    with writing(shop.engine) as session:
        tell(session, shop, "a")
    before = told(shop)
    refusal = sa.exc.OperationalError if _no_truncate(shop, statement) else sa.exc.IntegrityError
    with pytest.raises(refusal), writing(shop.engine) as session:
        session.connection().execute(sa.text(statement))
    assert [row.model_dump() for row in told(shop)] == [row.model_dump() for row in before]


def _no_truncate(shop: Shop, statement: str) -> bool:
    """SQLite has no TRUNCATE: it is an error of syntax there."""
    return statement.startswith("TRUNCATE") and shop.engine.dialect.name == "sqlite"


@pytest.fixture
def late(shop: Shop) -> Iterator[Session]:
    """A transaction that began first and commits last."""
    with Session(shop.engine.execution_options(snapline_writes=True)) as session:
        yield session


def test_a_cursor_misses_no_event_of_a_transaction_that_commits_late(shop: Shop, late: Session) -> None:
    """Numbers from a sequence would: the later one is seen first, and the cursor passes the earlier one."""
    tell(late, shop, "slow")
    if shop.engine.dialect.name == "postgresql":  # SQLite would let nobody else write meanwhile
        work = sa.text("UPDATE groups SET title = 'slow' WHERE id = :id")
        late.connection().execute(work, {"id": shop.group_id})
    with writing(shop.engine) as session:
        tell(session, shop, "fast")
    seen = told(shop)
    late.commit()
    seen += told(shop, after=seen[-1].number)
    assert [row.subject for row in seen] == ["fast", "slow"]


def test_a_number_is_not_seen_before_the_ones_below_it(shop: Shop) -> None:
    """Hold a transaction open after it has its number: the next writer waits, and a reader sees neither.

    On SQLite the next writer waits for the whole transaction anyway.
    """
    numbered, go_on = threading.Event(), threading.Event()

    def slowly() -> None:
        with writing(shop.engine) as session:
            tell(session, shop, "first")

            def hold(_session: Session) -> None:
                numbered.set()
                assert go_on.wait(10)

            sa.event.listen(session, "before_commit", hold)

    def quickly() -> None:
        with writing(shop.engine) as session:
            tell(session, shop, "second")

    threads = [threading.Thread(target=slowly), threading.Thread(target=quickly)]
    threads[0].start()
    assert numbered.wait(10)
    threads[1].start()
    time.sleep(0.3)
    assert told(shop) == []
    go_on.set()
    for thread in threads:
        thread.join(10)
    assert [(row.number, row.subject) for row in told(shop)] == [(1, "first"), (2, "second")]


def test_a_follower_among_many_writers_gets_every_event_once_and_in_order(shop: Shop) -> None:
    writers, each = 4, 15
    done = threading.Event()
    seen: list[EventRow] = []

    def write(name: int) -> None:
        for number in range(each):
            with writing(shop.engine) as session:
                tell(session, shop, f"{name}-{number}")

    def follow() -> None:
        while True:
            over = done.is_set()
            seen.extend(told(shop, after=seen[-1].number if seen else 0))
            if over:
                return

    threads = [threading.Thread(target=write, args=(name,)) for name in range(writers)]
    follower = threading.Thread(target=follow)
    for thread in (follower, *threads):
        thread.start()
    for thread in threads:
        thread.join()
    done.set()
    follower.join()
    assert [row.number for row in seen] == list(range(1, writers * each + 1))
    assert len({row.subject for row in seen}) == writers * each
