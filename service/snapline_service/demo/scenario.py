"""Load the invented scenario into an empty database."""

from snapline.wire.keys import SCOPES
from snapline_service import database, places
from snapline_service.access import keys
from snapline_service.catalogue import actions
from snapline_service.errors import Conflict
from snapline_service.settings import Settings

GROUP = "wendelbrook"


def load(settings: Settings) -> str:
    """Create the demo group with both of its revisions and return a key with every scope.

    Raises Conflict if the scenario's own files have faults.
    """
    engine = database.connect(settings.database)
    try:
        keys.add_group(engine, GROUP, "Wendelbrook workshops (invented)")
        for folder, note in (("catalogue", "first issue"), ("correction", "one distance corrected")):
            path = places.demo_fixtures() / folder
            _, faults = actions.import_files(engine, path, group=GROUP, by="demo")
            if faults:
                message = f"The demo scenario is damaged: {faults[0].file}, line {faults[0].line}."
                raise Conflict(message, mend=faults[0].detail)
            actions.publish(engine, settings, group=GROUP, by="demo", note=note)
        issued = keys.issue(engine, settings.secret, group=GROUP, holder="demo", scopes=SCOPES)
    finally:
        engine.dispose()
    return issued.token
