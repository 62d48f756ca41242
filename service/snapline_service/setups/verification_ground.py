"""The marks that a verification measures from, and where points should be, with what they share."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from snapline.wire.setup_setting_out import SetupMark
from snapline.wire.setups import SetupRequest
from snapline_service.geometry.marks import Array, Marks
from snapline_service.geometry.setting_out import MIN_SIN_ANGLE, Best, best_of, directions, rank, reachable
from snapline_service.setups.ground import Ground
from snapline_service.setups.inputs import Inputs
from snapline_service.setups.marks import with_stations
from snapline_service.setups.means import Means, means_of
from snapline_service.setups.stage_work import StageWork
from snapline_service.setups.standing import Standing


@dataclass(frozen=True, slots=True, eq=False)
class Staked:
    """Marks and wanted points with their joint covariance, and the part of it that the car's figures bring.

    ``unstated`` has the slopes of every coordinate by the inputs that nobody stated an uncertainty of.
    """

    marks: Marks
    vehicle_mm2: Array
    floor_marks: tuple[str, ...]
    unstated: dict[str, Array]


def stake(
    inputs: Inputs, request: SetupRequest, fixtures: Sequence[Standing], set_out: Sequence[SetupMark]
) -> Staked:
    """Bring the marks and all points of some fixtures together, whatever stage they belong to.

    ``set_out`` are the marks that the setup makes by tape from others, as its first of two stages.
    """
    means = means_of(request)
    ground = _ground(inputs, request, fixtures, set_out, means)
    exact = msgspec.structs.replace(inputs, standard_uncertainty={}, u_tyre_width_mm=None)
    without = _ground(exact, request, fixtures, set_out, means)
    names = (*ground.notes, *(target for one in fixtures for target in one.targets))
    marks = ground.joint.only(names)
    rows = [axis for name in names for axis in _coordinates(ground.joint, name)]
    everything = np.eye(2 * len(ground.joint.names))
    return Staked(
        marks,
        marks.covariance_mm2 - without.joint.only(names).covariance_mm2,
        tuple(ground.notes),
        {name: ground.slopes(everything, name)[rows] for name in ground.unstated},
    )


def _ground(
    inputs: Inputs,
    request: SetupRequest,
    fixtures: Sequence[Standing],
    set_out: Sequence[SetupMark],
    means: Means,
) -> Ground:
    ground = StageWork(inputs, request, fixtures, means).ground(means)
    return with_stations(ground, list(_stations(ground, set_out, means)), means)


def _stations(ground: Ground, set_out: Sequence[SetupMark], means: Means) -> Iterator[tuple[str, Best]]:
    """Yield the marks that were made by tape with the two tapes that made each."""
    for mark in set_out:
        at = (mark.x_mm, mark.y_mm)
        made_from = ground.joint.only(mark.made_from)
        usable, _ = reachable(made_from, at, means.tape, [None] * len(mark.made_from))
        best = best_of(usable, rank(usable, directions((1.0, 0.0)), MIN_SIN_ANGLE), at)
        if best is not None:
            yield mark.name, best


def _coordinates(marks: Marks, name: str) -> tuple[int, int]:
    return 2 * marks.index(name), 2 * marks.index(name) + 1
