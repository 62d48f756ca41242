"""The prepared file of a revision: never written again, rebuilt when it is lost, pruned when it is old."""

import gzip
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
import pytest

from running import Service
from service import small
from service.catalogue.demo import FIXTURES, VEHICLES
from service.catalogue.test_export import content
from service.shop import Shop
from snapline.offline import RevisionFile
from snapline.wire.vehicles import Vehicle
from snapline_service.access.keys import find_group
from snapline_service.catalogue import store
from snapline_service.database import reading
from snapline_service.demo import scenario
from snapline_service.revisions.revision_files import RevisionFiles, path_of

CORRECTED = "quellovane-sablune-2023-eu"


@pytest.fixture(scope="module")
def both(demo_service: tuple[Service, str]) -> Iterator[tuple[RevisionFile, RevisionFile]]:
    """The demo catalogue before and after its correction."""
    service, _ = demo_service
    with service.engine() as engine:
        with reading(engine) as session:
            group_id = find_group(session, scenario.GROUP).id
            rows = [store.revision(session, group_id, number) for number in (1, 2)]
            hashes = [row.manifest_hash for row in rows if row]
        files = [
            RevisionFiles(engine, service.settings).get(group_id, number, hashes[number - 1])
            for number in (1, 2)
        ]
        yield files[0], files[1]
        for file in files:
            file.close()


def test_a_correction_leaves_every_other_vehicle_and_its_etag_as_they_were(
    both: tuple[RevisionFile, RevisionFile],
) -> None:
    first, second = both
    assert (first.revision, second.revision) == (1, 2)
    for name in VEHICLES:
        before, after = first.vehicle(name), second.vehicle(name)
        assert before is not None
        assert after is not None
        revision = msgspec.json.decode(after.body, type=Vehicle).changed_in_revision
        if name == CORRECTED:
            assert revision == 2
            assert before.etag != after.etag
        else:
            assert revision == 1
            assert after == before


def test_the_correction_is_the_one_figure(both: tuple[RevisionFile, RevisionFile]) -> None:
    """The demo's own README: the first issue says 2,400 mm, the correction 2,450 mm."""
    before, after = (distances_mm(file) for file in both)
    assert [pair for pair in zip(before, after, strict=True) if pair[0] != pair[1]] == [(2400, 2450)]


def distances_mm(file: RevisionFile) -> list[float]:
    car = file.get_vehicle(CORRECTED)
    assert car is not None
    stages = [stage for procedure in car.procedures for stage in procedure.stages]
    return [item.placement.along.distance_mm for stage in stages for item in stage.placements]


def test_fixtures_stay_as_they_were(both: tuple[RevisionFile, RevisionFile]) -> None:
    assert [both[1].fixture(name) for name in FIXTURES] == [both[0].fixture(name) for name in FIXTURES]


def test_an_etag_names_its_bytes_and_the_compressed_form_holds_the_same(
    both: tuple[RevisionFile, RevisionFile],
) -> None:
    prepared = [found for name in VEHICLES if (found := both[1].vehicle(name))]
    compressed = [found for name in VEHICLES if (found := both[1].vehicle(name, gzip=True))]
    assert len({found.etag for found in prepared}) == len({found.body for found in prepared}) == len(VEHICLES)
    assert [gzip.decompress(found.body) for found in compressed] == [found.body for found in prepared]
    assert not {found.etag for found in compressed} & {found.etag for found in prepared}


def changed_in(file: RevisionFile) -> dict[str, int]:
    names = ("ambrel-2020", "brenn-2021")
    return {name: car.changed_in_revision for name in names if (car := file.get_vehicle(name))}


def test_a_source_that_changes_changes_what_quotes_it(shop: Shop) -> None:
    other = small.vehicle("brenn-2021")
    text = msgspec.json.encode(other).replace(b'"source":"manual"', b'"source":"other"')
    shop.put([*small.catalogue()[:4], small.source("other"), msgspec.json.decode(text)])
    edition = {**small.source("other"), "edition": "issue 2"}
    second = shop.put([edition])
    file = shop.file(second)
    assert changed_in(file) == {"ambrel-2020": 1, "brenn-2021": 2}
    car = file.get_vehicle("brenn-2021")
    assert car is not None
    assert [source.edition for source in car.sources] == ["issue 2"]


def test_a_revision_that_changes_nothing_of_a_vehicle_does_not_touch_its_number(shop: Shop) -> None:
    shop.put(small.catalogue())
    shop.put([small.vehicle(distance_mm=2450)])
    third = shop.put([small.vehicle("brenn-2021", distance_mm=2500)])
    assert changed_in(shop.file(third)) == {"ambrel-2020": 2, "brenn-2021": 3}


