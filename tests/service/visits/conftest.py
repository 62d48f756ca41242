"""The demo catalogue's revision file, and a visit of each of its cars."""

import json
from collections.abc import Callable

import msgspec
import pytest

from service.catalogue.demo import DOCUMENTS, SITES, VEHICLES
from service.shop import Shop
from service.visits.demo_visit import everything
from snapline.offline import RevisionFile
from snapline.wire.vehicles import Vehicle
from snapline.wire.visits import VisitPlan, VisitRequest
from snapline_service.visits.plan import Group, plan


@pytest.fixture(scope="module")
def file(new_shop: Callable[[], Shop]) -> RevisionFile:
    shop = new_shop()
    return shop.file(shop.put([json.loads(msgspec.json.encode(document)) for document in DOCUMENTS]))


@pytest.fixture(scope="module", params=sorted(VEHICLES))
def planned(request: pytest.FixtureRequest, file: RevisionFile) -> tuple[Vehicle, VisitPlan]:
    """Everything that any rule of the vehicle calls for, planned at all sites at once."""
    vehicle = file.get_vehicle(request.param)
    assert vehicle is not None
    options = {option.id: "yes" for option in vehicle.options if not option.choice}
    first = {option.choice: option.id for option in reversed(vehicle.options) if option.choice}
    asked = VisitRequest(
        vehicle_id=vehicle.id,
        operations=everything(vehicle.id),
        options=options,
        answers={f"choice:{choice}": option for choice, option in first.items()},
        date="2027-06-15",
        start="07:00",
    )
    return vehicle, plan(file, Group(SITES, {}), asked)
