"""Bay fit: where in a bay a vehicle can stand so that there is room for everything that is done with it.

``fit`` gives the whole answer. A plan that needs less asks for less: ``fits`` decides, ``roomiest_stand`` and
``fewest_stands`` place, ``shortfalls`` and ``obstacles_to_clear`` explain. A bay is prepared once by
``room_of`` and kept.
"""

from snapline_service.geometry.bay_fit.checks import check
from snapline_service.geometry.bay_fit.clearance import roomiest_stand
from snapline_service.geometry.bay_fit.fit import fit, fits
from snapline_service.geometry.bay_fit.obstacles import obstacles_to_clear
from snapline_service.geometry.bay_fit.poses import fewest_stands
from snapline_service.geometry.bay_fit.roll_in import ways_in
from snapline_service.geometry.bay_fit.room import Room, room_of
from snapline_service.geometry.bay_fit.shortfall import shortfalls
from snapline_service.geometry.bay_fit.values import (
    CONTACT_MM,
    Bay,
    Cause,
    Door,
    Fit,
    Kind,
    Obstacle,
    Part,
    Procedure,
    Shortfall,
    Slid,
    Sliding,
    Stand,
)

__all__ = [
    "CONTACT_MM",
    "Bay",
    "Cause",
    "Door",
    "Fit",
    "Kind",
    "Obstacle",
    "Part",
    "Procedure",
    "Room",
    "Shortfall",
    "Slid",
    "Sliding",
    "Stand",
    "check",
    "fewest_stands",
    "fit",
    "fits",
    "obstacles_to_clear",
    "room_of",
    "roomiest_stand",
    "shortfalls",
    "ways_in",
]
