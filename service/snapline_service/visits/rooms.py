"""Which bays of a site a visit's procedures fit into, and where the vehicle then stands."""

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import combinations
from math import hypot

from msgspec import Struct

from snapline.wire import sites as wire
from snapline.wire.catalogue import Procedure
from snapline.wire.common import BayPose
from snapline.wire.visits import BayTried, Blocker, LimitCheck, PlannedDistance, PlannedPose, WallShortfall
from snapline_service.geometry import bay_fit
from snapline_service.geometry.bay_fit import Stand
from snapline_service.visits import limits
from snapline_service.visits.stock import Lack, Mend

_ON_THE_WALL_MM = 5.0


class Needed(Struct, frozen=True):
    """The room that a procedure takes: as the source's distances say, and with the slack of their ranges."""

    procedure: Procedure
    exact: bay_fit.Procedure
    slack: bay_fit.Procedure


class Room(Struct, frozen=True):
    """One bay as it was tried: what it serves, and its preparation limits."""

    bay: wire.Bay
    serves: frozenset[str]
    limits: Sequence[LimitCheck]

    def not_met(self, procedure: str) -> tuple[Blocker, ...]:
        """Return the preparation limits of a procedure that the bay does not keep."""
        return tuple(one for one in limits.blockers(self.limits) if one.procedure == procedure)


class Short(Struct, frozen=True):
    """Why a bay does not serve a procedure, and what would help."""

    blockers: tuple[Blocker, ...]
    mends: tuple[Mend, ...] = ()
    walls: tuple[WallShortfall, ...] = ()


def try_bay(bay: wire.Bay, needed: Sequence[Needed]) -> Room:
    """Try a bay for every procedure by itself."""
    checks = [check for one in needed for check in limits.checks(one.procedure, bay)]
    stopped = {one.procedure for one in limits.blockers(checks)}
    able = [one for one in needed if one.procedure.id not in stopped]
    return Room(bay, frozenset(one.procedure.id for one in able if _fits(bay, one)), checks)


def shortcomings(rooms: Sequence[Room], needed: Sequence[Needed]) -> dict[str, dict[str, Short]]:
    """Return by procedure and bay what is short, for the procedures that no bay serves."""
    homeless = [one for one in needed if not any(one.procedure.id in room.serves for room in rooms)]
    return {one.procedure.id: {room.bay.id: _short(room, one) for room in rooms} for one in homeless}


def lacking(found: Mapping[str, Short], procedure: str) -> Lack:
    """Return what stops a procedure that no bay serves: one lack, of which any one bay might be rid."""
    if not found:
        text = "No bay of this site is stored."
        return Lack((Blocker(kind="no_room", text=text, subject=None, procedure=procedure),))
    shorts = found.values()
    blockers = tuple(one for short in shorts for one in short.blockers)
    return Lack(blockers, tuple(one for short in shorts for one in short.mends))


def tried(room: Room, found: Mapping[str, Mapping[str, Short]]) -> BayTried:
    """Return what is told of a bay."""
    shorts = [by_bay[room.bay.id] for by_bay in found.values()]
    return BayTried(
        bay=room.bay.id,
        name=room.bay.name,
        serves=tuple(sorted(room.serves)),
        lacks=tuple(one for short in shorts for one in short.blockers),
        shortfall=tuple(wall for short in shorts for wall in short.walls),
        obstacles_to_clear=tuple(dict.fromkeys(_obstacles(shorts))),
    )


def _obstacles(shorts: Iterable[Short]) -> Iterable[str]:
    return (mend.subject for short in shorts for mend in short.mends if mend.kind == "clear_obstacle")


def fewest_poses(rooms: Sequence[Room], needed: Sequence[Needed]) -> list[PlannedPose]:
    """Return as few poses as serve all procedures; of equally few those in one bay, with room to spare."""
    stands = [
        (room.bay, stand)
        for room in rooms
        for stand in _stands(room.bay, [one for one in needed if one.procedure.id in room.serves])
    ]
    wanted = {one.procedure.id: one.procedure for one in needed}
    for count in range(1, len(stands) + 1):
        covers = [some for some in combinations(stands, count) if _served(some) >= wanted.keys()]
        if covers:
            return [_pose(bay, stand, wanted) for bay, stand in min(covers, key=_rank)]
    return []


def _stands(bay: wire.Bay, needed: Sequence[Needed]) -> Sequence[Stand]:
    """Return the fewest stands in a bay; a range of distance is used only where the room asks for it."""
    if not needed:
        return ()
    room = bay_fit.room_of(geometry_of(bay))
    for chosen in ([one.exact for one in needed], [one.slack for one in needed]):
        stand = bay_fit.roomiest_stand(room, chosen, bay.headings_deg)
        if stand:
            return (stand,)
    return bay_fit.fewest_stands(room, [one.slack for one in needed], bay.headings_deg)[0]


def _fits(bay: wire.Bay, needed: Needed) -> bool:
    ways = (needed.exact, needed.slack) if needed.slack.sliding else (needed.exact,)
    return any(bay_fit.fits(geometry_of(bay), bay.headings_deg, [way]) for way in ways)


