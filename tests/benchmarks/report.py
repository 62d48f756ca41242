"""What is aimed at, what is the gate, and the table that says whether they are met."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Limit:
    """The goal and the gate of a figure: upper bounds, or lower ones where more is better."""

    goal: float
    gate: float | None = None
    more_is_better: bool = False

    def verdict(self, figure: float) -> str:
        """Say how a figure stands to goal and gate."""
        if self._holds(figure, self.goal):
            return "goal met"
        if self.gate is None:
            return "**goal missed**"
        return "gate met" if self._holds(figure, self.gate) else "**gate missed**"

    def _holds(self, figure: float, bound: float) -> bool:
        return figure >= bound if self.more_is_better else figure <= bound


LOOK_UP = Limit(1.6, 2.6)
NOT_MODIFIED = COMPRESSED = Limit(1.5, 2.3)
BELOW_NORMALISED = Limit(100, 60, more_is_better=True)
BELOW_PREPARED = Limit(4, 3, more_is_better=True)
REVERSE_SQL_US = Limit(100)
REVERSE_GROWTH = Limit(1.2, 1.5)
REVERSE_PAGE = Limit(5, 8)
SDK_CALL = Limit(1.15, 1.25)
OFFLINE_US = Limit(15, 30)
IMPORT_MS = Limit(60, 90)
IMPORT_MODULES = Limit(120)
INSTALL_S = Limit(45)
READY_S = Limit(1.5)


@dataclass
class Report:
    """The table as it grows."""

    lines: list[str] = field(default_factory=list)

    def section(self, title: str) -> None:
        """Begin a table under a title."""
        self.lines += [
            "",
            f"## {title}",
            "",
            "| what | measured | goal | gate | |",
            "| --- | --- | --- | --- | --- |",
        ]

    def add(
        self, what: str, figure: float, unit: str = "×", limit: Limit | None = None, note: str = ""
    ) -> None:
        """Add a figure."""
        goal = gate = verdict = ""
        if limit:
            sign = "≥" if limit.more_is_better else "≤"
            goal, verdict = f"{sign} {limit.goal:g}", limit.verdict(figure)
            gate = "" if limit.gate is None else f"{sign} {limit.gate:g}"
        self.lines.append(
            f"| {what} | {_text(figure)} {unit}{note and f' ({note})'} | {goal} | {gate} | {verdict} |"
        )

    def __str__(self) -> str:
        return "\n".join(self.lines).strip() + "\n"


def _text(figure: float) -> str:
    return f"{figure:,.0f}" if figure >= 100 else f"{figure:.3g}"
