"""Published revisions: listed, brought back, copied for offline use."""

import asyncio
import base64
import hashlib
from pathlib import Path

import pytest

from service import small
from service.drafts.office import Office
from snapline import AsyncSnapline, Snapline, errors, page_token
from snapline.offline import RevisionFile
from snapline.wire.catalogue import VehicleDocument
from snapline.wire.drafts import Acknowledgement
from snapline.wire.revisions import RevisionQuery


def test_revisions_are_listed_newest_first(office: Office) -> None:
    office.publish(small.vehicle(distance_mm=2450))
    office.publish(small.vehicle(distance_mm=2460))
    items = office.ada.get("/v1/revisions")["items"]
    assert [(item["number"], item["review"]) for item in items] == [
        (3, "reviewed"),
        (2, "reviewed"),
        (1, "none"),
    ]
    page = office.ada.get("/v1/revisions?page_size=2")
    assert (
        office.ada.get(f"/v1/revisions?page_size=2&page_token={page['next_page_token']}")["items"]
        == items[2:]
    )
    assert office.ada.get("/v1/revisions/2") == items[1]
    assert office.ada.http.get("/v1/revisions/9").status_code == 404


def test_going_back_is_a_new_revision_with_the_old_content_hash(office: Office) -> None:
    office.publish(small.vehicle(distance_mm=2450), small.vehicle("carver-2022"))
    answer = office.ada.http.post("/v1/revisions/1/restore", json={"note": "2450 was wrong"})
    assert answer.status_code == 201
    draft = f"/v1/drafts/{answer.json()['id']}"
    assert answer.json()["restores"] == 1
    assert office.ada.act(draft, "approve").status_code == 409
    assert office.agree(draft) == 3
    first, _, third = reversed(office.ada.get("/v1/revisions")["items"])
    assert first["manifest_hash"] == third["manifest_hash"]
    assert (third["restores"], third["note"], third["reviewed_by"]) == (1, "2450 was wrong", "Ben")


def test_what_is_in_force_already_is_not_restored(office: Office) -> None:
    assert office.ada.http.post("/v1/revisions/1/restore", json={}).status_code == 409
    assert office.ada.http.post("/v1/revisions/7/restore", json={}).status_code == 404


def test_the_file_is_downloaded_whole_or_in_ranges(office: Office) -> None:
    """Ranges by RFC 9110, section 14; the digest by RFC 9530, section 3."""
    (part,) = office.ada.get("/v1/revisions/1/files")["items"]
    path = f"/v1/revisions/1/files/{part['name']}"
    whole = office.ada.http.get(path)
    content = office.shop.path(1).read_bytes()
    assert whole.content == content
    assert hashlib.sha256(content).hexdigest() == part["sha256"]
    digest = base64.b64encode(hashlib.sha256(content).digest()).decode()
    assert whole.headers["repr-digest"] == f"sha-256=:{digest}:"
    some = office.ada.http.get(path, headers={"range": "bytes=100-199"})
    assert (some.status_code, some.content) == (206, content[100:200])
    assert some.headers["content-range"] == f"bytes 100-199/{len(content)}"
    rest = office.ada.http.get(path, headers={"range": f"bytes={len(content) - 5}-"})
    assert rest.content == content[-5:]
    beyond = office.ada.http.get(path, headers={"range": f"bytes={len(content)}-"})
    assert (beyond.status_code, beyond.headers["content-range"]) == (416, f"bytes */{len(content)}")
    assert beyond.json()["code"] == "RANGE_NOT_SATISFIABLE"
    stale = office.ada.http.get(path, headers={"range": "bytes=0-9", "if-range": '"old"'})
    assert (stale.status_code, stale.content) == (200, content)
    assert office.ada.http.get(f"{path}x").status_code == 404
    assert office.ada.http.get("/v1/revisions/1/files/..%2Fsecret").status_code == 404


def test_an_offline_copy_is_brought_up_to_date_and_answers_the_same(office: Office, tmp_path: Path) -> None:
    with Snapline(office.url, office.shop.key("read").token) as client:
        first = client.revisions.download(tmp_path / "copy")
        office.publish(small.vehicle(distance_mm=2450))
        second = client.revisions.download(tmp_path / "copy")
        assert first.name != second.name
        file = RevisionFile(second)
        assert file.revision == 2
        with Snapline(office.url, office.shop.key("read").token) as fresh:
            assert file.get_vehicle("ambrel-2020") == fresh.vehicles.get("ambrel-2020")
        file.close()


