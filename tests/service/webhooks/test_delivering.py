"""What happens reaches the receiver: signed, in order, again where it failed, and never elsewhere."""

import json
import time
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler
from itertools import pairwise

import pytest

from service.shop import Shop, rows
from service.webhooks.conftest import Post
from service.webhooks.receiver import Receiver, receiving
from snapline.webhooks import NotSigned
from snapline.wire.webhooks import ReplayRequest, RotateRequest, WebhookPatch
from snapline_service.database import now
from snapline_service.errors import BadInput, InvalidValue
from snapline_service.webhooks import actions, delivering
from snapline_service.webhooks.sending import Outcome


def test_what_happens_is_sent_once_in_order_and_signed(post: Post) -> None:
    post.happens("monday", "tuesday", "wednesday")
    assert post.deliver() == 3
    events = [got.event(post.secret) for got in post.receiver.got]
    assert [event.subject for event in events] == [
        f"/v1/sites/{d}" for d in ("monday", "tuesday", "wednesday")
    ]
    assert [event.id for event in events] == post.receiver.ids()
    assert all(later.cursor == earlier.cursor + 1 for earlier, later in pairwise(events))
    assert post.deliver() == 0
    assert [row.state for row in post.log()] == ["delivered"] * 3


def test_what_happened_before_a_webhook_was_made_is_not_sent(
    shop: Shop, receiver: Receiver, post: Post
) -> None:
    post.happens("monday")
    another = Post(shop, receiver)
    assert post.deliver() == 1
    another.work(lambda admin: actions.remove(admin, another.row(admin)))


def test_a_body_has_what_standard_webhooks_asks_for(post: Post) -> None:
    # https://github.com/standard-webhooks/standard-webhooks, spec, "Payload structure"; from memory.
    post.happens("monday")
    post.deliver()
    (got,) = post.receiver.got
    body = json.loads(got.body)
    assert body["type"] == "site.changed"
    assert body["timestamp"] <= now()
    assert body["data"] == {"change": "created"}
    assert got.headers["content-type"] == "application/json"


def test_failures_are_tried_again_later_and_later_and_then_given_up(post: Post) -> None:
    post.receiver.answer = 500
    post.happens("monday")
    pauses = []
    for _ in range(len(delivering.PAUSES_S) + 1):
        assert post.deliver() == 1
        (row,) = post.log()
        assert row.response_status == 500
        if row.due_at:
            assert row.attempted_at
            pauses.append((row.attempted_at, row.due_at))
        assert post.deliver() == 0, "it is not due yet"
        post.time_passes()
    assert len(pauses) == len(delivering.PAUSES_S)
    assert (row.state, row.due_at, row.attempts) == ("failed", None, 8)
    assert len(set(post.receiver.ids())) == 1, "every attempt has the same id"


def test_pauses_grow_and_are_spread() -> None:
    job = delivering.Job("whk", 1, 0, None)  # type: ignore[arg-type]
    failed = Outcome(503, 5, "")
    first = {str(delivering._left(job, failed)["due_at"]) for _ in range(20)}
    assert len(first) > 1
    assert list(delivering.PAUSES_S) == sorted(delivering.PAUSES_S)


def test_failures_then_success(post: Post) -> None:
    post.receiver.answer = 503
    post.happens("monday")
    post.deliver()
    post.receiver.answer = 200
    post.time_passes()
    post.deliver()
    (row,) = post.log()
    assert (row.state, row.attempts, row.response_status) == ("delivered", 2, 200)


@pytest.mark.parametrize("status", [301, 302, 307, 308, 400, 404, 500])
def test_an_answer_other_than_2xx_is_no_success_and_no_redirect_is_followed(post: Post, status: int) -> None:
    with receiving() as elsewhere:

        def redirect(handler: BaseHTTPRequestHandler) -> None:
            handler.send_response(status)
            handler.send_header("location", elsewhere.url)
            handler.send_header("content-length", "0")
            handler.end_headers()

        post.receiver.answer = redirect
        post.happens("monday")
        post.deliver()
        assert elsewhere.got == []
    assert post.log()[0].state == "pending"


def test_410_disables_the_webhook_and_nothing_is_lost(post: Post) -> None:
    post.receiver.answer = 410
    post.happens("monday", "tuesday")
    assert post.deliver() == 1
    assert post.shown().state == "disabled"
    assert "410" in str(post.shown().disabled_because)
    post.happens("wednesday")
    assert post.deliver() == 0
    post.receiver.answer = 204
    post.receiver.got.clear()
    post.work(lambda admin: actions.change(admin, post.row(admin), WebhookPatch(state="active")))
    post.time_passes()
    assert post.deliver() == 3
    assert [got.event(post.secret).subject.rpartition("/")[2] for got in post.receiver.got] == [
        "monday", "tuesday", "wednesday",
    ]  # fmt: skip


