"""Everybody in a group can follow what changes; its administrators see who did what; nobody sees a secret."""

from collections.abc import Callable, Iterator
from itertools import islice
from typing import Any

import pytest

from running import Service, running
from service import small
from service.conftest import Shared
from service.shop import Shop, rows
from snapline import Snapline
from snapline.errors import BadRequest, Forbidden
from snapline.wire.catalogue import SourceDocument
from snapline.wire.changes import Event
from snapline.wire.notes import NoteRequest
from snapline.wire.scope import RepairLine
from snapline.wire.sites import Bay, Site, SiteAsset, SitePatch
from snapline.wire.visits import VisitPatch, VisitRequest
from snapline.wire.webhooks import WebhookRequest

# Invented, with a check digit that fits (49 CFR 565.15).
VIN = "S7MCE2D41P1402286"


@pytest.fixture(scope="session")
def following(shared: Shared) -> Iterator[Service]:
    """The service on the shared database."""
    with running(shared[1]) as service:
        yield service


@pytest.fixture
def here(new_shop: Callable[[], Shop]) -> Shop:
    """A new group with a catalogue in force."""
    shop = new_shop()
    shop.put(small.catalogue())
    return shop


@pytest.fixture
def admin(following: Service, here: Shop) -> Iterator[Snapline]:
    with Snapline(following.url, here.key(holder="Ada").token) as client:
        yield client


def site(name: str = "mill") -> Site:
    return Site(id=name, name=f"Mill {VIN}", time_zone="Europe/Berlin", latitude_deg=52, longitude_deg=12)


def bay() -> Bay:
    ring = ((0, 0), (14000, 0), (14000, 7000), (0, 7000))
    return Bay(id="two", name=f"2 {VIN}", surface="floor", ring=ring, headings_deg=(0,))


def told(events: tuple[Event, ...]) -> list[tuple[str, str]]:
    return [(event.type, event.subject) for event in events]


def test_a_follower_goes_on_from_where_it_was(admin: Snapline) -> None:
    start = admin.changes.list(limit=1).newest_cursor
    assert admin.changes.list(after=start).items == ()
    assert admin.changes.list(after=start).next_cursor == start
    made = admin.sites.create(site())
    admin.sites.create_bay("mill", bay())
    admin.sites.update("mill", SitePatch(latitude_deg=51), etag=made.etag)
    first = admin.changes.list(after=start, limit=2)
    assert told(first.items) == [
        ("site.changed", "/v1/sites/mill"),
        ("bay.changed", "/v1/sites/mill/bays/two"),
    ]
    rest = admin.changes.list(after=first.next_cursor)
    assert [event.data for event in rest.items] == [{"change": "changed"}]
    assert rest.items[0].by.name == "Ada"
    assert rest.next_cursor == rest.newest_cursor == start + 3
    followed = islice(admin.changes.follow(after=start, every_s=0.01), 3)
    assert tuple(followed) == first.items + rest.items


def test_what_changes_nothing_is_not_told(admin: Snapline) -> None:
    made = admin.sites.create(site())
    before = admin.changes.list(limit=1).newest_cursor
    admin.sites.update("mill", SitePatch(latitude_deg=52), etag=made.etag)
    admin.sites.create(site("lane"), validate_only=True)
    assert admin.changes.list(limit=1).newest_cursor == before


def test_a_write_that_is_repeated_is_told_once(admin: Snapline) -> None:
    start = admin.changes.list(limit=1).newest_cursor
    for _ in range(2):
        admin.sites.create(site(), idempotency_key="once")
    assert len(admin.changes.list(after=start).items) == 1


def test_the_feed_leaves_out_keys_which_the_audit_has(admin: Snapline) -> None:
    issued = admin.keys.issue(holder="Front desk", scopes=["read"])
    assert issued.key
    for _ in range(2):  # revoked once, however often it is asked for
        admin.keys.revoke(issued.key.id)
    subject = f"/v1/keys/{issued.key.id}"
    assert subject not in [event.subject for event in admin.changes.list().items]
    found = [event for event in admin.changes.audit(type="key") if event.subject == subject]
    assert [event.type for event in found] == ["key.revoked", "key.issued"]
    assert {event.by.name for event in found} == {"Ada"}


def test_the_audit_is_filtered_and_paged(admin: Snapline, here: Shop) -> None:
    for name in ("mill", "lane", "yard"):
        admin.sites.create(site(name))
    every = list(admin.changes.audit(page_size=2))
    assert [event.cursor for event in every] == list(range(len(every), 0, -1))
    sites = [event for event in every if event.type == "site.changed"]
    assert list(admin.changes.audit(type="site.changed")) == list(admin.changes.audit(type="site")) == sites
    assert list(admin.changes.audit(holder="Ada", type="site")) == sites
    assert list(admin.changes.audit(holder=sites[0].by.holder_id)) == sites
    assert list(admin.changes.audit(holder="Ben")) == []
    middle = sites[1].timestamp
    assert list(admin.changes.audit(type="site", since=middle)) == sites[:2]
    assert list(admin.changes.audit(type="site", until=middle)) == sites[2:]
    assert list(admin.changes.audit(type="site", since=middle[:10])) == sites
    whole_second = f"{middle[:19]}Z"
    kept = [event for event in sites if event.timestamp[:19] >= middle[:19]]
    assert list(admin.changes.audit(type="site", since=whole_second)) == kept


