"""What a draft would touch if it were published, and what a revision touched."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Id, Wire


class FixturesOfVehicle(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Which systems of a vehicle are touched, which fixtures serve it now, and which no longer do."""

    vehicle_id: Id
    name: str
    systems: tuple[Id, ...]
    gained: tuple[Id, ...]
    lost: tuple[Id, ...]


class BayLost(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A procedure that a bay has room and light for now, and would not have."""

    vehicle_id: Id
    procedure: Id
    site: Id
    bay: Id


class Homeless(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A procedure that no bay of the group would have room and light for."""

    vehicle_id: Id
    procedure: Id


class VisitChanged(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A kept visit that would be planned otherwise, in words."""

    visit_id: str
    date: str
    site: Id
    texts: tuple[str, ...]


class Impact(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What a draft or a revision touches in what was before it.

    Only the first vehicles and visits are examined; the counts are of all.
    """

    vehicles: Annotated[int, Meta(description="How many vehicles are touched.")]
    vehicles_examined: int
    fixtures: tuple[FixturesOfVehicle, ...]
    bays_lost: tuple[BayLost, ...]
    homeless: tuple[Homeless, ...]
    visits: Annotated[int, Meta(description="How many open visits there are of touched vehicles.")]
    visits_examined: int
    visits_changed: tuple[VisitChanged, ...]
