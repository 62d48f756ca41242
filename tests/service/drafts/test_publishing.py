"""From files to drafts to revisions: what is written, in which order, and what stands in the way."""

import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NoReturn

import pytest

from service import small
from service.shop import Shop
from snapline.offline import RevisionFile
from snapline_service.database import reading
from snapline_service.drafts import actions
from snapline_service.drafts.actions import Published
from snapline_service.errors import Conflict, NotBuilt, NotFound, NothingPublished, UnknownName
from snapline_service.revisions import building, filling

HASH = "hash"


def entries(shop: Shop) -> set[tuple[str, str, int, int | None]]:
    """Return kind, name, first and last-but revision of each interval."""
    return {(kind, name, since, until) for _, kind, name, since, until, _ in shop.rows()["entries"]}


def vehicles(shop: Shop, number: int | None = None) -> list[str]:
    with reading(shop.engine) as session:
        documents = actions.export(session, group=shop.name, number=number)
        return [document.id for document in documents if document.__struct_config__.tag == "vehicle"]


def test_the_first_import_makes_a_draft_on_top_of_nothing(shop: Shop, folder: Path) -> None:
    imported = shop.import_(small.write(folder, small.catalogue()))
    assert (imported.base_revision, imported.documents, imported.changed, imported.retired) == (0, 5, 5, 0)
    assert entries(shop) == set()
    assert shop.rows()["revisions"] == []


def test_revisions_are_numbered_from_one_without_a_gap(shop: Shop) -> None:
    first = shop.put(small.catalogue())
    assert (first.number, first.entries) == (1, 5)
    for number in (2, 3, 4):
        assert shop.put([small.vehicle(distance_mm=2400 + number)]).number == number
    assert [row[1] for row in shop.rows()["revisions"]] == [1, 2, 3, 4]


def test_a_revision_records_who_when_why_and_what(shop: Shop, folder: Path) -> None:
    shop.import_(small.write(folder, small.catalogue()))
    published = shop.publish(note="first issue")
    ((group, number, manifest, when, who, why),) = shop.rows()["revisions"]
    assert (group, number, manifest) == (shop.group_id, 1, published.manifest_hash)
    assert (who, why) == ("test", "first issue")
    assert when.endswith("Z")
    assert len(manifest) == 64


def test_publishing_writes_what_changed_and_nothing_else(shop: Shop) -> None:
    shop.put(small.catalogue())
    before, unchanged = shop.rows(), entries(shop)
    changed = small.vehicle(distance_mm=2450)
    shop.put([small.source(), small.operation(), changed, small.vehicle("carver-2022")])
    added = entries(shop) - unchanged
    assert added == {
        ("vehicle", "ambrel-2020", 1, 2),
        ("vehicle", "ambrel-2020", 2, None),
        ("vehicle", "carver-2022", 2, None),
    }
    assert len(shop.rows()["documents"]) == len(before["documents"]) + 2


def test_files_that_change_nothing_make_no_draft(shop: Shop, folder: Path) -> None:
    shop.put(small.catalogue())
    before = shop.rows()
    with pytest.raises(Conflict, match="already"):
        shop.import_(small.write(folder, small.catalogue()))
    with pytest.raises(Conflict, match="already"):
        shop.import_(folder, retire_missing=True)
    assert shop.rows() == before


def test_names_that_the_files_lack_stay(shop: Shop) -> None:
    shop.put(small.catalogue())
    shop.put([small.vehicle(distance_mm=2450)])
    assert vehicles(shop) == ["ambrel-2020", "brenn-2021"]


def test_names_that_the_files_lack_are_retired_on_demand(shop: Shop) -> None:
    shop.put(small.catalogue())
    shop.put(small.catalogue()[:4], retire_missing=True)
    assert vehicles(shop) == ["ambrel-2020"]
    assert vehicles(shop, 1) == ["ambrel-2020", "brenn-2021"], "the first revision keeps it"
    assert ("vehicle", "brenn-2021", 1, 2) in entries(shop)
    shop.put([small.vehicle("brenn-2021")])
    assert vehicles(shop) == ["ambrel-2020", "brenn-2021"], "it can come back"


