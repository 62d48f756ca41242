"""Which obstacles would have to go."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from snapline_service.geometry.bay_fit.room import Room
from snapline_service.geometry.bay_fit.space import space_of, spaces_cleared
from snapline_service.geometry.bay_fit.values import Procedure


def obstacles_to_clear(
    room: Room, procedures: Sequence[Procedure], headings_deg: Sequence[float]
) -> Iterator[int]:
    """Yield each obstacle whose removal alone lets all procedures be done at one pose."""
    bare = replace(room, blocks=())
    able = [h for h in headings_deg if not space_of(bare, procedures, h).is_empty]
    helping: set[int] = set()
    for heading_deg in able:
        spaces = spaces_cleared(room, procedures, heading_deg)
        helping |= {b.index for b, space in zip(room.blocks, spaces, strict=True) if not space.is_empty}
    yield from sorted(helping)
