"""The SDK against the real service: sites, bays and assets of the invented scenario, and of a group's own."""

import pytest
from msgspec.structs import replace

from service.sites.conftest import NewWorkshop
from service.sites.workshop import Workshop
from snapline import Conflict, NotFound, Snapline
from snapline.wire.sites import AssetPatch, Bay, BayPatch, Site, SiteAsset, SitePatch


@pytest.fixture
def own(new_workshop: NewWorkshop) -> Snapline:
    """A client of a group without any site."""
    made: Workshop = new_workshop()
    key = made.http.headers["authorization"].removeprefix("Bearer ")
    return Snapline(str(made.http.base_url), key)


def test_the_demo_has_its_four_sites_with_bays_and_assets(client: Snapline) -> None:
    sites = {site.id: site for site in client.sites.list(page_size=3)}
    assert {"copper-street", "harbour-yard", "mill-road", "north-quay"} <= set(sites)
    assert [bay.id for bay in client.sites.bays("mill-road").items] == [
        "mill-corner",
        "mill-lift",
        "mill-long",
    ]
    out = [asset.id for asset in client.assets.list(site="harbour-yard", condition="out_of_service")]
    assert out == ["harbour-board-two-circle"]
    assert len(list(client.assets.list(site="mill-road", page_size=10))) == 24


def test_a_workshop_from_its_first_bay_to_its_last_fixture(own: Snapline) -> None:
    with own as client:
        site = client.sites.create(
            Site(id="elm", name="Elm", time_zone="Europe/Oslo", latitude_deg=60, longitude_deg=10)
        )
        room = ((0.0, 0.0), (12000.0, 0.0), (12000.0, 7000.0), (0.0, 7000.0))
        bay = client.sites.create_bay(
            "elm", Bay(id="one", name="One", surface="floor", ring=room, headings_deg=(0.0,))
        )
        higher = client.sites.update_bay("elm", "one", BayPatch(ceiling_mm=4000), etag=bay.etag)
        with pytest.raises(Conflict) as stale:
            client.sites.replace_bay("elm", bay.data, etag=bay.etag)
        assert stale.value.status == 412
        renamed = replace(higher.data, name="Bay one")
        assert client.sites.replace_bay("elm", renamed, etag=higher.etag).data == renamed
        assert client.sites.get_bay("elm", "one").data == renamed
        asset = client.assets.create(
            SiteAsset(id="b1", site="elm", fixture="board", serial="1", condition="in_service")
        )
        out = client.assets.update("b1", AssetPatch(condition="out_of_service"), etag=asset.etag)
        assert client.assets.get("b1") == out
        with pytest.raises(Conflict, match="still has"):
            client.sites.delete("elm", etag="*")
        assert client.assets.delete("b1", etag=out.etag) == out.data
        assert client.sites.delete_bay("elm", "one", etag="*") == renamed
        named = client.sites.update("elm", SitePatch(name="Elm yard"), etag=site.etag)
        assert client.sites.delete("elm", etag=named.etag).name == "Elm yard"
        with pytest.raises(NotFound):
            client.sites.get("elm")


def test_validation_tells_what_would_be_and_keeps_nothing(own: Snapline) -> None:
    with own as client:
        wanted = Site(id="elm", name="Elm", time_zone="Europe/Oslo", latitude_deg=60, longitude_deg=10)
        assert client.sites.create(wanted, validate_only=True).data == wanted
        assert list(client.sites.list()) == []
