"""Catalogues of any size, imported and published as a user would, and kept for the next run."""

import json
import multiprocessing
import resource
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from benchmarks.load import connected, fire, request
from benchmarks.servers import Server, free_port, snapline, started
from snapline.offline import RevisionFile
from snapline_service import database
from snapline_service.access import keys
from snapline_service.catalogue import files
from snapline_service.catalogue.synthetic import synthetic_documents
from snapline_service.drafts import actions
from snapline_service.revisions import revision_files
from snapline_service.settings import Settings, environment

GROUP = "benchmark"
# The fixture of the synthetic catalogue that serves the most vehicles.
BUSIEST_FIXTURE = "synthetic-board-000"
_PIECE_BYTES = 1 << 24


@dataclass(frozen=True)
class Making:
    """What making a catalogue took. ``peak_mb`` is the most memory that the process ever held."""

    group_id: str
    key: str
    import_s: float
    import_peak_mb: float
    publish_s: float
    publish_peak_mb: float


@dataclass(frozen=True)
class Catalogue:
    """A published synthetic catalogue and a key to it."""

    vehicles: int
    folder: Path
    settings: Settings
    making: Making

    @property
    def path(self) -> Path:
        """Where its revision file is."""
        return revision_files.path_of(self.settings.data_folder, self.making.group_id, 1)

    @property
    def headers(self) -> dict[str, str]:
        """What every request carries."""
        return {"authorization": f"Bearer {self.making.key}", "accept": "application/json"}

    def file(self) -> RevisionFile:
        """Return its revision file, open, and in memory: what a cold disk costs is not compared."""
        with self.path.open("rb") as whole:
            while whole.read(_PIECE_BYTES):
                pass
        return RevisionFile(self.path)

    @contextmanager
    def served(self, *options: str, cores: set[int] | None = None) -> Iterator[Server]:
        """Run the service on it until the block ends, from when it has opened the file and checked it."""
        port, variables = free_port(), environment(self.settings)
        with started(snapline(port, *options), port, variables, "/readyz", cores) as server:
            with connected(server.address, 1) as connections:
                fire(connections, [request("/v1/fixtures", self.headers)])
            server.settle()
            yield server


def vehicle_id(number: int) -> str:
    """Return the id of a synthetic vehicle, counted from 0."""
    return f"synthetic-{number:07d}"


def catalogue(vehicles: int, cache: Path) -> Catalogue:
    """Return a catalogue of so many vehicles, made unless the cache has it."""
    folder = cache / f"{vehicles}-vehicles"
    settings = Settings(
        database=f"sqlite:///{folder}/snapline.db",
        data_folder=folder / "revisions",
        secret=b"a secret for benchmarks alone",
        requests_per_minute=1_000_000_000,
    )
    made = folder / "made.json"
    if not made.exists():
        folder.mkdir(parents=True, exist_ok=True)
        # A process of its own, so that the peak of memory is that of this work alone.
        with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
            made.write_text(json.dumps(pool.submit(_make, vehicles, folder, settings).result()))
    return Catalogue(vehicles, folder, settings, Making(**json.loads(made.read_text())))


def _make(vehicles: int, folder: Path, settings: Settings) -> dict[str, str | float]:
    lines = folder / "catalogue.ndjson"
    Path(settings.database.removeprefix("sqlite:///")).unlink(missing_ok=True)  # of a run that was broken off
    files.write_lines(synthetic_documents(vehicles), lines)
    database.migrate(settings.database)
    engine = database.connect(settings.database)
    group_id = keys.add_group(engine, GROUP, "Benchmark (invented)")
    issued = keys.issue(engine, settings.secret, group=GROUP, holder="benchmark", scopes=["read"])
    began_s = time.perf_counter()
    _, faults = actions.import_files(engine, lines, group=GROUP, by="benchmark")
    if faults:
        raise ValueError(faults[0])
    imported_s, import_peak_mb = time.perf_counter(), _peak_mb()
    actions.publish(engine, settings, group=GROUP, by="benchmark")
    publish_s = time.perf_counter() - imported_s
    engine.dispose()
    lines.unlink()
    return {
        "group_id": group_id,
        "key": issued.token,
        "import_s": imported_s - began_s,
        "import_peak_mb": import_peak_mb,
        "publish_s": publish_s,
        "publish_peak_mb": _peak_mb(),
    }


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024  # Linux counts kibibytes
