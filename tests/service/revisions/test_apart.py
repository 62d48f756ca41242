"""A file that takes long is built by a process of its own; it comes to the same, and failures are told."""

import sqlite3
from pathlib import Path
from typing import Any

import msgspec
import pytest
import sqlalchemy as sa

from service import small
from service.catalogue.answers import answers
from service.catalogue.test_export import content
from service.shop import Shop
from snapline_service.catalogue import store
from snapline_service.database import reading, writing
from snapline_service.revisions import apart, supplement
from snapline_service.revisions.content import Plan
from snapline_service.revisions.revision_files import RevisionFiles


def elsewhere(shop: Shop, folder: Path) -> RevisionFiles:
    """Return the files of a machine that has none yet."""
    return RevisionFiles(shop.engine, msgspec.structs.replace(shop.settings, data_folder=folder))


def test_it_comes_to_the_same(shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    published = shop.put(small.catalogue())
    monkeypatch.setattr(apart, "_SOON_DONE", 0)
    file = elsewhere(shop, tmp_path / "apart").get(shop.group_id, 1, published.manifest_hash)
    assert answers(file) == answers(shop.file(published))
    assert content(file.path) == content(shop.path(1))


def test_a_failure_there_is_told_here_and_leaves_nothing(shop: Shop, tmp_path: Path) -> None:
    plan = Plan(group_id=shop.group_id, number=1, base_number=0, base_manifest="", changes=[], retired=[])
    place = tmp_path / "no such folder" / "x.building"
    with pytest.raises(OSError, match="unable to open database file"):
        apart._build_apart(shop.settings.database, plan, place, None)
    assert not place.parent.exists()


def test_changes_lead_to_their_entries_by_key(shop: Shop) -> None:
    """What the database writes at a publication depends on the changes alone, not on the catalogue's size."""
    if shop.engine.dialect.name != "sqlite":
        return
    shop.put(small.catalogue())
    seen: list[tuple[str, Any]] = []
    sa.event.listen(shop.engine, "before_cursor_execute", lambda *a: seen.append((a[2], a[3])))
    with writing(shop.engine) as session:
        store.apply_changes(session, "dft_x", shop.group_id, 9)
        ((update, values),) = [one for one in seen if one[0].startswith("UPDATE entries")]
        plan = session.connection().exec_driver_sql(f"EXPLAIN QUERY PLAN {update}", values).all()
    assert "sqlite_autoindex_entries_1 (group_id=? AND kind=? AND name=?)" in plan[0][3]


def test_what_differs_between_revisions_is_found_without_reading_them(shop: Shop) -> None:
    shop.put(small.catalogue())
    shop.put([small.vehicle(distance_mm=2450), small.vehicle("carver-2022")])
    shop.put([*small.catalogue()[:4], small.vehicle("carver-2022")], retire_missing=True)
    with reading(shop.engine) as session:
        changed, gone = store.between(session, shop.group_id, 1, 3)
        assert {(entry.name, entry.since) for entry in changed} == {("ambrel-2020", 3), ("carver-2022", 2)}
        assert gone == [("vehicle", "brenn-2021")]
        assert store.between(session, shop.group_id, 3, 3) == ([], [])


def test_a_supplement_grown_too_large_gives_way_to_a_whole_file(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(supplement, "SMALL", 0)
    monkeypatch.setattr(supplement, "SHARE", 0.5)
    shop.put(small.catalogue())
    one = shop.put([small.vehicle(distance_mm=2450)])
    both = shop.put([small.vehicle("brenn-2021", distance_mm=2450)])
    assert shop.file(one).base_path == shop.path(1)
    assert shop.file(both).base_path is None
    file = sqlite3.connect(shop.path(both.number))
    assert file.execute("SELECT count(*) FROM overridden").fetchone() == (0,)
    file.close()
