"""How names stand in an error: as a pointer, and as advice which name was meant."""

from difflib import get_close_matches


def escaped(name: str) -> str:
    """Return a name as one part of an RFC 6901 pointer."""
    return name.replace("~", "~0").replace("/", "~1")


def nearest_name(name: str, allowed: tuple[str, ...]) -> str:
    """Return advice: the nearest of the allowed names if one is near, and all of them."""
    near = get_close_matches(name, allowed, n=1)
    return (f"Did you mean '{near[0]}'? " if near else "") + f"Allowed here: {', '.join(allowed)}."
