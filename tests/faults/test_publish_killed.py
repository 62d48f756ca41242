"""Killed at any step of a publication, either the old or the new revision is in force, and work goes on."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from service import small
from service.shop import Shop
from snapline_service.catalogue import store
from snapline_service.database import reading
from snapline_service.revisions.revision_files import RevisionFiles
from snapline_service.settings import environment

# Where the process dies, and which revision is in force then. A plus: after that function has done its work.
STEPS = {
    "revisions.building.build": 1,
    "revisions.filling.add_vehicle": 1,
    "revisions.supplement.manifest_of": 1,
    "revisions.building+.build": 1,
    "drafts.publishing.commit": 1,
    "catalogue.store.apply_changes": 1,
    "revisions.integrity.sha256": 1,
    "revisions.integrity+.place": 1,
    "drafts.publishing+.commit": 1,
    "revisions.revision_files.prune": 2,
}


def publish(shop: Shop, point: str) -> subprocess.CompletedProcess[str]:
    variables = {**os.environ, **environment(shop.settings), "PYTHONPATH": os.pathsep.join(sys.path)}
    program = Path(__file__).with_name("publish_and_die.py")
    return subprocess.run(
        [sys.executable, str(program), point], env=variables, capture_output=True, text=True, check=False
    )


def in_force(shop: Shop) -> int:
    with reading(shop.engine) as session:
        row = store.newest_revision(session, shop.group_id)
        assert row
        file = RevisionFiles(shop.engine, shop.settings).get(shop.group_id, row.number, row.manifest_hash)
        car = file.get_vehicle("ambrel-2020")
        assert car
        distance_mm = car.procedures[0].stages[0].placements[0].placement.along.distance_mm
        assert distance_mm == {1: 2400, 2: 2450}[row.number]
        file.close()
        return row.number


@pytest.mark.parametrize("point", STEPS)
def test_killed(shop: Shop, folder: Path, point: str) -> None:
    shop.import_(small.write(folder, [small.vehicle(distance_mm=2450)]))
    died = publish(shop, point)
    assert died.returncode == -signal.SIGKILL, died.stderr
    assert in_force(shop) == STEPS[point]
    left = {path.name for path in shop.path(1).parent.iterdir()}
    assert not [name for name in left if name.endswith(".building")], "the next start is clean"
    if STEPS[point] == 1:
        assert shop.publish().number == 2, "the draft is still there"
    assert in_force(shop) == 2


def test_a_full_disk_is_told_and_leaves_the_old_revision_in_force(shop: Shop, folder: Path) -> None:
    """Files of this process may not grow beyond 40,000 bytes, so that a real write fails."""
    shop.import_(small.write(folder, [small.vehicle(distance_mm=2450)]))
    failed = publish(shop, "full")
    assert failed.returncode != 0
    assert "NotBuilt" in failed.stderr
    assert "could not be built" in failed.stderr
    assert in_force(shop) == 1
    assert publish(shop, "nowhere").returncode == 0
    assert in_force(shop) == 2


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "changed"
