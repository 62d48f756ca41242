"""Whatever happens to the processes that deliver, no event is lost, and one that comes twice has one id."""

import os
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler

import msgspec
import pytest
import sqlalchemy as sa

from running import running
from service import small
from service.shop import Shop
from service.webhooks.conftest import Post
from service.webhooks.receiver import Receiver, receiving
from snapline_service.database import writing
from snapline_service.settings import Settings, environment

DELIVER = (sys.executable, "-m", "snapline_service", "webhooks", "deliver")


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as made:
        yield made


@pytest.fixture
def post(shop: Shop, receiver: Receiver) -> Post:
    return Post(shop, receiver)


@contextmanager
def deliverer(settings: Settings) -> Iterator[subprocess.Popen[bytes]]:
    """Run a process that does nothing but deliver."""
    variables = {**os.environ, **environment(settings)}
    with subprocess.Popen([*DELIVER, "--forever"], env=variables, stdout=subprocess.DEVNULL) as process:
        try:
            yield process
        finally:
            process.terminate()


def let_the_lease_run_out(post: Post) -> None:
    """Do what ten seconds do after a process was killed."""
    with writing(post.shop.engine) as session:
        session.connection().execute(sa.text("UPDATE leases SET until = '2020-01-01'"))


def test_killed_between_sending_and_writing_it_down_it_is_sent_again_with_the_same_id(post: Post) -> None:
    killed = threading.Event()
    with deliverer(post.settings) as process:

        def kill(_: BaseHTTPRequestHandler) -> None:
            process.kill()  # it has sent, and has no answer yet
            process.wait()
            killed.set()

        post.receiver.answer = kill
        post.happens("monday", "tuesday")
        assert killed.wait(20)
    assert [row.state for row in post.log()] == ["pending", "pending"]
    post.receiver.answer = 204
    let_the_lease_run_out(post)
    assert post.deliver() == 2
    first, again, other = post.receiver.ids()
    assert first == again != other
    assert post.receiver.got[0].body == post.receiver.got[1].body


def test_killed_again_and_again_every_event_arrives(post: Post) -> None:
    days = [f"day-{number}" for number in range(12)]
    post.happens(*days)
    for _ in range(3):
        before = len(post.receiver.got)
        let_the_lease_run_out(post)
        with deliverer(post.settings) as process:
            post.receiver.wait_for(before + 2)
            process.kill()
            process.wait()
    let_the_lease_run_out(post)
    post.deliver()
    arrived = Counter(got.event(post.secret).subject for got in post.receiver.got)
    assert set(arrived) == {f"/v1/sites/{day}" for day in days}
    assert len(set(post.receiver.ids())) == len(days)


def test_two_deliverers_do_not_deliver_twice(post: Post) -> None:
    with deliverer(post.settings), deliverer(post.settings):
        for number in range(20):
            post.happens(f"day-{number}")
        post.receiver.wait_for(20)
    assert len(post.receiver.ids()) == len(set(post.receiver.ids())) == 20


def test_one_that_is_stopped_hands_over_at_once(post: Post) -> None:
    with deliverer(post.settings) as process:
        post.happens("monday")
        post.receiver.wait_for(1)
        process.terminate()
        assert process.wait(20) == 0
    post.happens("tuesday")
    assert post.deliver() == 1


def test_a_revision_that_is_published_is_told_within_seconds(post: Post, shop: Shop) -> None:
    with running(post.settings, "--workers", "2"):
        shop.put([small.vehicle(distance_mm=2500)])
        got = post.receiver.wait_for(3, within_s=10)
    types = [one.event(post.secret).type for one in got]
    assert types == ["draft.created", "draft.changed", "catalogue.published"]
    assert got[2].event(post.secret).data["revision"] == 2


def test_the_service_can_be_told_not_to_deliver(post: Post) -> None:
    quiet = msgspec.structs.replace(post.settings, webhooks_deliver=False)
    with running(quiet):
        post.happens("monday")
        threading.Event().wait(2.5)
        assert post.receiver.got == []
    assert post.deliver() == 1