def test_what_is_still_referred_to_cannot_be_retired(shop: Shop, folder: Path) -> None:
    shop.put(small.catalogue())
    before = shop.rows()
    faults = shop.faults(small.write(folder, small.catalogue()[1:]), retire_missing=True)
    assert {fault.detail for fault in faults} == {"There is no source 'manual'."}
    assert shop.rows() == before


def test_a_merge_may_refer_to_what_is_published(shop: Shop) -> None:
    shop.put(small.catalogue()[:3])
    assert shop.put([small.vehicle()]).entries == 4


def test_another_groups_documents_cannot_be_referred_to(shop: Shop, folder: Path) -> None:
    Shop(shop.engine, shop.settings, shop.folder, f"{shop.name}-neighbour").put(small.catalogue())
    assert shop.faults(small.write(folder, [small.vehicle()]))


def test_a_draft_on_a_base_that_has_moved_on_is_refused(shop: Shop, folder: Path) -> None:
    shop.put(small.catalogue())
    stale = shop.import_(small.write(folder / "a", [small.vehicle(distance_mm=2450)]))
    fresh = shop.import_(small.write(folder / "b", [small.vehicle("brenn-2021", distance_mm=2500)]))
    assert shop.publish(draft_id=fresh.draft_id).number == 2
    before = shop.rows()
    with pytest.raises(Conflict, match="Revision 2 was published after this draft") as refused:
        shop.publish(draft_id=stale.draft_id)
    assert refused.value.pointer == "/draft_id"
    assert "import the files again" in refused.value.mend
    assert shop.rows() == before
    assert not shop.path(3).exists()


def test_a_draft_is_published_once(shop: Shop, folder: Path) -> None:
    draft = shop.import_(small.write(folder, small.catalogue()))
    shop.publish(draft_id=draft.draft_id)
    before = shop.rows()
    with pytest.raises(Conflict, match="already published as revision 1"):
        shop.publish(draft_id=draft.draft_id)
    with pytest.raises(NotFound, match="no open draft"):
        shop.publish()
    assert shop.rows() == before


def test_without_a_name_the_only_open_draft_is_published_and_never_one_of_several(
    shop: Shop, folder: Path
) -> None:
    mine = shop.import_(small.write(folder / "a", small.catalogue()))
    theirs = shop.import_(small.write(folder / "b", small.catalogue()[:4]))
    with pytest.raises(Conflict, match="Several drafts are open") as refused:
        shop.publish()
    assert all(one.draft_id in refused.value.detail for one in (mine, theirs))
    assert shop.publish(draft_id=mine.draft_id).entries == 5


def test_a_draft_of_nobody_or_of_another_group_is_unknown(shop: Shop, folder: Path) -> None:
    other = Shop(shop.engine, shop.settings, shop.folder, f"{shop.name}-neighbour")
    theirs = other.import_(small.write(folder, small.catalogue()))
    for name in (theirs.draft_id, "dft_none"):
        with pytest.raises(UnknownName, match="no draft"):
            shop.publish(draft_id=name)
    assert other.publish(draft_id=theirs.draft_id).number == 1


def test_of_two_who_publish_the_same_draft_at_once_one_wins(shop: Shop, folder: Path) -> None:
    draft = shop.import_(small.write(folder, small.catalogue()))

    def publish(_: int) -> Published | Conflict:
        try:
            return shop.publish(draft_id=draft.draft_id)
        except Conflict as conflict:
            return conflict

    with ThreadPoolExecutor(3) as pool:
        results = list(pool.map(publish, range(3)))
    assert sorted(type(result).__name__ for result in results) == ["Conflict", "Conflict", "Published"]
    assert [row[1] for row in shop.rows()["revisions"]] == [1]


def fail(*_: object) -> NoReturn:
    raise OSError(28, "No space left on device")


