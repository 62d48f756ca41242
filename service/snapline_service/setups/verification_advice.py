"""What a person does next about a setup that was measured: fixture by fixture, and about the whole."""

from collections.abc import Iterator, Mapping, Sequence

from snapline.wire.verification import PlacementVerification
from snapline_service.geometry import as_set_advice as advice
from snapline_service.geometry.as_set_extra import Extras
from snapline_service.geometry.as_set_place import Place
from snapline_service.geometry.as_set_values import Height
from snapline_service.geometry.conformity import Verdict
from snapline_service.geometry.input_words import spoken
from snapline_service.setups.setting_out_words import to_state
from snapline_service.setups.standing import Standing
from snapline_service.setups.verification_axes import NOT_MEASURED, Found
from snapline_service.setups.verification_work import Work

_MOST_NAMED = 3


def on_fixture(
    work: Work,
    stage: str,
    one: Standing,
    *,
    place: Place | None,
    found: Mapping[str, Found],
    verdicts: Mapping[str, Verdict | None],
) -> Iterator[str]:
    """Say what to do about one fixture; nothing, while distances contradict each other."""
    if work.disagree:
        return
    if place is not None:
        yield from _on_place(work, stage, one, place)
    given, height = work.request.heights.get(one.item.id), found.get("height")
    if given and height:
        measured = Height(given.height_mm - height.error, given.height_mm, height.u)
        yield from advice.height_move(measured, verdicts["height"])
    for axis in ("pitch", "roll"):
        verdict = verdicts.get(axis)
        if verdict and verdict.verdict != "conforms":
            yield from advice.tilt_move(axis, found[axis].error, found[axis].u)


def _on_place(work: Work, stage: str, one: Standing, place: Place) -> Iterator[str]:
    body, measured = work.body_of(one.item), work.measured
    if body is None or measured is None:
        return

    def extras() -> Extras:
        return work.extras(measured, stage, body)

    if any(test.w is None for test in work.tests_of(body)):
        yield from advice.to_check(extras().for_check(), measured.bodies)
    yield from advice.on_place(place, extras, work.request.alpha)


def on_the_whole(
    work: Work, placements: Sequence[PlacementVerification], unstated: Sequence[str]
) -> Iterator[str]:
    """Say which distances contradict each other or stand out, and what is still to be measured or stated."""
    if work.measured and work.chi2:
        bodies, distances = work.measured.bodies, work.measured.distances
        if work.disagree:
            yield from advice.on_disagreement(bodies, distances, work.tested, work.chi2.dof)
        else:
            yield from advice.on_suspects_that_agree(bodies, distances, work.tested)
    for one in placements:
        missing = [axis.axis for axis in one.axes if axis.reason == NOT_MEASURED]
        if missing:
            yield f"Still to be measured at {spoken(one.id)}: {', '.join(missing)}."
    if unstated:
        more = f" Those count most; {len(unstated) - _MOST_NAMED} more count less."
        yield f"{to_state(unstated[:_MOST_NAMED])}{more if len(unstated) > _MOST_NAMED else ''}"
