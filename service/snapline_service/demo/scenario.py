"""Load the invented scenario into an empty database."""

from snapline.wire.keys import SCOPES
from snapline_service import database, places
from snapline_service.access import keys
from snapline_service.catalogue.files import FileFault
from snapline_service.drafts import actions
from snapline_service.errors import Conflict
from snapline_service.settings import Settings
from snapline_service.sites import importing

GROUP = "wendelbrook"


def load(settings: Settings) -> str:
    """Create the demo group with both of its revisions and its sites, and return a key with every scope.

    Raises Conflict if the scenario's own files have faults.
    """
    engine = database.connect(settings.database)
    try:
        keys.add_group(engine, GROUP, "Wendelbrook workshops (invented)")
        for folder, note in (("catalogue", "first issue"), ("correction", "one distance corrected")):
            path = places.demo_fixtures() / folder
            _, faults = actions.import_files(engine, path, group=GROUP, by="demo")
            _stop_on(faults)
            actions.publish(engine, settings, group=GROUP, by="demo", note=note)
        _, faults = importing.import_files(engine, places.demo_fixtures() / "sites", group=GROUP, by="demo")
        _stop_on(faults)
        issued = keys.issue(engine, settings.secret, group=GROUP, holder="demo", scopes=SCOPES)
    finally:
        engine.dispose()
    return issued.token


def _stop_on(faults: list[FileFault]) -> None:
    if faults:
        message = f"The demo scenario is damaged: {faults[0].file}, line {faults[0].line}."
        raise Conflict(message, mend=faults[0].detail)
