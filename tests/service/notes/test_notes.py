"""Local notes: seen in their group alone, changed under their ETag, and no part of the requirement."""

import json
from collections.abc import Callable, Iterator

import httpx
import pytest

from running import Service, running
from service import small
from service.conftest import Shared
from service.shop import Shop
from snapline import Snapline, errors
from snapline.wire.notes import NotePatch, NoteRequest
from snapline.wire.sites import Bay, Site

CAR = "ambrel-2020"


@pytest.fixture(scope="session")
def noting(shared: Shared) -> Iterator[Service]:
    """The service on the shared database."""
    with running(shared[1]) as service:
        yield service


@pytest.fixture
def client(noting: Service, new_shop: Callable[[], Shop]) -> Iterator[Snapline]:
    """A client of a new group with a catalogue, a site and a bay."""
    shop = new_shop()
    shop.put(small.catalogue())
    with Snapline(noting.url, shop.key().token) as client:
        client.sites.create(
            Site(id="mill", name="Mill", time_zone="Europe/Berlin", latitude_deg=52, longitude_deg=12)
        )
        ring = ((0, 0), (9000, 0), (9000, 5000), (0, 5000))
        client.sites.create_bay(
            "mill", Bay(id="two", name="2", surface="floor", ring=ring, headings_deg=(0,))
        )
        yield client


def test_a_note_is_written_read_changed_and_deleted(client: Snapline) -> None:
    request = NoteRequest(vehicle_id=CAR, procedure_id="board", site="mill", prefers_bay="two", text="Bay 2.")
    made = client.notes.create(request)
    assert (made.data.text, made.data.written_by) == ("Bay 2.", "test")
    assert client.notes.get(made.data.id) == made
    changed = client.notes.update(made.data.id, NotePatch(text="Bay 2, door shut."), etag=made.etag)
    assert (changed.data.text, changed.data.prefers_bay) == ("Bay 2, door shut.", "two")
    with pytest.raises(errors.Conflict):
        client.notes.update(made.data.id, NotePatch(text="x"), etag=made.etag)
    assert client.notes.delete(made.data.id, etag=changed.etag) == changed.data
    with pytest.raises(errors.NotFound):
        client.notes.get(made.data.id)


def test_what_is_done_to_a_note_is_told_without_its_words(client: Snapline) -> None:
    start = client.changes.list(limit=1).newest_cursor
    request = NoteRequest(vehicle_id=CAR, procedure_id="board", site="mill", text="Mrs Smith waits.")
    made = client.notes.create(request)
    changed = client.notes.update(made.data.id, NotePatch(site=None), etag=made.etag)
    client.notes.update(made.data.id, NotePatch(text="Mrs Smith has gone."), etag="*", validate_only=True)
    client.notes.delete(made.data.id, etag=changed.etag)
    told = client.changes.list(after=start).items
    assert [event.type for event in told] == ["note.created", "note.changed", "note.deleted"]
    assert {event.subject for event in told} == {f"/v1/notes/{made.data.id}"}
    about = {"vehicle_id": CAR, "procedure_id": "board", "site": "mill"}
    assert [event.data for event in told] == [about, {**about, "site": None}, {**about, "site": None}]
    assert list(client.changes.audit(type="note")) == list(reversed(told))


def test_a_note_leaves_the_requirement_byte_for_byte_as_it_is(client: Snapline) -> None:
    before = client.vehicles.get(CAR)
    client.notes.create(NoteRequest(vehicle_id=CAR, text="Use bay 2."))
    assert client.vehicles.get(CAR) == before


def test_notes_are_found_by_vehicle_procedure_and_site(client: Snapline) -> None:
    for request in (
        NoteRequest(vehicle_id=CAR, text="all sites"),
        NoteRequest(vehicle_id=CAR, procedure_id="board", site="mill", text="at the mill"),
        NoteRequest(vehicle_id="brenn-2021", text="another"),
    ):
        client.notes.create(request)
    assert [note.text for note in client.notes.list(vehicle_id=CAR)] == ["all sites", "at the mill"]
    assert [note.text for note in client.notes.list(procedure_id="board")] == ["at the mill"]
    found = [note.text for note in client.notes.list(vehicle_id=CAR, site="elsewhere")]
    assert found == ["all sites"]
    assert len(list(client.notes.list(page_size=1))) == 3


@pytest.mark.parametrize(
    ("request_", "pointer"),
    [
        (NoteRequest(vehicle_id="nobody", text="x"), "/vehicle_id"),
        (NoteRequest(vehicle_id=CAR, text=" \n\t "), "/text"),
        (NoteRequest(vehicle_id=CAR, procedure_id="boardd", text="x"), "/procedure_id"),
        (NoteRequest(vehicle_id=CAR, site="nowhere", text="x"), "/site"),
        (NoteRequest(vehicle_id=CAR, prefers_bay="two", text="x"), "/site"),
        (NoteRequest(vehicle_id=CAR, site="mill", prefers_bay="nine", text="x"), "/prefers_bay"),
    ],
)
def test_what_a_note_is_about_must_be_there(client: Snapline, request_: NoteRequest, pointer: str) -> None:
    with pytest.raises(errors.SnaplineError) as refused:
        client.notes.create(request_)
    assert pointer in str(refused.value) or pointer in json.dumps(
        [item.pointer for item in refused.value.problem.errors]  # type: ignore[attr-defined]
    )


def test_another_group_sees_none_of_it(
    client: Snapline, noting: Service, new_shop: Callable[[], Shop]
) -> None:
    made = client.notes.create(NoteRequest(vehicle_id=CAR, text="ours"))
    with Snapline(noting.url, new_shop().key().token) as stranger:
        assert list(stranger.notes.list()) == []
        with pytest.raises(errors.NotFound):
            stranger.notes.delete(made.data.id, etag="*")


def test_writing_needs_the_scope_record(noting: Service, new_shop: Callable[[], Shop]) -> None:
    token = new_shop().key("read", "plan", "edit", "review", "equip").token
    headers = {"authorization": f"Bearer {token}"}
    body = {"vehicle_id": CAR, "text": "x"}
    assert httpx.post(f"{noting.url}/v1/notes", json=body, headers=headers).status_code == 403
