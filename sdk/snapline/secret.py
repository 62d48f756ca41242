"""The API key, held so that it cannot be printed by accident."""

from snapline.errors import ConfigurationError

HIDDEN = "***"


class Secret:
    """An API key. ``str`` and ``repr`` hide it; ``reveal`` is for the Authorization header alone."""

    __slots__ = ("_value",)

    def __init__(self, value: str) -> None:
        # An illegal character would be quoted, with the whole key, by the HTTP library's own complaint.
        if not value.isascii() or not value.isprintable() or " " in value:
            raise ConfigurationError(
                "The API key holds a character that a header cannot carry (a space, a line end, an accent)."
            )
        self._value = value

    def reveal(self) -> str:
        """Return the key itself."""
        return self._value

    def redact(self, text: str) -> str:
        """Return the text without the key, wherever it came from."""
        return text.replace(self._value, HIDDEN)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Secret) and other._value == self._value

    def __hash__(self) -> int:
        return hash(self._value)

    def __repr__(self) -> str:
        return HIDDEN
