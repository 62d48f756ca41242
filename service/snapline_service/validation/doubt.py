"""Something that a vehicle's document says and that may be a slip."""

from msgspec import Struct


class Doubt(Struct, frozen=True):
    """What is wrong ('error') or may well be ('warning'), where, and what would settle it."""

    severity: str
    code: str
    pointer: str
    text: str
    mend: str