def test_a_file_is_read_without_a_lock_and_leaves_no_trace(shop: Shop) -> None:
    """SQLite's immutable mode: a reader neither asks for a lock nor makes files beside the database."""
    shop.put(small.catalogue())
    path = shop.path(1)
    before = path.read_bytes()
    blocker = sqlite3.connect(path, isolation_level=None)
    blocker.execute("BEGIN EXCLUSIVE")
    file = RevisionFile(path)
    assert file.vehicle("ambrel-2020") is not None
    file.close()
    blocker.execute("ROLLBACK")
    blocker.close()
    assert path.read_bytes() == before
    assert names_beside(path) == with_hashes(1)


def test_a_file_cannot_be_written_through_its_reader(shop: Shop) -> None:
    file = shop.file(shop.put(small.catalogue()))
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        file._rows("DELETE FROM vehicles")


def names_beside(path: Path) -> set[str]:
    return {other.name for other in path.parent.iterdir()}


def with_hashes(*numbers: int) -> set[str]:
    """Return the names of revision files and of the hashes beside them."""
    return {f"revision-{number}.{ending}" for number in numbers for ending in ("sqlite", "sha256")}


def overwrite(path: Path) -> None:
    path.write_bytes(b"This is not a database. " * 1000)


def empty(path: Path) -> None:
    path.write_bytes(b"")


def cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def spoil_the_beginning(path: Path) -> None:
    path.write_bytes(b"\0" * 100 + path.read_bytes()[100:])


def replace_by_another_database(path: Path) -> None:
    path.unlink()
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE other (a)")
    connection.close()


def replace_by_another_format(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("UPDATE meta SET value = '0' WHERE key = 'format'")
    connection.commit()
    connection.close()


def replace_by_another_revision(path: Path) -> None:
    shutil.copy(path.with_name("revision-2.sqlite"), path)


@pytest.mark.parametrize(
    "damage",
    [
        Path.unlink,
        overwrite,
        empty,
        cut_short,
        spoil_the_beginning,
        replace_by_another_database,
        replace_by_another_format,
        replace_by_another_revision,
    ],
    ids=lambda damage: damage.__name__,
)
def test_a_file_that_is_lost_or_damaged_is_rebuilt(shop: Shop, damage: Callable[[Path], None]) -> None:
    first = shop.put(small.catalogue())
    before = content(shop.path(1))
    shop.put([small.vehicle(distance_mm=2450)])
    damage(shop.path(1))
    file = shop.file(first)
    assert (file.revision, file.manifest_hash) == (1, first.manifest_hash)
    file.close()
    assert content(shop.path(1)) == before, "the content is the same, whatever the file's bytes"
    assert names_beside(shop.path(1)) == with_hashes(1, 2)


def test_a_folder_that_is_lost_is_made_again(shop: Shop) -> None:
    published = shop.put(small.catalogue())
    shutil.rmtree(shop.path(1).parent)
    assert shop.file(published).vehicle("ambrel-2020") is not None


def test_a_file_stays_open_until_a_newer_one_is_asked_for(shop: Shop) -> None:
    first = shop.put(small.catalogue())
    files = RevisionFiles(shop.engine, shop.settings)
    opened = files.get(shop.group_id, 1, first.manifest_hash)
    assert files.get(shop.group_id, 1, first.manifest_hash) is opened
    second = shop.put([small.vehicle(distance_mm=2450)])
    newer = files.get(shop.group_id, 2, second.manifest_hash)
    assert newer.revision == 2
    assert opened.vehicle("ambrel-2020") != newer.vehicle("ambrel-2020")


@pytest.mark.parametrize("kept", [1, 2, 3])
def test_as_many_files_stay_as_the_settings_say(shop: Shop, kept: int) -> None:
    shop.settings = msgspec.structs.replace(shop.settings, revision_files_kept=kept)
    published = [shop.put(small.catalogue())]
    published += [shop.put([small.vehicle(distance_mm=2400 + number)]) for number in range(1, 5)]
    assert names_beside(shop.path(5)) == with_hashes(*range(6 - kept, 6))
    assert changed_in(shop.file(published[0])) == {"ambrel-2020": 1, "brenn-2021": 1}, (
        "old ones can be rebuilt"
    )


def test_another_groups_files_are_not_pruned(shop: Shop, tmp_path: Path) -> None:
    other = Shop(shop.engine, shop.settings, tmp_path, f"{shop.name}-neighbour")
    other.put(small.catalogue())
    shop.settings = msgspec.structs.replace(shop.settings, revision_files_kept=1)
    shop.put(small.catalogue())
    shop.put([small.vehicle(distance_mm=2450)])
    assert other.path(1).exists()
    assert path_of(shop.settings.data_folder, shop.group_id, 2).exists()