@lru_cache(maxsize=512)
def geometry_of(bay: wire.Bay) -> bay_fit.Bay:
    """Return a bay as the geometry knows it, with its doors open."""
    return bay_fit.Bay(
        ring=bay.ring,
        obstacles=tuple(bay_fit.Obstacle(o.polygon, o.z_min_mm, o.z_max_mm) for o in bay.obstacles),
        doors=tuple(bay_fit.Door(door.start, door.end, open=True) for door in bay.doors),
        ceiling_mm=bay.ceiling_mm,
    )


def _served(stands: Iterable[tuple[wire.Bay, Stand]]) -> set[str]:
    return {name for _, stand in stands for name in stand.procedures}


def _rank(stands: Sequence[tuple[wire.Bay, Stand]]) -> tuple[int, float, list[str]]:
    bays = [bay.id for bay, _ in stands]
    return len(set(bays)), -min(stand.margin_mm for _, stand in stands), bays


def _pose(bay: wire.Bay, stand: Stand, procedures: Mapping[str, Procedure]) -> PlannedPose:
    return PlannedPose(
        bay=bay.id,
        bay_name=bay.name,
        pose=BayPose(x_mm=stand.x_mm, y_mm=stand.y_mm, heading_deg=stand.heading_deg),
        margin_mm=stand.margin_mm,
        procedures=stand.procedures,
        distances=tuple(_distance(procedures[slid.procedure], slid) for slid in stand.slid),
    )


def _distance(procedure: Procedure, slid: bay_fit.Slid) -> PlannedDistance:
    items = [item for stage in procedure.stages for item in stage.placements if item.id == slid.name]
    span = items[0].range
    along_mm = span.min_mm + slid.share * (span.max_mm - span.min_mm) if span else 0.0
    return PlannedDistance(procedure=procedure.id, placement=slid.name, along_distance_mm=along_mm)


def _short(room: Room, needed: Needed) -> Short:
    """Say which limit is not kept, or which wall would have to move how far, and what would help."""
    not_met = room.not_met(needed.procedure.id)
    if not not_met:
        return _too_small(room.bay, needed)
    if not _fits(room.bay, needed):
        return Short((*not_met, *_too_small(room.bay, needed).blockers))
    by_light = all(one.kind == "light" for one in not_met)
    return Short(not_met, tuple(limits.light_mends(needed.procedure, room.bay)) if by_light else ())


def _too_small(bay: wire.Bay, needed: Needed) -> Short:
    found, indices = _what_would_help(geometry_of(bay), needed.slack, bay.headings_deg)
    least = min(found, key=lambda one: one.missing_mm, default=None)
    text = f"{bay.name} has no room for it, whichever one wall were moved."
    if least:
        short, part = f"{least.missing_mm:,.0f} mm", least.because.part
        text = f"{bay.name} is {short} short at {_wall_name(bay, least.wall)}, because of {part}."
    blocker = Blocker(kind="no_room", text=text, subject=bay.id, procedure=needed.procedure.id)
    names = [f"{bay.obstacles[index].name} in {bay.name}" for index in indices]
    clear = (Mend("clear_obstacle", name, f"Clear away: {name}.") for name in names)
    return Short((blocker,), tuple(clear), tuple(_wall(bay, one) for one in found))


@lru_cache(maxsize=512)
def _what_would_help(
    bay: bay_fit.Bay, procedure: bay_fit.Procedure, headings_deg: tuple[float, ...]
) -> tuple[tuple[bay_fit.Shortfall, ...], tuple[int, ...]]:
    """Return the walls and the obstacles; it takes most of a plan's time, and models come again and again."""
    found = bay_fit.shortfalls(bay, [procedure], headings_deg)
    indices = bay_fit.obstacles_to_clear(bay_fit.room_of(bay), [procedure], headings_deg)
    return tuple(found), tuple(indices)


def _wall(bay: wire.Bay, one: bay_fit.Shortfall) -> WallShortfall:
    return WallShortfall(
        wall=one.wall,
        text=f"{one.missing_mm:,.0f} mm at {_wall_name(bay, one.wall)}, because of {one.because.part}",
        missing_mm=one.missing_mm,
        procedure=one.because.procedure,
        part=one.because.part,
    )


def _wall_name(bay: wire.Bay, wall: int) -> str:
    """Name a wall as a person in the bay can find it: by its door, else by its number."""
    start, end = bay.ring[wall], bay.ring[(wall + 1) % len(bay.ring)]
    doors = [door.name for door in bay.doors if _on(door.start, start, end) and _on(door.end, start, end)]
    return f"wall {wall + 1}, with the {doors[0]}" if doors else f"wall {wall + 1}"


def _on(point: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> bool:
    (x, y), (ax, ay), (bx, by) = point, start, end
    off = abs((bx - ax) * (y - ay) - (by - ay) * (x - ax))
    return off <= _ON_THE_WALL_MM * hypot(bx - ax, by - ay)
