"""An invented document for the tests of the writers. No figure comes from a real vehicle or fixture."""

from dataclasses import replace

from sheets.scenes import mats, one_board, rear_radar
from snapline_service.sheets.document import (
    Blank,
    Column,
    Section,
    SheetDocument,
    Statements,
    Table,
    TitleBlock,
)
from snapline_service.sheets.scene import Mark, PlanScene

TAPES = Table(
    "Set out: tape of class II, 10 m",
    (
        Column("Point", 24),
        Column("Tape 1, mm", 25, is_figure=True),
        Column("As set", 16),
        Column("Tape 2, mm", 25, is_figure=True),
        Column("As set", 16),
        Column("Within", 14),
    ),
    (
        ("1a front left", "FL 2,345", Blank(), "FR 3,021", Blank(), "2.1"),
        ("1b front right", "FL 2,987", Blank(), "FR 2,311", Blank(), "2.1"),
    ),
    note="1a, 1b: left of the line from front left wheel to front right wheel, seen from front left wheel.",
)
STOP = Statements("STOP", ("The thrust line is turned 0.3° to the left: align the wheels first.",), "stop")
CAUTIONS = Statements("Cautions", ("Tapes and stands trip people.", "Never look into a laser."))
ACTS = Table(
    "Things to do",
    (Column("What", 70), Column("Done", 12)),
    (("Set the front wheels straight ahead.", Blank(tick=True)),),
)


def taped(scene: PlanScene) -> PlanScene:
    """Add marks and tapes to a scene."""
    marks = (Mark("FL", 2700.0, 990.0), Mark("FR", 2700.0, -990.0))
    feet = [(foot.x_mm, foot.y_mm) for foot in scene.fixtures[0].feet]
    return replace(scene, marks=marks, tapes=tuple(((m.x_mm, m.y_mm), foot) for m in marks for foot in feet))


def stage(title: str, scene: PlanScene, *tables: Table) -> Section:
    return Section(
        title, f"Snapline; stage {title}; setup 0123456789abcdef", (*tables, CAUTIONS), taped(scene)
    )


def document(*sections: Section, banners: tuple[str, ...] = ("INVENTED DATA",)) -> SheetDocument:
    before = Section(
        "Before you start", "Snapline; all stages; setup 0123456789abcdef", (STOP, ACTS, CAUTIONS)
    )
    return SheetDocument(
        title_block=TitleBlock(
            legal_owner="Alder workshops (invented)",
            title="Alder Wren 2.0 estate (2019–2023)",
            supplementary_title="Forward camera, static calibration",
            identification_number="setup 0123456789abcdef",
            revision="Catalogue revision 12",
            date_of_issue="2031-03-04",
        ),
        sections=(before, *sections),
        banners=banners,
    )


def ordinary() -> SheetDocument:
    return document(stage("Stage: board ahead", one_board(), TAPES), stage("Stage: mats", mats(), TAPES))


def long_table() -> SheetDocument:
    rows = tuple(
        (f"{n} point", f"FL {2000 + n:,}", Blank(), f"FR {3000 + n:,}", Blank(), "2.1") for n in range(1, 61)
    )
    return document(stage("Stage: many points", rear_radar(), replace(TAPES, rows=rows)))
