"""A revision file with a few wrong bytes in it is noticed by its hash and built anew."""

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from service import small
from service.shop import Shop
from snapline_service.drafts.actions import Published
from snapline_service.revisions import revision_files, supplement
from snapline_service.revisions.revision_files import RevisionFiles


def flip_a_figure(path: Path) -> None:
    """Change a distance in place, as a failing disk might: SQLite itself sees nothing wrong."""
    content = path.read_bytes()
    assert content.count(b'"distance_mm":2400.0') >= 1
    path.write_bytes(content.replace(b'"distance_mm":2400.0', b'"distance_mm":2900.0'))


def distance_mm(files: RevisionFiles, shop: Shop, published: Published) -> float:
    car = files.get(shop.group_id, published.number, published.manifest_hash).get_vehicle("ambrel-2020")
    assert car
    return car.procedures[0].stages[0].placements[0].placement.along.distance_mm


def spoil_hash(path: Path) -> None:
    path.with_suffix(".sha256").write_text("nonsense")


def lose_hash(path: Path) -> None:
    path.with_suffix(".sha256").unlink()


@pytest.mark.parametrize("damage", [flip_a_figure, spoil_hash, lose_hash])
def test_a_damaged_file_is_never_answered_from(shop: Shop, damage: Callable[[Path], None]) -> None:
    published = shop.put([small.vehicle("carver-2022")])
    damage(shop.path(published.number))
    files = RevisionFiles(shop.engine, shop.settings)
    assert distance_mm(files, shop, published) == 2400
    assert distance_mm(RevisionFiles(shop.engine, shop.settings), shop, published) == 2400


def test_a_large_file_is_checked_while_it_answers_already(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(revision_files, "_CHECKED_FIRST_BYTES", 0)
    published = shop.put([small.vehicle("carver-2022")])
    flip_a_figure(shop.path(published.number))
    files = RevisionFiles(shop.engine, shop.settings)
    files.get(shop.group_id, published.number, published.manifest_hash)
    ends_s = time.monotonic() + 20
    while distance_mm(files, shop, published) != 2400:
        assert time.monotonic() < ends_s, "the damage was not noticed"
        time.sleep(0.01)


@pytest.mark.parametrize("number", [1, 2])
def test_damage_in_either_layer_is_noticed(shop: Shop, monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    monkeypatch.setattr(supplement, "SMALL", 0)
    monkeypatch.setattr(supplement, "SHARE", 10.0)
    published = shop.put([small.vehicle("brenn-2021", distance_mm=2450), small.vehicle("carver-2022")])
    assert shop.file(published).base_path == shop.path(1)
    path = shop.path(number)
    flip_a_figure(path)
    assert distance_mm(RevisionFiles(shop.engine, shop.settings), shop, published) == 2400


def test_damage_below_a_new_file_is_noticed(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supplement, "SMALL", 0)
    monkeypatch.setattr(supplement, "SHARE", 10.0)
    flip_a_figure(shop.path(1))
    published = shop.put([small.vehicle("brenn-2021", distance_mm=2450)])
    assert distance_mm(RevisionFiles(shop.engine, shop.settings), shop, published) == 2400
