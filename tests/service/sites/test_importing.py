"""Sites come from files whole or not at all, and what they say stands afterwards, on both engines."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from service import small
from service.catalogue.demo import FOLDER, SITES
from service.shop import Shop, rows
from service.sites.workshop import ASSET, BAY, SITE
from snapline.wire.sites import SiteDocument
from snapline_service.catalogue.files import FileFault
from snapline_service.database import reading
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.sites import store
from snapline_service.sites.importing import Imported, import_files

IN_FILE = {name: value for name, value in ASSET.items() if name != "site"}
FILE: dict[str, Any] = {"kind": "site", "format": 1, **SITE, "bays": [BAY], "assets": [IN_FILE]}


def put(shop: Shop, folder: Path, *files: dict[str, Any]) -> tuple[Imported | None, list[FileFault]]:
    folder.mkdir(exist_ok=True)
    for old in folder.glob("*.json"):
        old.unlink()
    for number, file in enumerate(files):
        (folder / f"{number}.json").write_text(json.dumps(file, indent=1))
    return import_files(shop.engine, folder, group=shop.name, by="test")


def shelf(shop: Shop, *site_ids: str) -> dict[str, SiteDocument]:
    with reading(shop.engine) as session:
        return store.shelf(session, shop.group_id, site_ids or None)


def test_the_demo_comes_back_as_it_stands_in_its_files(shop: Shop) -> None:
    imported, faults = import_files(shop.engine, FOLDER / "sites", group=shop.name, by="test")
    assert faults == []
    assert imported == Imported(sites=4, bays=9, assets=52, changed=65)
    stored = shelf(shop)
    assert list(stored) == [site.id for site in SITES]
    for site in SITES:
        by_id = msgspec.structs.replace(
            site,
            bays=tuple(sorted(site.bays, key=lambda bay: bay.id)),
            assets=tuple(sorted(site.assets, key=lambda asset: asset.id)),
        )
        assert stored[site.id] == by_id


def test_the_shelf_holds_what_was_asked_for(shop: Shop) -> None:
    import_files(shop.engine, FOLDER / "sites", group=shop.name, by="test")
    assert set(shelf(shop, "mill-road", "north-quay", "nowhere")) == {"mill-road", "north-quay"}
    with reading(shop.engine) as session:
        assert store.shelf(session, shop.group_id, []) == {}


def test_the_same_files_again_change_nothing(shop: Shop, folder: Path) -> None:
    put(shop, folder, FILE)
    before = rows(shop.engine, shop.group_id)
    again, _ = put(shop, folder, FILE)
    assert again == Imported(sites=1, bays=1, assets=1, changed=0)
    assert rows(shop.engine, shop.group_id) == before


def test_a_file_changes_what_it_says_and_leaves_the_rest(shop: Shop, folder: Path) -> None:
    put(shop, folder, FILE)
    later = {**FILE, "name": "Elm Yard, new", "bays": [{**BAY, "id": "two"}], "assets": []}
    imported, _ = put(shop, folder, later)
    assert imported == Imported(sites=1, bays=1, assets=0, changed=2)
    site = shelf(shop)["elm-yard"]
    assert site.name == "Elm Yard, new"
    assert [bay.id for bay in site.bays] == ["one", "two"]
    assert [asset.id for asset in site.assets] == ["board-1"]


def test_an_asset_in_another_sites_file_has_moved(shop: Shop, folder: Path) -> None:
    put(shop, folder, FILE)
    put(shop, folder, {**FILE, "id": "oak-yard", "bays": []})
    assert {name: len(site.assets) for name, site in shelf(shop).items()} == {"elm-yard": 0, "oak-yard": 1}


def test_a_fault_stops_everything_and_is_told_with_file_and_line(shop: Shop, folder: Path) -> None:
    shop.put(small.catalogue())
    before = rows(shop.engine, shop.group_id)
    wrong = {**FILE, "id": "oak-yard", "assets": [{**IN_FILE, "id": "b2", "fixture": "bord"}]}
    imported, faults = put(shop, folder, FILE, wrong)
    assert imported is None
    (fault,) = faults
    assert (fault.file.name, fault.field) == ("1.json", "/assets/0/fixture")
    assert (folder / "1.json").read_text().splitlines()[fault.line - 1].strip().startswith('"fixture"')
    assert "Did you mean 'board'?" in fault.mend
    assert rows(shop.engine, shop.group_id) == before


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"bays": [{**BAY, "ring": BAY["ring"][::-1]}]}, "/bays/0/ring"),
        (
            {"bays": [{**BAY, "doors": [{"name": "d", "start": [9, 9], "end": [0, 1500]}]}]},
            "/bays/0/doors/0/start",
        ),
        ({"time_zone": "Europe/Berln"}, "/time_zone"),
        ({"colour": "red"}, "/colour"),
        ({"format": 2}, "/format"),
        ({"kind": "vehicle"}, "/kind"),
    ],
)
def test_faults_of_a_file_are_pointed_at(
    shop: Shop, folder: Path, change: dict[str, Any], field: str
) -> None:
    imported, faults = put(shop, folder, {**FILE, **change})
    assert imported is None
    assert [fault.field for fault in faults] == [field]


def test_ids_may_not_stand_in_two_files(shop: Shop, folder: Path) -> None:
    imported, faults = put(shop, folder, FILE, FILE)
    assert imported is None
    assert [(fault.file.name, fault.field) for fault in faults] == [
        ("1.json", "/id"),
        ("1.json", "/assets/0/id"),
    ]


def test_a_file_that_is_no_json_is_told(shop: Shop, folder: Path) -> None:
    folder.mkdir()
    (folder / "broken.json").write_text('{"kind": "site",')
    imported, faults = import_files(shop.engine, folder, group=shop.name, by="test")
    assert imported is None
    assert "not valid JSON" in faults[0].detail


def test_an_empty_folder_and_an_unknown_group_are_told(shop: Shop, folder: Path) -> None:
    folder.mkdir()
    with pytest.raises(InvalidValue, match="no sites"):
        import_files(shop.engine, folder, group=shop.name, by="test")
    with pytest.raises(UnknownName):
        import_files(shop.engine, FOLDER / "sites", group="nobody", by="test")


def test_one_thing_is_not_in_the_files_twice_under_two_ids(shop: Shop, folder: Path) -> None:
    twice = [IN_FILE, {**IN_FILE, "id": "board-2"}]
    _, within = put(shop, folder, {**FILE, "assets": twice})
    assert [fault.field for fault in within] == ["/assets/1/serial"]
    other = {**FILE, "id": "oak-yard", "assets": [{**IN_FILE, "id": "board-2"}]}
    _, across = put(shop, folder, FILE, other)
    assert [(fault.file.name, fault.field) for fault in across] == [("1.json", "/assets/0/serial")]
    assert shelf(shop) == {}


def test_a_thing_in_the_store_does_not_come_again_under_another_id(shop: Shop, folder: Path) -> None:
    put(shop, folder, FILE)
    _, found = put(shop, folder, {**FILE, "assets": [{**IN_FILE, "id": "board-2"}]})
    assert [fault.field for fault in found] == ["/assets/0/serial"]
    exchanged = [{**IN_FILE, "serial": "EY-002"}, {**IN_FILE, "id": "board-2"}]
    imported, found = put(shop, folder, {**FILE, "assets": exchanged})
    assert (imported is not None, found) == (True, []), "serials may change hands within the files"


def test_a_floor_survey_of_a_day_to_come_is_refused(shop: Shop, folder: Path) -> None:
    survey = {**BAY["floor"], "surveyed_on": "2999-01-01"}
    _, found = put(shop, folder, {**FILE, "bays": [{**BAY, "floor": survey}]})
    assert [fault.field for fault in found] == ["/bays/0/floor/surveyed_on"]
