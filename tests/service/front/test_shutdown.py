"""Stopping the service drops no request that it has taken."""

import http.client
import signal
import threading
from pathlib import Path
from urllib.parse import urlsplit

from conftest import settings_in
from running import running
from snapline_service import database
from snapline_service.demo import scenario

BODY = b'{"shape": "plate", "frequency_ghz": 77, "width_mm": 100, "height_mm": 100}'


class Caller(threading.Thread):
    """Calls over new connections until the service takes none any more; notes answers that broke off."""

    def __init__(self, url: str, key: str) -> None:
        super().__init__()
        self._place = urlsplit(url)
        self._headers = {"authorization": f"Bearer {key}", "content-type": "application/json"}
        self.answered = 0
        self.dropped: list[str] = []

    def run(self) -> None:
        while True:
            assert self._place.hostname
            connection = http.client.HTTPConnection(self._place.hostname, self._place.port, timeout=10)
            try:
                connection.connect()
            except OSError:
                return  # the door is shut: nothing was taken
            try:
                connection.request("POST", "/v1/geometry/reflector", BODY, self._headers)
                response = connection.getresponse()
                response.read()
                assert response.status == 200
                self.answered += 1
            except (OSError, http.client.HTTPException) as error:
                self.dropped.append(repr(error))
            finally:
                connection.close()


def test_no_request_is_dropped_when_the_service_is_told_to_stop(tmp_path: Path) -> None:
    settings = settings_in(tmp_path, f"sqlite:///{tmp_path}/snapline.db")
    database.migrate(settings.database)
    key = scenario.load(settings)
    with running(settings, "--workers", "2") as service:
        callers = [Caller(service.url, key) for _ in range(6)]
        for caller in callers:
            caller.start()
        while sum(caller.answered for caller in callers) < 200:
            pass
        service.process.send_signal(signal.SIGTERM)
        for caller in callers:
            caller.join(timeout=20)
        assert service.process.wait(timeout=20) == 0
    assert [drop for caller in callers for drop in caller.dropped] == []
