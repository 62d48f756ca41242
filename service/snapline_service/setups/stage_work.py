"""The fixtures of a stage on their common ground, to be set out with whatever means are tried."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import msgspec

from snapline.wire.setup_setting_out import GivenMark
from snapline.wire.setups import SetupRequest
from snapline_service.geometry.vehicle_marks import floor_barred_by
from snapline_service.setups.ground import Ground
from snapline_service.setups.inputs import Inputs
from snapline_service.setups.marks import ground_of
from snapline_service.setups.means import Means
from snapline_service.setups.standing import Standing
from snapline_service.setups.trials import Attempt, Sights, attempt, best_attempt


class StageWork:
    """What attempts at one stage share: marks by the means that make them, and what is in the way."""

    def __init__(
        self, inputs: Inputs, request: SetupRequest, fixtures: Sequence[Standing], means: Means
    ) -> None:
        self.inputs, self.request, self.fixtures, self.means = inputs, request, fixtures, means
        self._grounds: dict[Means, Ground] = {}
        self._sights: dict[str, Sights] = {}

    def attempt(self, one: Standing, means: Means) -> Attempt:
        """Set one fixture out with these means."""
        return attempt(one, self.ground(means), means, self._sights_of(one))

    def best(self, one: Standing, means: Means) -> Attempt:
        """Set one fixture out with these means and all marks that they allow."""
        return best_attempt(one, self.ground(means), means, self._sights_of(one))

    def with_marks(self, marks: Mapping[str, GivenMark]) -> "StageWork":
        """Return the same fixtures with further marks that somebody measured."""
        request = msgspec.structs.replace(self.request, marks={**self.request.marks, **marks})
        return StageWork(self.inputs, request, self.fixtures, self.means)

    def ground(self, means: Means) -> Ground:
        """Return the marks of the stage as these means make them."""
        key = replace(means, auxiliary_marks=True, two_stages=True)
        if key not in self._grounds:
            by_thrust_line = any(one.item.placement.aim_line == "thrust_line" for one in self.fixtures)
            self._grounds[key] = ground_of(
                self.inputs,
                self.request,
                {name: at for one in self.fixtures for name, at in one.at.items()},
                key,
                thrust_yaw_deg=self.inputs.vehicle.thrust_yaw_deg if by_thrust_line else None,
            )
        return self._grounds[key]

    def _sights_of(self, one: Standing) -> Sights:
        """Return what stands between marks and a fixture: the car and the other fixtures."""
        if one.item.id not in self._sights:
            barred = floor_barred_by(
                self.inputs.vehicle, self.inputs.tyre_width_mm, under_vehicle=self.request.tape_under_vehicle
            )
            others = [shape for other in self.fixtures if other is not one for shape in other.blocks]
            self._sights[one.item.id] = Sights([*barred, *others])
        return self._sights[one.item.id]
