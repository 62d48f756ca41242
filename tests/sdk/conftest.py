"""A client against wires that respx holds, with a clock that only moves when it is told to."""

from collections.abc import Callable, Iterator

import pytest
import respx

from snapline import Pace, Snapline

URL = "https://snapline.example"
KEY = "sk_invented_0123456789"


class StoppedClock:
    """Time that passes only by pauses, which it writes down, and by ``pass_s``."""

    def __init__(self) -> None:
        self.time_s = 1_000.0
        self.pauses_s: list[float] = []
        self.dice = 1.0

    def pass_s(self, seconds: float) -> None:
        self.time_s += seconds

    def sleep(self, seconds: float) -> None:
        self.pauses_s.append(seconds)
        self.time_s += seconds

    async def sleep_async(self, seconds: float) -> None:
        self.sleep(seconds)

    def pace(self) -> Pace:
        return Pace(
            monotonic=lambda: self.time_s,
            now=lambda: self.time_s,
            random=lambda: self.dice,
            sleep=self.sleep,
            sleep_async=self.sleep_async,
        )


@pytest.fixture
def clock() -> StoppedClock:
    return StoppedClock()


@pytest.fixture
def url() -> str:
    return URL


@pytest.fixture
def key() -> str:
    return KEY


@pytest.fixture
def wire() -> Iterator[respx.MockRouter]:
    with respx.mock(base_url=URL, assert_all_called=False) as router:
        yield router


@pytest.fixture
def open_client(clock: StoppedClock) -> Iterator[Callable[..., Snapline]]:
    opened: list[Snapline] = []

    def open_(**options: object) -> Snapline:
        opened.append(Snapline(URL, KEY, pace=clock.pace(), **options))  # type: ignore[arg-type]
        return opened[-1]

    yield open_
    for client in opened:
        client.close()


@pytest.fixture
def client(open_client: Callable[..., Snapline]) -> Snapline:
    return open_client()


@pytest.fixture
def vehicle() -> dict[str, object]:
    """The least that the wire type of a vehicle asks for; invented."""
    return {
        "kind": "vehicle",
        "format": 1,
        "id": "veldt-one-2024",
        "make": "Veldt",
        "model": "One",
        "body": "hatchback",
        "markets": ["EU"],
        "drive_side": "left",
        "model_year_first": 2024,
        "dimensions": {"wheelbase_mm": 2620.0},
        "changed_in_revision": 3,
        "sources": [],
        "cautions": [],
    }


@pytest.fixture
def summary() -> Callable[[str], dict[str, object]]:
    def make(vehicle_id: str) -> dict[str, object]:
        return {
            "id": vehicle_id,
            "make": "Veldt",
            "model": "One",
            "body": "hatchback",
            "markets": ["EU"],
            "drive_side": "left",
            "model_year_first": 2024,
            "model_year_last": None,
            "invented": True,
            "systems": [],
            "changed_in_revision": 3,
        }

    return make
