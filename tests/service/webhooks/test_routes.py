"""Webhooks over HTTP, with the SDK at both ends."""

import time
from collections.abc import Callable, Iterator
from itertools import count

import msgspec
import pytest

from conftest import ENGINES, new_database, settings_in
from running import PostgreSQL, Service, running
from service.shop import Shop
from service.webhooks.receiver import Receiver
from snapline import Snapline
from snapline.errors import BadRequest, Conflict, Forbidden, NotFound
from snapline.wire.sites import Site
from snapline.wire.webhooks import WebhookPatch, WebhookRequest
from snapline_service import database

SITE = Site(id="mill", name="Mill", time_zone="Europe/Berlin", latitude_deg=52, longitude_deg=12)


@pytest.fixture(scope="module", params=ENGINES)
def sending(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, postgresql: PostgreSQL | None
) -> Iterator[Service]:
    """The service, allowed to send to this machine, on a database where nobody else delivers."""
    folder = tmp_path_factory.mktemp(f"sending-{request.param}")
    settings = settings_in(folder, new_database(request.param, folder, postgresql))
    database.migrate(settings.database)
    allowed = msgspec.structs.replace(settings, webhooks_deliver=True, webhooks_allow_private=True)
    with running(allowed) as service:
        yield service


@pytest.fixture(scope="module")
def new_shop(sending: Service, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[], Shop]]:
    """Make a new group there."""
    numbers = count(1)
    with sending.engine() as engine:
        yield lambda: Shop(engine, sending.settings, tmp_path_factory.mktemp("shop"), f"s{next(numbers)}")


@pytest.fixture
def admin(sending: Service, new_shop: Callable[[], Shop]) -> Iterator[Snapline]:
    with Snapline(sending.url, new_shop().key(holder="Ada").token) as client:
        yield client
        for webhook in client.webhooks.list().items:
            client.webhooks.delete(webhook.id, etag="*")


def test_a_change_is_received_within_seconds_and_its_delivery_listed(
    admin: Snapline, receiver: Receiver
) -> None:
    made = admin.webhooks.create(WebhookRequest(url=receiver.url, description="Shop program"))
    assert made.webhook
    admin.sites.create(SITE)
    began_s = time.monotonic()
    (got,) = receiver.wait_for(1)
    assert time.monotonic() - began_s < 5
    event = got.event(str(made.secret))
    assert (event.type, event.subject, event.by.name) == ("site.changed", "/v1/sites/mill", "Ada")
    assert event in admin.changes.list().items
    delivery = settled(admin, made.webhook.id)
    assert (delivery.event_id, delivery.cursor) == (event.id, event.cursor)
    assert (delivery.state, delivery.attempts, delivery.response_status) == ("delivered", 1, 204)
    assert delivery.next_attempt_at is None


def settled(admin: Snapline, webhook_id: str):  # type: ignore[no-untyped-def]
    """Return the newest delivery as soon as it is written down how it went."""
    end_s = time.monotonic() + 10
    while True:
        found = [one for one in admin.webhooks.deliveries(webhook_id) if one.attempts]
        if found:
            return found[0]
        assert time.monotonic() < end_s
        time.sleep(0.05)


def test_a_test_is_sent_to_this_webhook_alone(admin: Snapline, receiver: Receiver) -> None:
    tested = admin.webhooks.create(WebhookRequest(url=receiver.url, types=("visit",)))
    admin.webhooks.create(WebhookRequest(url=receiver.url))
    assert tested.webhook
    admin.webhooks.test(tested.webhook.id)
    (got,) = receiver.wait_for(1)
    assert got.event(str(tested.secret)).type == "webhook.tested"


def test_a_secret_is_shown_once(admin: Snapline, receiver: Receiver) -> None:
    request = WebhookRequest(url=receiver.url)
    assert admin.webhooks.create(request, validate_only=True).webhook is None
    first = admin.webhooks.create(request, idempotency_key="once")
    again = admin.webhooks.create(request, idempotency_key="once")
    assert first.webhook == again.webhook
    assert first.secret
    assert first.secret.startswith("whsec_")
    assert again.secret is None
    assert len(admin.webhooks.list().items) == 1
    rotated = admin.webhooks.rotate(str(first.webhook and first.webhook.id))
    assert rotated.secret not in (None, first.secret)


