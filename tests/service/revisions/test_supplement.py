"""A revision file that holds only what differs answers everything as a whole one does, byte by byte."""

import hashlib
import random
from pathlib import Path
from typing import Any

import msgspec
import pytest

from service import small
from service.catalogue.answers import answers
from service.shop import Shop
from snapline.offline import RevisionFile
from snapline_service import places
from snapline_service.catalogue import files, store
from snapline_service.database import reading
from snapline_service.drafts.actions import Published
from snapline_service.revisions import supplement
from snapline_service.revisions.revision_files import RevisionFiles


@pytest.fixture(autouse=True)
def always(monkeypatch: pytest.MonkeyPatch) -> None:
    """Supplements even of small catalogues, however much differs."""
    monkeypatch.setattr(supplement, "SMALL", 0)
    monkeypatch.setattr(supplement, "SHARE", 10.0)


def demo_documents() -> dict[str, small.Document]:
    found = files.read(places.demo_fixtures() / "catalogue")
    documents = [one.document for one in found if isinstance(one, files.Filed)]
    return {
        f"{document.__struct_config__.tag} {document.id}": msgspec.to_builtins(document)
        for document in documents
    }


def whole(shop: Shop, published: Published, folder: Path) -> RevisionFile:
    """Return the same revision as a machine builds it that has no older file."""
    elsewhere = msgspec.structs.replace(shop.settings, data_folder=folder / f"whole-{published.number}")
    file = RevisionFiles(shop.engine, elsewhere).get(shop.group_id, published.number, published.manifest_hash)
    assert file.base_path is None
    return file


def assert_same(shop: Shop, published: Published, folder: Path) -> None:
    file, other = shop.file(published), whole(shop, published, folder)
    assert file.base_path is not None, "this should be a supplement"
    found, wanted = answers(file), answers(other)
    assert found.keys() == wanted.keys()
    assert [asked for asked in wanted if found[asked] != wanted[asked]] == []
    file.close()
    other.close()


@pytest.fixture
def stocked(shop: Shop) -> tuple[Shop, dict[str, small.Document]]:
    """A group with the demo catalogue in force."""
    documents = demo_documents()
    shop.put(documents.values())
    return shop, documents


def test_a_few_vehicles_changed_added_and_retired(
    stocked: tuple[Shop, dict[str, small.Document]], tmp_path: Path
) -> None:
    shop, documents = stocked
    names = [name for name in documents if name.startswith("vehicle ")]
    first, second, third = (documents[name] for name in names[:3])
    first["model"] = "Aardvark"
    second["systems"] = second["systems"][:1]
    added = {**third, "id": "added-2024", "make": "Zzyzx"}
    published = shop.put([first, second, added])
    assert_same(shop, published, tmp_path)
    kept = [document for name, document in documents.items() if name != names[2]]
    assert_same(shop, shop.put([*kept, added], retire_missing=True), tmp_path)
    assert_same(shop, shop.put([third]), tmp_path)


def test_a_corrected_source_reaches_all_that_quotes_it(
    stocked: tuple[Shop, dict[str, small.Document]], tmp_path: Path
) -> None:
    shop, documents = stocked
    for count, name in enumerate([name for name in documents if name.startswith("source ")][:3], 1):
        published = shop.put([{**documents[name], "edition": f"issue {count + 40}"}])
        assert_same(shop, published, tmp_path)


def test_a_fixture_that_changes_what_it_can_do(
    stocked: tuple[Shop, dict[str, small.Document]], tmp_path: Path
) -> None:
    shop, documents = stocked
    fixtures = [document for name, document in documents.items() if name.startswith("fixture ")]
    for document in fixtures[:6]:
        able = document.get("capabilities", [])
        without = {key: value for key, value in document.items() if key != "capabilities"}
        assert_same(shop, shop.put([without if able else {**document, "name": "Other"}]), tmp_path)
    reflectors = [document for document in fixtures if "reflector" in document]
    for document in reflectors[:2]:
        smaller = {**document, "reflector": {"shape": "trihedral_triangular", "leg_mm": 40.0}}
        assert_same(shop, shop.put([smaller]), tmp_path)
    assert_same(shop, shop.put([{**small.fixture("extra"), "capabilities": []}]), tmp_path)


@pytest.mark.parametrize("seed", range(4))
def test_any_changes_one_after_the_other(
    stocked: tuple[Shop, dict[str, small.Document]], tmp_path: Path, seed: int
) -> None:
    shop, documents = stocked
    dice = random.Random(seed)
    for step in range(6):
        chosen = dice.sample(sorted(documents), dice.randint(1, 5))
        changed = [spoil(documents[name], dice, step) for name in chosen]
        documents.update(zip(chosen, changed, strict=True))
        published = shop.put(changed)
        assert_same(shop, published, tmp_path)


def spoil(document: small.Document, dice: random.Random, step: int) -> small.Document:
    """Return a document with something changed that its kind may change."""
    changed: dict[str, Any] = {**document}
    if document["kind"] == "source":
        changed["title"] = f"Title {step} (invented)"
    elif document["kind"] == "operation":
        changed["name"] = f"Operation {step}"
    elif document["kind"] == "fixture":
        changed["name"] = f"Fixture {step}"
        changed["capabilities"] = dice.sample(document.get("capabilities", []), 0)
    else:
        changed["make"] = dice.choice(["Mirandeux", "Sennic", document["make"]])
        changed["model_year_first"] = document["model_year_first"] - 1
        changed["vin_patterns"] = document.get("vin_patterns", [])[:1]
    return changed


def test_the_content_hash_is_over_the_sorted_lines_of_all_documents(
    stocked: tuple[Shop, dict[str, small.Document]],
) -> None:
    """Recomputed here from the database, by the definition in the API document."""
    shop, documents = stocked
    published = (
        shop.put([{**documents["operation windscreen_replaced"], "synonyms": ["new glass"]}])
        if ("operation windscreen_replaced" in documents)
        else shop.put([small.operation("other")])
    )
    with reading(shop.engine) as session:
        entries = list(store.entries(session, shop.group_id, published.number))
    lines = sorted(f"{e.kind} {e.name} {e.hash}\n" for e in entries)
    assert published.manifest_hash == hashlib.sha256("".join(lines).encode()).hexdigest()
    assert published.entries == len(entries)


def test_a_machine_that_lags_behind_brings_its_own_file_up_to_date(
    stocked: tuple[Shop, dict[str, small.Document]], tmp_path: Path
) -> None:
    shop, documents = stocked
    elsewhere = msgspec.structs.replace(shop.settings, data_folder=tmp_path / "other host")
    there = RevisionFiles(shop.engine, elsewhere)
    with reading(shop.engine) as session:
        first = store.revision(session, shop.group_id, 1)
        assert first
        assert there.get(shop.group_id, 1, first.manifest_hash).base_path is None
    vehicle = next(document for name, document in documents.items() if name.startswith("vehicle "))
    for year in (2001, 2002, 2003):
        published = shop.put([{**vehicle, "model_year_first": year}])
    lagging = there.get(shop.group_id, published.number, published.manifest_hash)
    assert lagging.base_path is not None
    assert answers(lagging) == answers(whole(shop, published, tmp_path))