def test_a_download_goes_on_where_it_stopped_and_notices_damage(office: Office, tmp_path: Path) -> None:
    content = office.shop.path(1).read_bytes()
    name = f"revision-1.sqlite.{hashlib.sha256(content).hexdigest()[:12]}.part"
    with Snapline(office.url, office.shop.key("read").token) as client:
        (tmp_path / name).write_bytes(content[:5000])
        assert client.revisions.download(tmp_path).read_bytes() == content
        (tmp_path / "revision-1.sqlite").unlink()
        (tmp_path / name).write_bytes(b"x" * 5000)
        with pytest.raises(errors.ResponseUnreadable, match="damaged"):
            client.revisions.download(tmp_path)
        assert client.revisions.download(tmp_path).read_bytes() == content


def test_the_async_client_downloads_too(office: Office, tmp_path: Path) -> None:
    async def download() -> Path:
        async with AsyncSnapline(office.url, office.shop.key("read").token) as client:
            return await client.revisions.download(tmp_path)

    assert asyncio.run(download()).read_bytes() == office.shop.path(1).read_bytes()


def test_the_whole_way_by_the_sdk(office: Office) -> None:
    ada = Snapline(office.url, office.shop.key("read", "edit", "review", holder="Ada").token)
    ben = Snapline(office.url, office.shop.key("read", "review", holder="Ben").token)
    with ada, ben:
        draft = ada.drafts.begin("longer wheelbase")
        name = draft.data.id
        car = ada.drafts.document(name, VehicleDocument, "ambrel-2020")
        patch = {"dimensions": {"wheelbase_mm": 2650}}
        changed = ada.drafts.patch(name, VehicleDocument, "ambrel-2020", patch, etag=car.etag)
        assert changed.data.dimensions.wheelbase_mm == 2650
        with pytest.raises(errors.Conflict):
            ada.drafts.put(name, car.data, etag=car.etag)
        assert [change.act for change in ada.drafts.changes(name)] == ["changes"]
        seen = [Acknowledgement(**one) for one in office.ada.acknowledging(f"/v1/drafts/{name}")]
        submitted = ada.drafts.submit(name, "please", seen, etag=ada.drafts.get(name).etag)
        with pytest.raises(errors.SnaplineError, match="cannot approve"):
            ada.drafts.approve(name, etag=submitted.etag)
        ben.drafts.comment(name, "looks right")
        approved = ben.drafts.approve(name, etag=submitted.etag)
        revision = ben.drafts.publish(name, etag=approved.etag)
        assert (revision.number, revision.reviewed_by) == (2, "Ben")
        assert [remark.act for remark in ada.drafts.review(name).remarks] == [
            "submitted", "comment", "approved", "published",
        ]  # fmt: skip
        assert ada.revisions.get(2) == revision
        restoring = ada.revisions.restore(1)
        assert restoring.data.restores == 1
        assert ada.drafts.drop(restoring.data.id, etag=restoring.etag).state == "dropped"
        assert [draft.state for draft in ada.drafts.list(state="dropped")] == ["dropped"]


@pytest.mark.parametrize("number", [0, 99, 2**31, 10**30])
def test_a_number_that_no_revision_has_is_not_found(office: Office, number: int) -> None:
    # PostgreSQL refuses to be asked for more than 2**31 - 1 in a column of integers.
    assert office.ada.http.get(f"/v1/revisions/{number}").status_code == 404
    assert office.ada.http.get(f"/v1/revisions/1/diff/{number}").status_code == 404
    assert office.ada.http.get(f"/v1/revisions/{number}/files").status_code == 404
    draft = office.ada.begin()
    settled = office.ada.http.post(
        f"{draft}/conflicts/{number}", json={"take": "draft"}, headers={"if-match": "*"}
    )
    assert settled.status_code == 404


def test_a_forged_page_token_is_refused(office: Office) -> None:
    token = page_token.make([10**30], RevisionQuery(page_size=1))
    answer = office.ada.http.get("/v1/revisions", params={"page_token": token})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/page_token"
