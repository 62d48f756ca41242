"""The whole answer: one pose or the fewest, spare room, and what is short or in the way."""

from collections.abc import Sequence

from snapline_service.geometry.bay_fit.checks import check
from snapline_service.geometry.bay_fit.clearance import roomiest_stand
from snapline_service.geometry.bay_fit.obstacles import obstacles_to_clear
from snapline_service.geometry.bay_fit.poses import fewest_stands
from snapline_service.geometry.bay_fit.room import room_of
from snapline_service.geometry.bay_fit.shortfall import shortfalls
from snapline_service.geometry.bay_fit.space import space_of
from snapline_service.geometry.bay_fit.units import notes_on_units
from snapline_service.geometry.bay_fit.values import Bay, Fit, Procedure
from snapline_service.geometry.values import BayPose


def fit(bay: Bay, headings_deg: Sequence[float], procedures: Sequence[Procedure]) -> Fit:
    """Return whether and where procedures can be done in a bay, and if not at one pose, what would help.

    A heading is the direction of the vehicle's x axis in the bay, positive counter-clockwise. Contact fits.
    Raises BadInput with everything that cannot be.
    """
    check(bay, headings_deg, procedures)
    room = room_of(bay)
    stand = roomiest_stand(room, procedures, headings_deg)
    if stand:
        pose = BayPose(stand.x_mm, stand.y_mm, stand.heading_deg)
        return Fit(True, pose, stand.margin_mm, (stand,), (), (), ())
    stands, unservable = fewest_stands(room, procedures, headings_deg)
    return Fit(
        one_pose=False,
        pose=None,
        margin_mm=None,
        poses=stands,
        unservable=unservable,
        shortfall=tuple(shortfalls(bay, procedures, headings_deg)),
        obstacles_to_clear=tuple(obstacles_to_clear(room, procedures, headings_deg)),
        notes=() if stands else tuple(notes_on_units(bay, procedures)),
    )


def fits(bay: Bay, headings_deg: Sequence[float], procedures: Sequence[Procedure]) -> bool:
    """Say whether all procedures can be done at one pose. What is asked must have passed the checks."""
    room = room_of(bay)
    return any(not space_of(room, procedures, heading_deg).is_empty for heading_deg in headings_deg)
