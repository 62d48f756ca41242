"""Setting-out on a sheet: a row for every point with its two tapes, the check, and how to make the marks."""

from collections.abc import Iterator

from snapline.wire.setup_setting_out import (
    CheckTape,
    FixtureSettingOut,
    PointSettingOut,
    SetupMark,
    TapeDistance,
)
from snapline.wire.setups import PlacedFixture, Setup, SetupStage
from snapline_service.setups.drawing import marks_in_use, point_code, points_set_out, with_their_marks
from snapline_service.sheets.document import Blank, Block, Cell, Column, Statements, Table
from snapline_service.sheets.lengths import Units

_NO_BREAK = "\N{NO-BREAK SPACE}"
_NO_MARGIN = "Without a margin the tape alone uses up the tolerance: see How sure."
_OWN_SIDES = "A fixture's front is where its arrow points; its left and right are as seen from behind it."


def blocks(setup: Setup, stage: SetupStage) -> Iterator[Block]:
    """Yield what a person with a tape needs for a stage; nothing where nothing is set out."""
    marks = marks_in_use(stage)
    short = {mark.name: mark.short for mark in stage.marks}
    points = list(points_set_out(stage))
    taped = [entry for entry in points if entry[2].distances]
    yield _to_make("First make the marks", marks)
    yield Table(
        f"Set out: {setup.tape_text[:1].lower()}{setup.tape_text[1:]}",
        _columns(setup.units),
        tuple(_row(name_of(*entry), entry[2], short, setup.units) for entry in taped),
        note=" ".join((_sides(taped, short), _OWN_SIDES, *_on_margins(taped, setup.units))),
    )
    yield Statements("No pair of marks", tuple(_without(points)), "warning")


def besides(stage: SetupStage, units: Units) -> Iterator[Block]:
    """Yield the same points counted from the aim line, and how surely it all can be done."""
    yield from _drawn(stage)
    yield Table(
        "Or from the aim line, where one is drawn",
        (
            Column("Point", 32),
            Column("Along", 58),
            Column("As set", 16),
            Column("Beside", 50),
            Column("As set", 16),
        ),
        tuple(
            (name_of(*entry), line.along_text, Blank(units), line.offset_text, Blank(units))
            for entry in points_set_out(stage)
            if (line := entry[2].from_line)
        ),
    )
    yield Statements("How sure", tuple(_how_sure(stage)))


def _drawn(stage: SetupStage) -> Iterator[Block]:
    """Yield through which marks the aim line is drawn, and how to make those that no tape needs."""
    lines = {point.from_line.marks for _, _, point in points_set_out(stage) if point.from_line}
    short = {mark.name: mark.short for mark in stage.marks}
    told = (f"It runs through marks {short[one]} and {short[two]}." for one, two in sorted(lines))
    yield Statements("The aim line, where one is drawn", tuple(told))
    made = {mark.name for mark in marks_in_use(stage)}
    further = with_their_marks(stage, {name for pair in lines for name in pair})
    yield _to_make("For the line, make these marks too", [one for one in further if one.name not in made])


def _to_make(title: str, marks: list[SetupMark]) -> Table:
    columns = (Column("Marks", 46), Column("How to make them", 100), Column("Made", 12))
    return Table(
        title, columns, tuple((names, how, Blank(tick=True)) for how, names in _made_alike(marks).items())
    )


def _made_alike(marks: list[SetupMark]) -> dict[str, str]:
    """Return by how they are made the marks that are made alike."""
    alike: dict[str, str] = {}
    for mark in marks:
        named = f"{mark.short} {mark.name}"
        alike[mark.how] = f"{alike[mark.how]}, {named}" if mark.how in alike else named
    return alike


def name_of(number: int, item: PlacedFixture, point: PointSettingOut) -> str:
    """Return a point's short name on the plan, and its name."""
    return f"{point_code(number, item, point.name)} {point.name}"


def _columns(units: str) -> tuple[Column, ...]:
    tape = (Column("As set", 15), Column("Within", 13))
    return (
        Column("Point", 30),
        Column(f"Tape 1, {units}", 25, is_figure=True),
        tape[0],
        Column(f"Tape 2, {units}", 25, is_figure=True),
        *tape,
        Column(f"Check, {units}", 25, is_figure=True),
        *tape,
        Column("By", 8),
    )


def _row(name: str, point: PointSettingOut, short: dict[str, str], units: str) -> tuple[Cell, ...]:
    first, second = point.distances
    check = point.check
    return (
        name,
        _tape(first, short, units),
        Blank(),
        _tape(second, short, units),
        Blank(),
        _tolerance(first.tolerance_text, units),
        _tape(check, short, units) if check else "none",
        Blank(),
        _bare(check.permitted_text, units) if check else "",
        Blank(),
    )


def _on_margins(taped: list[tuple[int, PlacedFixture, PointSettingOut]], units: str) -> Iterator[str]:
    tolerances = [_tolerance(point.distances[0].tolerance_text, units) for _, _, point in taped]
    if "no margin" in tolerances:
        yield _NO_MARGIN


def _tape(tape: TapeDistance | CheckTape, short: dict[str, str], units: str) -> str:
    return f"{short[tape.mark]}{_NO_BREAK}{_bare(tape.text, units)}"


def _tolerance(text: str | None, units: str) -> str:
    if text is None:
        return "no limit"
    figure = _bare(text, units)
    return figure if float(figure.replace(",", "")) else "no margin"


def _bare(text: str, units: str) -> str:
    """Return a figure without its unit, which the heading has."""
    return text.removesuffix(units).strip().replace(" ", _NO_BREAK)


def _sides(taped: list[tuple[int, PlacedFixture, PointSettingOut]], short: dict[str, str]) -> str:
    """Say on which side of its two marks each point lies, those that share a side together."""
    together: dict[str, list[str]] = {}
    for entry in taped:
        one, two = (short[tape.mark] for tape in entry[2].distances)
        way = (entry[2].side or "").partition(" ")[0]
        side = f"{way} of the line from {one} to {two}, seen from {one}"
        together.setdefault(side, []).append(name_of(*entry).partition(" ")[0])
    return " ".join(f"{', '.join(names)}: {side}." for side, names in together.items())


def _without(points: list[tuple[int, PlacedFixture, PointSettingOut]]) -> Iterator[str]:
    for entry in points:
        if not entry[2].distances:
            yield f"{name_of(*entry)}: {' '.join(entry[2].reasons)}"


def _how_sure(stage: SetupStage) -> Iterator[str]:
    """Yield what holds of fixtures, those of which the same holds together."""
    together: dict[str, list[str]] = {}
    for number, item in enumerate(stage.placements, start=1):
        for text in _told(item.setting_out) if item.setting_out else ():
            together.setdefault(text, []).append(str(number))
    yield from (f"{', '.join(numbers)}: {text}" for text, numbers in together.items())


def _told(answer: FixtureSettingOut) -> tuple[str, ...]:
    return answer.words, *answer.what_would_do, *([answer.diagonals.words] if answer.diagonals else [])
