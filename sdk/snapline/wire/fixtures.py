"""Fixture types, what they can do, and the vehicles they serve."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.catalogue import DriveSide, FixtureDocument, RadarNeed
from snapline.wire.common import Caution, Id, Label, ModelYear, Source, Wire
from snapline.wire.vehicles import PageSize, PageToken
from snapline.wire.vocabulary import FixtureKind, Match, SystemKind


class Fixture(FixtureDocument, frozen=True, kw_only=True, tag_field="kind", tag="fixture"):
    """A fixture type as a look-up answers it."""

    changed_in_revision: int
    sources: tuple[Source, ...]
    cautions: tuple[Caution, ...]


class FixtureSummary(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A fixture type in a list."""

    id: Id
    name: Label
    fixture_kind: FixtureKind
    capabilities: tuple[Id, ...]
    invented: bool
    changed_in_revision: int


class FixtureQuery(Wire, frozen=True, kw_only=True):
    """Filters of the fixture list."""

    fixture_kind: FixtureKind | None = None
    capability: Id | None = None
    page_size: PageSize = 50
    page_token: PageToken | None = None


class FixturePage(Wire, frozen=True, kw_only=True):
    """One page of fixtures, ordered by id."""

    items: tuple[FixtureSummary, ...]
    next_page_token: str | None = None


class Need(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Something that must also stand: the capability and the fixtures that bring it by name or statement."""

    capability: Id
    fixtures: tuple[Id, ...]


class Use(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One use of a fixture: a system's alternative in which it can stand."""

    system_id: Id
    system_kind: SystemKind
    requirement_id: Id
    alternative_id: Id
    procedures: tuple[Id, ...]
    role: Annotated[str, Meta(description="only_way, or one_alternative when others do without it.")]
    match: Match
    also_needs: tuple[Need, ...]


class FixtureVehicle(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A vehicle that the fixture serves."""

    vehicle_id: Id
    make: Label
    model: Label
    model_year_first: ModelYear
    model_year_last: ModelYear | None
    markets: tuple[str, ...]
    drive_side: DriveSide
    uses: tuple[Use, ...]


class FixtureVehicleQuery(Wire, frozen=True, kw_only=True):
    """Filters of the reverse look-up.

    ``by_property`` true lists the uses that rest on our arithmetic alone; they never mix with the others.
    """

    make: Label | None = None
    model: Label | None = None
    model_year: ModelYear | None = None
    system_kind: SystemKind | None = None
    by_property: bool = False
    page_size: PageSize = 50
    page_token: PageToken | None = None


class FixtureVehiclePage(Wire, frozen=True, kw_only=True):
    """One page of the vehicles that a fixture serves, ordered by make, model, first model year and id."""

    items: tuple[FixtureVehicle, ...]
    next_page_token: str | None = None


class FixtureMatchRequest(Wire, frozen=True, kw_only=True):
    """A required capability, radar properties, or both."""

    capability: Id | None = None
    radar: RadarNeed | None = None


class FixtureMatch(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Whether a fixture meets the need: yes, no, or unknown with the property that is missing."""

    fixture_id: Id
    name: Label
    meets: Annotated[str, Meta(description="yes, no or unknown.")]
    match: Match | None
    missing: tuple[str, ...]
    reason: str


class FixtureMatches(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The fixtures of the catalogue held against a need; those that do not meet it are left out."""

    items: tuple[FixtureMatch, ...]
    catalogue_revision: int
    cautions: tuple[Caution, ...]
