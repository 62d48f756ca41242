"""Sites and assets through the SDK: the ETag comes with what is read, and goes with what is changed."""

import asyncio
import json

import httpx
import msgspec
import pytest
import respx

from snapline import AsyncSnapline, Conflict, Snapline, Stored
from snapline.wire.sites import AssetPatch, Bay, BayPatch, Site, SiteAsset, SitePatch

ASSET = SiteAsset(id="board-1", site="elm", fixture="board", serial="E-1", condition="in_service")
BODY = msgspec.json.encode(ASSET)
STALE = {"title": "Changed", "status": 412, "code": "PRECONDITION_FAILED", "detail": "Too late."}


def reply(body: bytes = BODY, status: int = 200, etag: str = '"a1"') -> httpx.Response:
    return httpx.Response(status, content=body, headers={"etag": etag, "content-type": "application/json"})


def test_what_is_read_has_its_etag(wire: respx.MockRouter, client: Snapline) -> None:
    wire.get("/v1/assets/board-1").mock(return_value=reply())
    assert client.assets.get("board-1") == Stored(data=ASSET, etag='"a1"')


def test_a_change_goes_under_the_etag_that_was_read_and_tells_the_new_one(
    wire: respx.MockRouter, client: Snapline
) -> None:
    wire.get("/v1/assets/board-1").mock(return_value=reply())
    route = wire.patch("/v1/assets/board-1").mock(return_value=reply(etag='"a2"'))
    read = client.assets.get("board-1")
    patch = AssetPatch(condition="out_of_service", checked_until=None)
    assert client.assets.update("board-1", patch, etag=read.etag).etag == '"a2"'
    sent = route.calls.last.request
    assert sent.headers["if-match"] == '"a1"'
    assert sent.headers["content-type"] == "application/merge-patch+json"
    assert json.loads(sent.content) == {"condition": "out_of_service", "checked_until": None}


def test_somebody_elses_change_in_between_is_a_conflict(wire: respx.MockRouter, client: Snapline) -> None:
    route = wire.patch("/v1/assets/board-1").mock(return_value=httpx.Response(412, json=STALE))
    with pytest.raises(Conflict) as refused:
        client.assets.update("board-1", AssetPatch(serial="E-2"), etag='"a1"')
    assert refused.value.code == "PRECONDITION_FAILED"
    assert route.call_count == 1, "trying again would not help"


def test_a_write_that_got_no_answer_is_sent_again_under_the_same_key(
    wire: respx.MockRouter, client: Snapline
) -> None:
    """Its Idempotency-Key makes that harmless."""
    route = wire.post("/v1/assets").mock(side_effect=[httpx.ReadTimeout("late"), reply(status=201)])
    assert client.assets.create(ASSET).data == ASSET
    first, again = (call.request.headers["idempotency-key"] for call in route.calls)
    assert first == again


def test_a_key_of_ones_own_is_sent_and_validation_is_asked_for(
    wire: respx.MockRouter, client: Snapline
) -> None:
    route = wire.post("/v1/assets").mock(return_value=reply())
    client.assets.create(ASSET, idempotency_key="order-7", validate_only=True)
    sent = route.calls.last.request
    assert sent.headers["idempotency-key"] == '"order-7"'
    assert dict(sent.url.params) == {"validate_only": "true"}
    route = wire.patch("/v1/assets/board-1").mock(return_value=reply())
    client.assets.update("board-1", AssetPatch(serial="E-2"), etag="*", validate_only=True)
    assert dict(route.calls.last.request.url.params) == {"validate_only": "true"}


def test_a_deletion_returns_what_was_there(wire: respx.MockRouter, client: Snapline) -> None:
    route = wire.delete("/v1/assets/board-1").mock(return_value=reply())
    assert client.assets.delete("board-1", etag='"a1"') == ASSET
    assert route.calls.last.request.headers["if-match"] == '"a1"'


def test_what_was_confirmed_by_304_keeps_its_etag(wire: respx.MockRouter, client: Snapline) -> None:
    unchanged = httpx.Response(304, headers={"etag": '"a1"'})
    wire.get("/v1/assets/board-1").mock(side_effect=[reply(), unchanged])
    assert client.assets.get("board-1") == client.assets.get("board-1")


@pytest.mark.parametrize(
    ("whole", "patch"),
    [(Site, SitePatch), (Bay, BayPatch), (SiteAsset, AssetPatch)],
    ids=lambda t: t.__name__,
)
def test_a_patch_can_change_every_field_but_the_id(
    whole: type[msgspec.Struct], patch: type[msgspec.Struct]
) -> None:
    assert {*patch.__struct_fields__, "id"} == set(whole.__struct_fields__)
    assert msgspec.json.encode(patch()) == b"{}"


def test_asyncio_does_the_same(wire: respx.MockRouter, url: str, key: str) -> None:
    wire.get("/v1/assets/board-1").mock(return_value=reply())
    route = wire.patch("/v1/assets/board-1").mock(return_value=reply(etag='"a2"'))

    async def change() -> Stored[SiteAsset]:
        async with AsyncSnapline(url, key) as client:
            read = await client.assets.get("board-1")
            return await client.assets.update("board-1", AssetPatch(serial="E-2"), etag=read.etag)

    assert asyncio.run(change()).etag == '"a2"'
    assert route.calls.last.request.headers["if-match"] == '"a1"'
