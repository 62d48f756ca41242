"""A VIN identifies somebody's property: it is used for the answer and then nowhere to be found."""

import contextlib
import logging
import os
import re
import subprocess
import sys
import time
import traceback
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import httpx
import pytest

from running import Service
from service.catalogue.demo import EXAMPLE_VINS
from snapline import Snapline, SnaplineError
from snapline_service import database
from snapline_service.demo import scenario
from snapline_service.settings import Settings

VIN = EXAMPLE_VINS["jorvantel-mesquin-2021-us"]
WRONG_CHECK_DIGIT = VIN[:8] + "X" + VIN[9:]
UNKNOWN = "ZZZZZZ" + VIN[6:]
BODIES = [
    {"vin": VIN},
    {"vin": VIN.lower()},
    {"vin": f"{VIN[:3]} {VIN[3:]}"},
    {"vin": WRONG_CHECK_DIGIT},
    {"vin": UNKNOWN},
    {"vin": VIN[:-1]},
    {"vin": VIN + "5"},
    {"vin": VIN[:-1] + "Q"},
    {"vin": [VIN]},
    {"vin": VIN * 3},
    {"vin": VIN, "model_year": "2020"},
    {"vin": VIN, "colour": "red"},
    {"vin": VIN, "make": "Nobody"},
    {"vin": VIN, "build_codes": ["K59"], "answers": {"option:distance_radar": "no"}},
]


def tell_tales(vin: str) -> re.Pattern[str]:
    """Match the number, or the eight characters by which ISO 3779 tells one vehicle from another."""
    return re.compile(f"{vin}|{vin[-8:]}", re.IGNORECASE)


class Watched(NamedTuple):
    url: str
    key: str
    output: Path
    folder: Path


@contextlib.contextmanager
def watched_service(folder: Path) -> Iterator[Watched]:
    """Run the service on a SQLite database with all that it prints in a file."""
    settings = Settings(
        f"sqlite:///{folder}/snapline.db", folder / "revisions", b"a secret for the tests alone"
    )
    database.migrate(settings.database)
    key = scenario.load(settings)
    output = folder / "output"
    environment = {**os.environ, "PYTHONUNBUFFERED": "1", "SNAPLINE_DATA": str(settings.data_folder)}
    environment["SNAPLINE_SECRET"] = settings.secret.decode()
    command = [sys.executable, "-X", "dev", "-m", "snapline_service", "serve", "--port", "0"]
    with (
        output.open("w") as file,
        subprocess.Popen(
            [*command, "--database", settings.database],
            stdout=file,
            stderr=subprocess.STDOUT,
            env=environment,
        ) as process,
    ):
        try:
            for _ in range(600):
                if found := re.search(r"SNAPLINE_URL=(\S+)", output.read_text()):
                    break
                time.sleep(0.05)
            assert found, output.read_text()
            yield Watched(found[1], key, output, folder)
        finally:
            process.terminate()


def test_the_service_neither_answers_prints_nor_keeps_a_vin(tmp_path: Path) -> None:
    tales = tell_tales(VIN)
    with watched_service(tmp_path) as service:
        headers = {"authorization": f"Bearer {service.key}"}
        with httpx.Client(base_url=service.url, headers=headers, verify=False) as http:
            answers = [http.post("/v1/vehicles/identify", json=body) for body in BODIES]
            answers.append(http.post("/v1/vehicles/identify", content=f'{{"vin": "{VIN}"'))
            answers.append(http.post("/v1/vehicles/identify", content=f'{{"vin": "{VIN}", "vin": "{VIN}"}}'))
            answers.append(
                http.post("/v1/vehicles/identify", json={"vin": VIN}, headers={"authorization": "x"})
            )
            answers.append(http.put("/v1/vehicles/identify", json={"vin": VIN}))
    assert [answer.status_code for answer in answers].count(200) == 7
    for answer in answers:
        assert not tales.search(answer.text)
        assert not tales.search(str(answer.headers.raw))
        assert not tales.search(str(answer.url))
    kept = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert {"output", "snapline.db"} <= {path.name for path in kept}
    for path in kept:
        assert not re.search(tales.pattern.encode(), path.read_bytes(), re.IGNORECASE), path


def test_the_sdk_neither_logs_nor_tells_a_vin(
    demo_service: tuple[Service, str], caplog: pytest.LogCaptureFixture
) -> None:
    service, key = demo_service
    caplog.set_level(logging.DEBUG)  # of every library, not of the SDK alone
    told: list[str] = []
    with Snapline(service.url, key) as client, Snapline("http://127.0.0.1:9", key, max_retries=1) as nowhere:
        told.append(repr(client.vehicles.identify(vin=VIN)))
        for asked, vin in ((client, VIN[:-1]), (client, VIN + "Q"), (nowhere, VIN)):
            with pytest.raises(SnaplineError) as caught:
                asked.vehicles.identify(vin=vin)
            told += [str(caught.value), repr(caught.value), repr(vars(caught.value))]
            told += traceback.format_exception(caught.value)
    assert any(record.name == "snapline" for record in caplog.records)
    told += [f"{record.getMessage()} {record.args}" for record in caplog.records]
    for text in told:
        assert not tell_tales(VIN).search(text), text
        assert not tell_tales(VIN[:-1]).search(text), text
