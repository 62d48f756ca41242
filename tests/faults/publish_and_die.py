"""Publish the newest draft of group 'north', and die at a point of it: run by the tests as a process."""

import importlib
import os
import resource
import signal
import sys
from typing import Any

from snapline_service import database, settings
from snapline_service.drafts import actions
from snapline_service.revisions import supplement


def die(*_: Any, **__: Any) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def main(point: str) -> None:
    chosen = settings.load()
    engine = database.connect(chosen.database)
    supplement.SMALL = 0 if "supplement." in point else supplement.SMALL
    if point == "full":
        resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))
    elif point != "nowhere":
        where, _, name = point.rpartition(".")
        module = importlib.import_module(f"snapline_service.{where.split('+')[0]}")
        real = getattr(module, name)

        def after(*given: Any, **named: Any) -> Any:
            real(*given, **named)
            die()

        setattr(module, name, after if where.endswith("+") else die)
    actions.publish(engine, chosen, group="north", by="test")


if __name__ == "__main__":
    main(sys.argv[1])
