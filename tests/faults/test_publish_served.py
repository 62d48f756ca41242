"""Publishing while the service is read: nobody waits for it, nobody is refused, everybody sees it at once."""

import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import httpx
import msgspec
import pytest

from conftest import new_database, settings_in
from running import PostgreSQL, running
from service import small
from service.drafts.office import OPENED, Office
from service.shop import Shop
from snapline_service import database
from snapline_service.settings import Settings

# A worker looks for a new revision once a second; the rest is the slack of a busy machine.
SEEN_WITHIN_S = 1.0 + 2.0


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    while OPENED:
        OPENED.pop().close()


def office_in(settings: Settings, url: str, folder: Path) -> Office:
    engine = database.connect(settings.database)
    shop = Shop(engine, settings, folder, "north")
    return Office(shop, url)


class Readers:
    """Threads that read one vehicle from several services until told to stop."""

    def __init__(self, urls: list[str], token: str) -> None:
        self.statuses: list[int] = []
        self.first_seen_s: dict[str, float] = {}
        self._stop = threading.Event()
        self._threads = [
            threading.Thread(target=self._read, args=(url, token)) for url in urls for _ in (1, 2)
        ]

    def _read(self, url: str, token: str) -> None:
        headers = {"authorization": f"Bearer {token}"}
        with httpx.Client(base_url=url, headers=headers, timeout=30) as http:
            while not self._stop.is_set():
                answer = http.get("/v1/vehicles/ambrel-2020")
                self.statuses.append(answer.status_code)
                if answer.headers.get("catalogue-revision") == "2":
                    assert b'"distance_mm":2450.0' in answer.content
                    self.first_seen_s.setdefault(url, time.monotonic())

    def __enter__(self) -> "Readers":
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join()


def watched(office: Office, urls: list[str]) -> None:
    """Publish while all services are read; nothing may fail and all must switch."""
    draft = office.ada.begin()
    office.ada.put(draft, small.vehicle(distance_mm=2450))
    office.ada.done(draft, "submit")
    office.ben.done(draft, "approve")
    with Readers(urls, office.shop.key("read", holder="Reader").token) as readers:
        time.sleep(0.5)
        office.ben.done(draft, "publish")
        published_s = time.monotonic()
        while len(readers.first_seen_s) < len(urls) and time.monotonic() < published_s + 20:
            time.sleep(0.01)
    assert set(readers.statuses) == {200}
    assert set(readers.first_seen_s) == set(urls)
    assert max(readers.first_seen_s.values()) - published_s < SEEN_WITHIN_S


def test_two_hosts_on_one_postgresql_switch_without_a_failed_read(
    tmp_path: Path, postgresql: PostgreSQL | None
) -> None:
    """Two processes with data folders of their own, as on two machines: the other one builds its own file."""
    first = settings_in(tmp_path / "one", new_database("postgresql", tmp_path, postgresql))
    other = msgspec.structs.replace(first, data_folder=tmp_path / "two" / "revisions")
    database.migrate(first.database)
    with ExitStack() as stack:
        urls = [stack.enter_context(running(settings)).url for settings in (first, other)]
        office = office_in(first, urls[0], tmp_path / "files")
        watched(office, urls)
        office.shop.engine.dispose()
    group = office.shop.group_id
    assert (other.data_folder / group / "revision-2.sqlite").exists()


def test_several_workers_switch_without_a_failed_read(settings: Settings, tmp_path: Path) -> None:
    with running(settings, "--workers", "2") as service:
        office = office_in(settings, service.url, tmp_path / "files")
        watched(office, [service.url])
        office.shop.engine.dispose()


def test_published_twice_at_once_one_wins(settings: Settings, tmp_path: Path) -> None:
    with running(settings) as service:
        office = office_in(settings, service.url, tmp_path / "files")
        drafts = []
        for distance_mm in (2450, 2460):
            draft = office.ada.begin()
            office.ada.put(draft, small.vehicle(distance_mm=distance_mm))
            office.ada.done(draft, "submit")
            office.ben.done(draft, "approve")
            drafts.append(draft)
        for chosen, number in (([drafts[0]] * 4, 2), (drafts[1:] * 2, None)):
            with ThreadPoolExecutor(4) as pool:
                answers = list(pool.map(lambda draft: office.ben.act(draft, "publish"), chosen))
            assert sorted(answer.status_code for answer in answers)[0] == (201 if number else 409)
            assert {answer.status_code for answer in answers[1:]} <= {201, 409, 412}
            assert sum(answer.status_code == 201 for answer in answers) == (1 if number else 0)
        assert [item["number"] for item in office.ada.get("/v1/revisions")["items"]] == [2, 1]
        office.shop.engine.dispose()