def test_a_webhook_is_changed_under_its_etag(admin: Snapline, receiver: Receiver) -> None:
    made = admin.webhooks.create(WebhookRequest(url=receiver.url)).webhook
    assert made
    stored = admin.webhooks.get(made.id)
    paused = admin.webhooks.update(made.id, WebhookPatch(state="paused"), etag=stored.etag)
    assert paused.data.state == "paused"
    with pytest.raises(Conflict):
        admin.webhooks.update(made.id, WebhookPatch(state="active"), etag=stored.etag)
    with pytest.raises(Conflict):
        admin.webhooks.delete(made.id, etag=stored.etag)
    assert admin.webhooks.delete(made.id, etag=paused.etag) == paused.data
    with pytest.raises(NotFound):
        admin.webhooks.get(made.id)


def test_a_replay_comes_with_the_same_ids(admin: Snapline, receiver: Receiver) -> None:
    start = admin.changes.list(limit=1).newest_cursor
    made = admin.webhooks.create(WebhookRequest(url=receiver.url)).webhook
    assert made
    admin.sites.create(SITE)
    first = receiver.wait_for(1)[0].id
    settled(admin, made.id)
    admin.webhooks.replay(made.id, after=start)
    receiver.wait_for(2)
    settled(admin, made.id)
    admin.webhooks.replay(made.id, events=(first,))
    assert {got.id for got in receiver.wait_for(3)} == {first}
    with pytest.raises(BadRequest):
        admin.webhooks.replay(made.id)


@pytest.mark.parametrize("url", ["ftp://x.example/", "https://ada:pw@x.example/", "https://x.example/#", "x"])
def test_an_address_of_another_kind_is_refused(admin: Snapline, url: str) -> None:
    with pytest.raises(BadRequest) as refused:
        admin.webhooks.create(WebhookRequest(url=url))
    assert refused.value.errors[0].pointer == "/url"


def test_a_name_that_is_no_punycode_is_a_fault_of_the_address(admin: Snapline, receiver: Receiver) -> None:
    made = admin.webhooks.create(WebhookRequest(url=receiver.url)).webhook
    assert made
    for url in ("https://xn--/", "https://xn--a/"):
        for tried in (
            lambda url=url: admin.webhooks.create(WebhookRequest(url=url), validate_only=True),
            lambda url=url: admin.webhooks.create(WebhookRequest(url=url)),
            lambda url=url: admin.webhooks.update(made.id, WebhookPatch(url=url), etag="*"),
        ):
            with pytest.raises(BadRequest) as refused:
                tried()
            assert refused.value.errors[0].pointer == "/url"


def test_types_that_no_event_has_are_refused(admin: Snapline, receiver: Receiver) -> None:
    made = admin.webhooks.create(
        WebhookRequest(url=receiver.url, types=("note", "visit.kept", "key"))
    ).webhook
    assert made
    wrong = ("visit", "zombies", "visit.keep")
    for tried in (
        lambda: admin.webhooks.create(WebhookRequest(url=receiver.url, types=wrong)),
        lambda: admin.webhooks.update(made.id, WebhookPatch(types=wrong), etag="*"),
    ):
        with pytest.raises(BadRequest) as refused:
            tried()
        told = {fault.pointer: fault for fault in refused.value.errors}
        assert set(told) == {"/types/1", "/types/2"}
        assert {fault.code for fault in told.values()} == {"UNKNOWN_NAME"}
        assert "Known here: catalogue.published" in told["/types/1"].detail
        assert "Did you mean 'visit.kept'?" in told["/types/2"].detail


def test_a_state_is_set_to_active_or_paused(admin: Snapline, receiver: Receiver) -> None:
    made = admin.webhooks.create(WebhookRequest(url=receiver.url)).webhook
    assert made
    for state, says in (("disabled", "Only the service itself"), ("nope", "cannot be 'nope'")):
        with pytest.raises(BadRequest, match=says) as refused:
            admin.webhooks.update(made.id, WebhookPatch(state=state), etag="*")
        assert refused.value.errors[0].pointer == "/state"


def test_a_group_may_have_fifty(admin: Snapline, receiver: Receiver) -> None:
    for _ in range(50):
        admin.webhooks.create(WebhookRequest(url=receiver.url))
    with pytest.raises(Conflict, match="50"):
        admin.webhooks.create(WebhookRequest(url=receiver.url))


def test_webhooks_are_for_administrators_of_their_own_group(
    admin: Snapline, receiver: Receiver, sending: Service, new_shop: Callable[[], Shop]
) -> None:
    made = admin.webhooks.create(WebhookRequest(url=receiver.url)).webhook
    assert made
    other = new_shop()
    with Snapline(sending.url, other.key().token) as stranger:
        assert stranger.webhooks.list().items == ()
        for refused in (stranger.webhooks.get, stranger.webhooks.test, stranger.webhooks.deliveries):
            with pytest.raises(NotFound):
                refused(made.id)
    with Snapline(sending.url, other.key("read", "edit").token) as editor, pytest.raises(Forbidden):
        editor.webhooks.list()
