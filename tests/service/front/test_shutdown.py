"""Stopping the service drops no request that it has taken."""

import http.client
import json
import signal
import threading
from pathlib import Path
from urllib.parse import urlsplit
from uuid import uuid4

from conftest import settings_in
from running import running
from snapline_service import database
from snapline_service.demo import scenario

BODY = b'{"shape": "plate", "frequency_ghz": 77, "width_mm": 100, "height_mm": 100}'


class Caller(threading.Thread):
    """Calls over new connections until the service takes none any more.

    Notes which calls were answered and which broke off. A connection that still waits at the door when it is
    shut is reset by the kernel: the service has not seen it, and its log tells.
    """

    def __init__(self, url: str, key: str) -> None:
        super().__init__()
        self._place = urlsplit(url)
        self._headers = {"authorization": f"Bearer {key}", "content-type": "application/json"}
        self.answered: list[str] = []
        self.broken: list[str] = []

    def run(self) -> None:
        while True:
            assert self._place.hostname
            connection = http.client.HTTPConnection(self._place.hostname, self._place.port, timeout=10)
            try:
                connection.connect()
            except OSError:
                return  # the door is shut: nothing was taken
            try:
                name = uuid4().hex
                headers = {**self._headers, "x-request-id": name}
                connection.request("POST", "/v1/geometry/reflector", BODY, headers)
                response = connection.getresponse()
                response.read()
                assert response.status == 200
                self.answered.append(name)
            except (OSError, http.client.HTTPException):
                self.broken.append(name)
            finally:
                connection.close()


def test_no_request_is_dropped_when_the_service_is_told_to_stop(tmp_path: Path) -> None:
    settings = settings_in(tmp_path, f"sqlite:///{tmp_path}/snapline.db")
    database.migrate(settings.database)
    key = scenario.load(settings)
    log = tmp_path / "log"
    with running(settings, "--workers", "2", log=log) as service:
        callers = [Caller(service.url, key) for _ in range(6)]
        for caller in callers:
            caller.start()
        while sum(len(caller.answered) for caller in callers) < 200:
            pass
        service.process.send_signal(signal.SIGTERM)
        for caller in callers:
            caller.join(timeout=20)
        assert service.process.wait(timeout=20) == 0
    lines = [json.loads(line) for line in log.read_text().splitlines()]
    taken = {line["request_id"]: line["status"] for line in lines if "request_id" in line}
    answered = {name for caller in callers for name in caller.answered}
    assert {name for name, status in taken.items() if status == 200} >= answered
    assert [name for caller in callers for name in caller.broken if name in taken] == []
