"""Who acts."""

from msgspec import Struct


class Person(Struct, frozen=True):
    """The holder of a key, the same whichever key is used, or somebody at the command line."""

    holder_id: str
    name: str


def at_command_line(name: str) -> Person:
    """Return somebody who works at the machine itself."""
    return Person(f"command line: {name}", name)
