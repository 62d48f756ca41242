"""Identify, look up and search vehicles."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.catalogue import (
    DriveSide,
    Procedure,
    System,
    VehicleDocument,
)
from snapline.wire.common import Caution, Id, Label, ModelYear, Source, Text, Wire
from snapline.wire.vocabulary import Body, SystemKind

PageSize = Annotated[int, Meta(ge=1, le=200)]
PageToken = Annotated[str, Meta(min_length=1, max_length=2000)]
Market = Annotated[str, Meta(pattern=r"^[A-Z]{2,3}$")]


class SystemBrief(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One system of a vehicle in a list; optional ones depend on what is fitted."""

    id: Id
    kind: SystemKind
    name: Label
    optional: bool


class VehicleSummary(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A vehicle in a list."""

    id: Id
    make: Label
    model: Label
    body: Body
    markets: tuple[Market, ...]
    drive_side: DriveSide
    model_year_first: ModelYear
    model_year_last: ModelYear | None
    invented: bool
    systems: tuple[SystemBrief, ...]
    changed_in_revision: int


class VehicleQuery(Wire, frozen=True, kw_only=True):
    """Filters of the vehicle list. All given ones must hold."""

    make: Label | None = None
    model: Label | None = None
    model_year: ModelYear | None = None
    market: Market | None = None
    system_kind: SystemKind | None = None
    q: Annotated[str, Meta(min_length=1, max_length=200, description="Words or their beginnings.")] | None = (
        None
    )
    page_size: PageSize = 50
    page_token: PageToken | None = None


class VehiclePage(Wire, frozen=True, kw_only=True):
    """One page of vehicles, ordered by make, model, first model year and id."""

    items: tuple[VehicleSummary, ...]
    next_page_token: str | None = None


class Vehicle(VehicleDocument, frozen=True, kw_only=True, tag_field="kind", tag="vehicle"):
    """A vehicle's requirement document as a look-up answers it."""

    changed_in_revision: int
    sources: tuple[Source, ...]
    cautions: tuple[Caution, ...]


class VehicleSystem(Wire, frozen=True, kw_only=True):
    """One system of a vehicle with the procedures that its alternatives use."""

    vehicle_id: Id
    system: System
    procedures: tuple[Procedure, ...]
    changed_in_revision: int
    sources: tuple[Source, ...]
    cautions: tuple[Caution, ...]
    invented: bool = False


CANNOT_TELL = "cannot_tell"
BuildCodeText = Annotated[str, Meta(min_length=1, max_length=20)]


class IdentifyRequest(Wire, frozen=True, kw_only=True):
    """What is known of the car on the hoist. Give what you have; leave out what you have not.

    ``answers`` reply to the questions of an earlier identification, by question id; 'cannot_tell' is valid.
    """

    vin: Annotated[str, Meta(min_length=1, max_length=40)] | None = None
    make: Label | None = None
    model: Label | None = None
    model_year: ModelYear | None = None
    market: Market | None = None
    drive_side: DriveSide | None = None
    build_codes: Annotated[tuple[BuildCodeText, ...], Meta(max_length=200)] = ()
    answers: Annotated[dict[str, Annotated[str, Meta(max_length=120)]], Meta(max_length=200)] = {}


class VinHint(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What the public vPIC data say of a North American VIN: a hint, not a catalogue match."""

    make: str | None
    model: str | None
    model_year: int | None


class DecodedVin(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What the characters of a VIN say by 49 CFR 565 and ISO 3779/3780. The VIN itself is not repeated."""

    wmi: str
    region: str
    check_digit: Annotated[str, Meta(description="matches, does_not_match or not_applicable.")]
    expected_check_digit: str | None
    model_years: tuple[int, ...]
    model_year_is_hint: bool
    maker_hint: VinHint | None


class Fitted(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Whether an option or a system is fitted, and what says so."""

    id: Id
    name: Label
    fitted: Annotated[str, Meta(description="yes, no or unknown.")]
    because: str


class Candidate(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A catalogue vehicle that agrees with everything known."""

    vehicle: VehicleSummary
    because: tuple[str, ...]
    options: tuple[Fitted, ...]
    systems: tuple[Fitted, ...]


class Question(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Something to look at on the car. ``decides`` says whether it settles the vehicle or its equipment."""

    id: str
    text: Text
    how_to_see: Text
    answers: tuple[str, ...]
    decides: Annotated[str, Meta(description="vehicle or equipment.")]


class Identification(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Candidates, and the fewest questions that still separate them.

    ``method`` is exact (no smaller set of questions exists), best_split (many candidates) or none.
    ``notes`` names what was given but could not be used, and what is doubtful.
    """

    vin: DecodedVin | None
    candidates: tuple[Candidate, ...]
    candidates_total: int
    questions: tuple[Question, ...]
    method: str
    inseparable: tuple[tuple[Id, ...], ...]
    notes: tuple[str, ...]
    catalogue_revision: int
    sources: tuple[Source, ...]
    cautions: tuple[Caution, ...]
