"""What a verification is made of: the fixtures of its stages, their distances adjusted and tested."""

from dataclasses import dataclass
from math import dist

from snapline.offline import RevisionFile
from snapline.wire.setups import PlacedFixture, Setup
from snapline.wire.verification import VerifyRequest
from snapline_service.errors import InvalidValue, UnknownName
from snapline_service.faults import nearest, pointer
from snapline_service.geometry.as_set_extra import Extras
from snapline_service.geometry.as_set_slips import located, without
from snapline_service.geometry.outliers import Checked, GlobalTest, global_test, w_tests
from snapline_service.setups.inputs import Inputs, gather
from snapline_service.setups.means import Means, means_of
from snapline_service.setups.stage_work import StageWork
from snapline_service.setups.standing import Standing, standing
from snapline_service.setups.verification_ground import stake
from snapline_service.setups.verification_measured import Adjusted, adjusted


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """One verification under way. ``stages`` has the fixtures by the stage that they stand in."""

    request: VerifyRequest
    inputs: Inputs
    means: Means
    stages: dict[str, tuple[Standing, ...]]
    measured: Adjusted | None
    chi2: GlobalTest | None
    tested: tuple[Checked, ...]

    @property
    def fixtures(self) -> tuple[Standing, ...]:
        """Return every fixture that is verified."""
        return tuple(one for fixtures in self.stages.values() for one in fixtures)

    @property
    def disagree(self) -> bool:
        """Say whether the distances contradict each other."""
        return self.chi2 is not None and self.chi2.passed is False

    def body_of(self, item: PlacedFixture) -> int | None:
        """Return which body of the adjustment a fixture is, None if nothing was measured to it."""
        fixtures = self.measured.fixtures if self.measured else ()
        return next((index for index, one in enumerate(fixtures) if one.item.id == item.id), None)

    def tests_of(self, body: int) -> list[Checked]:
        """Return the tests of the distances to one body."""
        distances = self.measured.distances if self.measured else ()
        return [test for one, test in zip(distances, self.tested, strict=True) if one.body == body]

    def extras(self, measured: Adjusted, stage: str, body: int) -> Extras:
        """Return what further distances to a fixture would tell, as far as a tape reaches and is free."""
        one, marks = measured.fixtures[body], measured.staked.marks
        names = measured.staked.floor_marks
        points = marks.points_mm[[marks.index(name) for name in names]]
        shared = StageWork(self.inputs, self.request, self.stages[stage], self.means)
        sights = shared.attempt(one, self.means).sights
        taken = {(d.mark, d.foot) for d in measured.distances if d.body == body}
        pairs = []
        for foot, target in enumerate(one.targets):
            at = marks.point(target)
            for mark, barred in zip(names, sights.in_the_way(points, at), strict=True):
                reaches = dist(marks.point(mark), at) <= self.means.tape.length_mm
                if barred is None and reaches and (mark, foot) not in taken:
                    pairs.append((mark, foot))
        return measured.extras(body, pairs, max(d.u_mm for d in measured.distances if d.body == body))


def gathered(file: RevisionFile, request: VerifyRequest, setup: Setup) -> Work:
    """Bring a setup and what was measured of it together. Raises UnknownName and InvalidValue."""
    vehicle = file.get_vehicle(request.vehicle_id)
    assert vehicle is not None  # noqa: S101 - the setup was computed for it
    inputs, means = gather(vehicle, request), means_of(request)
    procedure = next(one for one in vehicle.procedures if one.id == setup.procedure_id)
    sensor = procedure.aim_allowance.sensor if procedure.aim_allowance else None
    wanted = [stage for stage in setup.stages if request.stage in (None, stage.id)]
    if not wanted:
        _require_stages(request, setup)
    stages = {
        stage.id: tuple(
            standing(item, inputs.vehicle, [item.footprint] if item.footprint else [], sensor)
            for item in stage.placements
        )
        for stage in wanted
    }
    fixtures = [one for stage in stages.values() for one in stage]
    _require_placements(request, [one.item.id for one in fixtures])
    set_out = {mark.name: mark for stage in wanted for mark in stage.marks if mark.kind == "set_out"}
    measured = None
    if request.distances:
        staked = stake(inputs, request, fixtures, tuple(set_out.values()))
        measured = adjusted(request, staked, fixtures, means)
    return Work(
        request=request,
        inputs=inputs,
        means=means,
        stages=stages,
        measured=measured,
        chi2=global_test(measured.fitted, request.alpha) if measured else None,
        tested=_tested(request, measured) if measured else (),
    )


def _tested(request: VerifyRequest, measured: Adjusted) -> tuple[Checked, ...]:
    tested = w_tests(measured.fitted, request.alpha_outlier)
    solve = without(measured.staked.marks, measured.bodies, measured.distances)
    return located(tested, measured.fitted, request.alpha, solve)


def _require_stages(request: VerifyRequest, setup: Setup) -> None:
    if not setup.stages:
        raise InvalidValue(
            f"Nothing stands on the floor in {setup.procedure_id}.",
            pointer="/procedure_id",
            mend="Name a procedure with fixtures.",
        )
    raise UnknownName(
        f"The procedure has no stage '{request.stage}'.",
        pointer="/stage",
        mend=nearest(request.stage, [stage.id for stage in setup.stages]),
    )


def _require_placements(request: VerifyRequest, known: list[str]) -> None:
    for field, given in (("heights", request.heights), ("tilts", request.tilts)):
        for name in given:
            if name not in known:
                detail = f"There is no placement '{name}' to verify."
                raise UnknownName(detail, pointer=pointer([field, name]), mend=nearest(name, known))