def ten_megabytes(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    handler.send_header("content-length", "10000000")
    handler.end_headers()
    for _ in range(1000):
        handler.wfile.write(b"x" * 10_000)


def test_an_answer_of_ten_megabytes_is_not_read(post: Post) -> None:
    sent = []

    def answer(handler: BaseHTTPRequestHandler) -> None:
        try:
            ten_megabytes(handler)
            sent.append("all of it")
        except OSError:
            sent.append("not all of it")

    post.receiver.answer = answer
    post.happens("monday")
    post.deliver()
    (row,) = post.log()
    assert row.state == "delivered"
    assert len(str(row.said)) <= 1000
    end_s = time.monotonic() + 10
    while not sent and time.monotonic() < end_s:
        time.sleep(0.01)
    assert sent == ["not all of it"]


def test_a_receiver_that_hangs_does_not_hold_up_another(
    post: Post, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("snapline_service.webhooks.sending.ANSWER_WITHIN_S", 1.0)
    post.receiver.answer = lambda _: time.sleep(3)
    with receiving() as healthy:
        other = Post(shop, healthy)
        post.happens("monday", "tuesday")
        post.deliver()
        assert len(healthy.got) == 2
        other.work(lambda admin: actions.remove(admin, other.row(admin)))
    assert [(row.state, row.attempts) for row in post.log()] == [("pending", 1), ("pending", 1)]
    assert "no answer within 1 s" in str(post.log()[0].said)


def test_an_answer_that_trickles_in_is_cut_off(post: Post, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("snapline_service.webhooks.sending.ANSWER_WITHIN_S", 1.0)

    def trickle(handler: BaseHTTPRequestHandler) -> None:
        for letter in b"HTTP/1.1 200 OK\r\n" * 3:
            handler.wfile.write(bytes([letter]))
            handler.wfile.flush()
            time.sleep(0.1)

    post.receiver.answer = trickle
    post.happens("monday")
    began_s = time.monotonic()
    post.deliver()
    assert time.monotonic() - began_s < 3
    assert post.log()[0].state == "pending"


def test_while_a_secret_is_rotated_both_sign(post: Post) -> None:
    new = post.work(lambda admin: actions.rotate(admin, post.row(admin), RotateRequest(overlap_hours=1)))
    post.happens("monday")
    post.deliver()
    (got,) = post.receiver.got
    assert len(got.headers["webhook-signature"].split()) == 2
    assert got.event(post.secret) == got.event(str(new.secret))


def test_without_overlap_the_old_secret_signs_no_more(post: Post) -> None:
    new = post.work(lambda admin: actions.rotate(admin, post.row(admin), RotateRequest(overlap_hours=0)))
    post.happens("monday")
    post.deliver()
    (got,) = post.receiver.got
    assert got.event(str(new.secret))
    with pytest.raises(NotSigned):
        got.event(post.secret)


def test_a_replay_from_a_cursor_sends_the_same_ids_again(post: Post) -> None:
    post.happens("monday", "tuesday", "wednesday")
    post.deliver()
    first = post.receiver.got[0].event(post.secret)
    post.work(lambda admin: actions.replay(admin, post.row(admin), ReplayRequest(after=first.cursor)))
    assert post.deliver() == 2
    assert post.receiver.ids()[3:] == post.receiver.ids()[1:3]


def test_a_replay_of_named_events(post: Post) -> None:
    post.happens("monday", "tuesday")
    post.deliver()
    wanted = post.receiver.ids()[1]
    post.work(lambda admin: actions.replay(admin, post.row(admin), ReplayRequest(events=(wanted,))))
    assert post.deliver() == 1
    assert post.receiver.ids()[2] == wanted


@pytest.mark.parametrize(
    "request_", [ReplayRequest(), ReplayRequest(after=0, events=("evt_1",)), ReplayRequest(events=("evt_1",))]
)
def test_a_replay_of_nothing_both_or_the_unknown_is_refused(post: Post, request_: ReplayRequest) -> None:
    with pytest.raises(BadInput):
        post.work(lambda admin: actions.replay(admin, post.row(admin), request_))


def test_types_choose_what_is_sent(shop: Shop, receiver: Receiver) -> None:
    chosen = Post(shop, receiver, types=("key", "visit.kept"))
    chosen.happens("monday")
    shop.key("read")
    chosen.deliver()
    assert [got.event(chosen.secret).type for got in receiver.got] == ["key.issued"]
    chosen.work(lambda admin: actions.remove(admin, chosen.row(admin)))


def test_without_types_nothing_of_keys_is_sent(post: Post, shop: Shop) -> None:
    shop.key("read")
    post.happens("monday")
    post.deliver()
    assert [got.event(post.secret).type for got in post.receiver.got] == ["site.changed"]


def test_a_paused_webhook_is_sent_what_it_missed_afterwards(post: Post) -> None:
    post.work(lambda admin: actions.change(admin, post.row(admin), WebhookPatch(state="paused")))
    post.happens("monday")
    assert post.deliver() == 0
    post.work(lambda admin: actions.change(admin, post.row(admin), WebhookPatch(state="active")))
    assert post.deliver() == 1


def test_nobody_but_the_service_disables(post: Post) -> None:
    with pytest.raises(InvalidValue):
        post.work(lambda admin: actions.change(admin, post.row(admin), WebhookPatch(state="disabled")))


def test_the_database_holds_no_secret(post: Post) -> None:
    key = post.secret.removeprefix("whsec_")
    assert key not in repr(rows(post.shop.engine))


def test_a_private_address_is_not_sent_to_unless_allowed(
    post: Post, monkeypatch: pytest.MonkeyPatch, new_shop: Callable[[], Shop]
) -> None:
    post.settings = post.shop.settings  # as in production
    post.happens("monday")
    post.deliver()
    assert post.receiver.got == []
    assert "https alone" in str(post.log()[0].said)