def test_an_odd_filter_is_refused(admin: Snapline) -> None:
    for filters in ({"type": "K%"}, {"since": "yesterday"}, {"until": "2026-13"}):
        with pytest.raises(BadRequest):
            admin.changes.audit(**filters)  # type: ignore[arg-type]
    with pytest.raises(BadRequest):
        admin.changes.list(after=2**40)


def test_a_cursor_of_another_feed_is_refused(admin: Snapline) -> None:
    newest = admin.changes.list(limit=1).newest_cursor
    assert admin.changes.list(after=newest).items == ()
    with pytest.raises(BadRequest, match="of another feed") as refused:
        admin.changes.list(after=newest + 1)
    assert (refused.value.errors[0].pointer, str(newest) in refused.value.mend) == ("/after", True)


def test_another_group_sees_nothing_of_it(
    admin: Snapline, following: Service, new_shop: Callable[[], Shop]
) -> None:
    admin.sites.create(site())
    with Snapline(following.url, new_shop().key(holder="Eve").token) as stranger:
        assert stranger.changes.list().items == ()
        assert [event.type for event in stranger.changes.audit()] == ["key.issued"]


@pytest.mark.parametrize(
    ("period", "pointer"),
    [
        ({"since": "2026-13-45"}, "/since"),
        ({"until": "2026-02-30T10:00Z"}, "/until"),
        ({"since": "2026-11-25", "until": "2026-11-24"}, "/until"),
    ],
)
def test_the_audit_refuses_a_period_that_no_calendar_has(
    admin: Snapline, period: dict[str, Any], pointer: str
) -> None:
    with pytest.raises(BadRequest) as refused:
        list(admin.changes.audit(**period))
    assert refused.value.errors[0].pointer == pointer


def test_the_feed_needs_read_and_the_audit_administer(following: Service, here: Shop) -> None:
    with Snapline(following.url, here.key("plan", "administer").token) as client, pytest.raises(Forbidden):
        client.changes.list()
    with Snapline(following.url, here.key("read", "equip").token) as client:
        assert client.changes.list().items
        with pytest.raises(Forbidden):
            client.changes.audit()


def test_a_publication_tells_its_revision(admin: Snapline, here: Shop) -> None:
    start = admin.changes.list(limit=1).newest_cursor
    here.put([small.vehicle(distance_mm=2500)])
    *_, last = admin.changes.list(after=start).items
    assert (last.type, last.subject) == ("catalogue.published", "/v1/revisions/2")
    assert last.data["revision"] == 2
    assert "command line" in last.by.holder_id


def test_no_vin_and_no_secret_gets_into_an_event(admin: Snapline, here: Shop) -> None:
    """A VIN and a key in every text that people may write, through the writes that are told."""
    token = here.key("read").token
    noted = f"{VIN} {token}"
    admin.sites.create(site())
    admin.sites.create_bay("mill", bay())
    admin.assets.create(
        SiteAsset(id="b1", site="mill", fixture="board", serial=noted[:60], condition="in_service")
    )
    draft = admin.drafts.begin(noted)
    admin.drafts.put(
        draft.data.id,
        SourceDocument(
            id="extra", format=1, title=noted[:120], edition="1", published_on="2026-01-01", invented=True
        ),
    )
    admin.drafts.comment(draft.data.id, noted)
    admin.drafts.submit(draft.data.id, text=noted, etag=admin.drafts.get(draft.data.id).etag)
    admin.drafts.send_back(draft.data.id, noted, etag=admin.drafts.get(draft.data.id).etag)
    admin.drafts.drop(draft.data.id, etag=admin.drafts.get(draft.data.id).etag)
    admin.notes.create(NoteRequest(vehicle_id="ambrel-2020", text=noted))
    admin.webhooks.create(WebhookRequest(url="https://hooks.example.com/x", description=noted[:100]))
    secrets = [issued.token for issued in (here.key("read"), here.key("plan"))]
    types = {event.type for event in admin.changes.audit()}
    assert {"site.changed", "bay.changed", "asset.changed", "draft.created", "draft.changed"} <= types
    assert {"draft.submitted", "draft.sent_back", "draft.dropped"} <= types
    assert {"webhook.created", "key.issued"} <= types
    written = repr(rows(here.engine, here.group_id)["events"])
    assert not [text for text in (VIN, token, *secrets) if text in written]


def test_no_vin_gets_into_an_event_of_a_visit(client: Snapline) -> None:
    start = client.changes.list(limit=1).newest_cursor
    request = VisitRequest(
        vehicle_id="mirandeux-celadine-2023-eu",
        operations=(RepairLine(operation="front bumper cover", extent="replaced"),),
        date="2028-05-05",
    )
    kept = client.visits.keep(request, site="mill-road", reference=VIN)
    moved = client.visits.update(kept.data.id, VisitPatch(reference=f"{VIN} again"), etag=kept.etag)
    client.visits.update(kept.data.id, VisitPatch(state="cancelled"), etag=moved.etag)
    events = client.changes.list(after=start).items
    subject = f"/v1/visits/{kept.data.id}"
    expected = [(f"visit.{what}", subject) for what in ("kept", "changed", "cancelled")]
    assert told(events) == expected
    assert VIN not in repr(events)