def test_a_build_that_fails_leaves_the_old_revision_in_force(
    shop: Shop, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = shop.put(small.catalogue())
    shop.import_(small.write(folder, [small.vehicle(distance_mm=2450)]))
    before, files = shop.rows(), sorted(shop.path(1).parent.iterdir())
    with monkeypatch.context() as patch:
        patch.setattr(building, "build", fail)
        with pytest.raises(NotBuilt, match="No space left"):
            shop.publish()
    assert shop.rows() == before
    assert sorted(shop.path(1).parent.iterdir()) == files
    assert shop.file(first).revision == 1
    assert shop.publish().number == 2, "once there is space, the draft is still there"


@pytest.mark.parametrize("step", ["add_small", "add_fixture", "add_vehicle", "_prepared", "_reverse_item"])
def test_a_build_that_fails_in_the_middle_leaves_no_half_file(
    shop: Shop, folder: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    shop.import_(small.write(folder, small.catalogue()))
    before = shop.rows()
    with monkeypatch.context() as patch:
        patch.setattr(filling, step, fail)
        with pytest.raises(NotBuilt, match="No space left"):
            shop.publish()
    assert shop.rows() == before
    assert list(shop.path(1).parent.iterdir()) == []
    assert shop.publish().number == 1


def spellings(folder: Path) -> dict[str, Path]:
    """Write the same content in ways that say the same."""
    documents = small.catalogue()
    ways = {
        "plain": small.write(folder / "plain", documents),
        "lines": small.write_lines(folder / "lines.ndjson", documents),
        "turned round": small.write_lines(folder / "turned.ndjson", documents[::-1]),
        "other names": folder / "names",
    }
    for number, document in enumerate(reversed(documents)):
        place = folder / "names" / str(number)
        place.mkdir(parents=True)
        (place / "x.json").write_text(json.dumps(dict(reversed(document.items()))))
    return ways


def test_the_same_content_has_the_same_hash_in_any_order_and_group(
    new_shop: Callable[[], Shop], folder: Path
) -> None:
    folder.mkdir()
    found = {}
    for name, path in spellings(folder).items():
        shop = new_shop()
        shop.import_(path)
        found[name] = shop.publish().manifest_hash
    assert len(set(found.values())) == 1, found


def test_going_back_to_old_content_goes_back_to_its_hash(shop: Shop) -> None:
    first = shop.put(small.catalogue())
    second = shop.put([small.vehicle(distance_mm=2450)])
    documents = len(shop.rows()["documents"])
    third = shop.put([small.vehicle()])
    assert first.manifest_hash == third.manifest_hash != second.manifest_hash
    assert len(shop.rows()["documents"]) == documents, "the old document was still there"


def test_a_name_is_part_of_the_content(new_shop: Callable[[], Shop]) -> None:
    one = new_shop().put(small.catalogue()[:3])
    other = new_shop().put([*small.catalogue()[:2], small.fixture("panel")])
    assert one.manifest_hash != other.manifest_hash


def test_nothing_can_be_exported_before_something_is_published(shop: Shop, folder: Path) -> None:
    shop.import_(small.write(folder, small.catalogue()))
    with reading(shop.engine) as session:
        with pytest.raises(NothingPublished):
            actions.export(session, group=shop.name)
        with pytest.raises(NothingPublished, match="Revision 7"):
            actions.export(session, group=shop.name, number=7)
        with pytest.raises(UnknownName):
            actions.export(session, group="nowhere")


def test_progress_is_told_up_to_the_end(shop: Shop, folder: Path) -> None:
    seen: list[int] = []
    shop.import_(small.write(folder, small.catalogue()), seen=seen.append)
    assert seen == [1, 2, 3, 4, 5]
    told: list[tuple[int, int]] = []
    shop.publish(progress=lambda done, whole: told.append((done, whole)))
    assert told == [(1, 2), (2, 2)]


def test_a_published_file_says_what_it_is(shop: Shop) -> None:
    published = shop.put(small.catalogue())
    file = RevisionFile(shop.path(1))
    assert (file.revision, file.manifest_hash) == (1, published.manifest_hash)
    file.close()
