"""Local notes: what a group's own people remark on a vehicle or procedure, beside the requirement."""

from msgspec import UNSET, UnsetType

from snapline.wire.common import Id, Text, Wire
from snapline.wire.vehicles import PageSize, PageToken


class NoteRequest(Wire, frozen=True, kw_only=True):
    """A remark on a vehicle, or on one procedure of it; for one site, or for all.

    ``prefers_bay`` names a bay of that site that serves best. A note alters nothing of the requirement.
    """

    vehicle_id: Id
    text: Text
    procedure_id: Id | None = None
    site: Id | None = None
    prefers_bay: Id | None = None


class NotePatch(Wire, frozen=True, kw_only=True):
    """What changes in a note (RFC 7396); it stays with its vehicle."""

    text: Text | UnsetType = UNSET
    procedure_id: Id | UnsetType | None = UNSET
    site: Id | UnsetType | None = UNSET
    prefers_bay: Id | UnsetType | None = UNSET


class Note(NoteRequest, frozen=True, kw_only=True):
    """A local note, and who wrote it last."""

    id: str
    written_at: str
    written_by: str


class NoteQuery(Wire, frozen=True, kw_only=True):
    """Filters of the list of notes. With a site, those for all sites are listed too."""

    vehicle_id: Id | None = None
    procedure_id: Id | None = None
    site: Id | None = None
    page_size: PageSize = 50
    page_token: PageToken | None = None


class NotePage(Wire, frozen=True, kw_only=True):
    """One page of notes, oldest first."""

    items: tuple[Note, ...]
    next_page_token: str | None = None
