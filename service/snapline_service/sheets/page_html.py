"""The HTML writer: one file that needs nothing else, neither script nor anything fetched.

On a narrow screen every row of a table becomes a card; on paper a section begins a page.
"""

from html import escape

from snapline_service.sheets.code import code
from snapline_service.sheets.document import Blank, Block, Cell, Column, Section, SheetDocument, Statements
from snapline_service.sheets.drawing import Drawing
from snapline_service.sheets.foot import BY_HAND
from snapline_service.sheets.lengths import UNIT_NAMES
from snapline_service.sheets.lettering import tidy
from snapline_service.sheets.pages import PaperSize, plan_drawing
from snapline_service.sheets.svg import to_svg

_CODE_MM = 32.0
_SHORT_SHARE = 0.2  # columns below it keep their cells on one line
_PAPERS: dict[PaperSize, str] = {"a4": "A4", "letter": "letter"}
_TICK, _LINE = '<span class="tick"></span>', '<span class="line"></span>'
_STYLE = """
@page{size:PAPER portrait;margin:12mm 10mm 12mm 20mm}
*{box-sizing:border-box}
html{color:#000;background:#fff;font:16px/1.4 Helvetica,Arial,'Liberation Sans',sans-serif;
-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0 auto;padding:.5rem;max-width:190mm;overflow-wrap:break-word}
h1{font-size:1.5rem;margin:.5rem 0 0}
h2{font-size:1.25rem;margin:1rem 0 .5rem}
h3{font-size:1rem;margin:1rem 0 .25rem}
p,ul,dl{margin:.25rem 0}
ul{padding-left:1.2rem}
li{margin:.15rem 0}
.banner{border:2px solid #000;font-size:1.5rem;font-weight:bold;text-align:center;margin:0 0 .25rem}
.stop{border:4px solid #000;padding:.25rem .75rem;margin:.5rem 0;font-size:1.25rem;font-weight:bold}
.stop h3{font-size:2rem;margin:0}
.stop ul{list-style:none;padding:0}
section+section{border-top:2px solid #000;margin-top:2rem}
svg{display:block;width:100%;height:auto}
.foot{display:flex;flex-wrap:wrap;gap:.5rem 1.5rem;margin-top:1rem}
.code{flex:0 0 CODEmm}
.tick{display:inline-block;width:1.1em;height:1.1em;border:1px solid #000}
.line{display:inline-block;width:12rem;max-width:100%;height:1.6em;border-bottom:1px solid #000}
table{border-collapse:collapse;width:100%}
caption{text-align:left;font-weight:bold;padding:.75rem 0 .25rem}
th,td{border:1px solid #000;padding:.2rem .4rem;text-align:left;vertical-align:top;font-size:1rem}
td.figure{font-weight:bold}
td.short{white-space:nowrap}
td.blank{min-width:5rem;height:2.2rem;vertical-align:bottom;text-align:right}
td:last-child.blank{min-width:3.5rem}
.part{display:flex;gap:.25rem;align-items:baseline;min-width:6rem}
.part i{flex:1;height:1.6em;border-bottom:1px solid #000}
dl{display:grid;grid-template-columns:max-content 1fr;gap:0 .75rem}
dt{font-weight:bold}
dd{margin:0}
.note{font-size:1rem}
@media (max-width:620px){
table,caption,tbody,tr,td{display:block;width:100%}
thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
tr{border:1px solid #000;margin:0 0 .5rem;padding:.2rem .4rem}
td{border:0;border-bottom:1px dotted #000;padding:.15rem 0;display:flex;gap:.75rem;align-items:baseline}
td:last-child{border-bottom:0}
td::before{content:attr(data-heading);flex:0 0 34%;text-align:left;font-weight:normal}
td.short{white-space:normal}
td.blank{height:auto;min-height:2rem;min-width:0;align-items:end;justify-content:space-between}
td:first-child{font-weight:bold}
dl{grid-template-columns:1fr}
}
@media print{
html{font-size:9.5pt}
body{max-width:none;padding:0}
section+section{border:0;margin:0;break-before:page}
tr,.stop,svg,dl{break-inside:avoid}
h3,caption{break-after:avoid}
}
"""


def to_html(document: SheetDocument, paper: PaperSize = "a4") -> str:
    """Write a document as one self-contained file. Raises ``InvalidValue`` as ``pages`` does."""
    block = document.title_block
    title = _text(f"{block.title} – {block.supplementary_title}")
    style = _STYLE.replace("PAPER", _PAPERS[paper]).replace("CODEmm", f"{_CODE_MM:g}mm")
    banners = "".join(f'<p class="banner">{_text(banner)}</p>' for banner in document.banners)
    sections = "\n".join(
        _section(document, section, number) for number, section in enumerate(document.sections, 1)
    )
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{style}</style></head>\n<body>\n{banners}\n"
        f"<h1>{_text(block.title)}</h1>\n<p>{_text(block.supplementary_title)}</p>\n{sections}\n</body></html>\n"
    )


def _section(document: SheetDocument, section: Section, number: int) -> str:
    plan = plan_drawing(document, section)
    # Printed by itself a page still says what it is about; the first stands below banner and vehicle anyway.
    banners = "".join(f'<p class="banner">{_text(banner)}</p>' for banner in document.banners)
    again = f"{banners}<p>{_text(document.title_block.title)}</p>" if number > 1 else ""
    parts = [
        again,
        f"<h2>{_text(section.title)}</h2>",
        to_svg(plan, hatch=f"hatch-{number}") if plan else "",
        *map(_block, section.blocks),
        _foot(document, section, number),
    ]
    return "<section>\n" + "\n".join(part for part in parts if part) + "\n</section>"


def _block(block: Block) -> str:
    if isinstance(block, Statements):
        return _statements(block)
    if not block.rows:
        return ""
    total = sum(column.share for column in block.columns)
    short = [column.share < total * _SHORT_SHARE for column in block.columns]
    heads = "".join(f"<th>{_text(column.heading)}</th>" for column in block.columns)
    rows = "\n".join(
        "<tr>"
        + "".join(
            _cell(cell, column, is_short=is_short)
            for cell, column, is_short in zip(row, block.columns, short, strict=True)
        )
        + "</tr>"
        for row in block.rows
    )
    note = f'<p class="note">{_text(block.note)}</p>' if block.note else ""
    return (
        f"<table><caption>{_text(block.title)}</caption><thead><tr>{heads}</tr></thead>\n"
        f"<tbody>{rows}</tbody></table>{note}"
    )


def _statements(block: Statements) -> str:
    if not block.texts:
        return ""
    texts = "".join(f"<li>{_text(text)}</li>" for text in block.texts)
    whole = f"<h3>{_text(block.title)}</h3><ul>{texts}</ul>"
    return f'<div class="stop">{whole}</div>' if block.weight == "stop" else whole


def _cell(cell: Cell, column: Column, *, is_short: bool) -> str:
    kinds = [kind for kind, is_so in (("figure", column.is_figure), ("short", is_short)) if is_so]
    heading = f' data-heading="{_text(column.heading)}"'
    if isinstance(cell, Blank):
        return f'<td class="blank"{heading}>{_blank(cell)}</td>'
    names = f' class="{" ".join(kinds)}"' if kinds else ""
    return f"<td{names}{heading}>{_text(cell)}</td>"


def _blank(blank: Blank) -> str:
    unit = _text(blank.unit)
    if not blank.parts:
        return _TICK if blank.tick else unit
    fields = (f'<span class="part">{_text(name)}<i></i>{unit}</span>' for name in blank.parts)
    return f"<span>{''.join(fields)}</span>"


def _foot(document: SheetDocument, section: Section, number: int) -> str:
    block = document.title_block
    fields = (
        ("Legal owner", block.legal_owner),
        ("Document type", block.document_type),
        ("Identification number", block.identification_number),
        ("Revision", block.revision),
        ("Date of issue", block.date_of_issue),
        ("Dimensions in", UNIT_NAMES[document.units]),
        ("Part", f"{number} of {len(document.sections)}"),
    )
    listed = "".join(f"<dt>{name}</dt><dd>{_text(value)}</dd>" for name, value in fields if value)
    listed += "".join(f"<dt>{name}</dt><dd>{_LINE}</dd>" for name in BY_HAND)
    drawing = Drawing(_CODE_MM, _CODE_MM, (code(section.code, (0.0, 0.0), _CODE_MM),), "Code", section.code)
    printed = to_svg(drawing, hatch=f"hatch-code-{number}")
    return (
        f'<div class="foot"><dl>{listed}</dl><div class="code">{printed}</div></div>\n'
        f'<p class="note">{_text(section.code)}</p>'
    )


def _text(text: str) -> str:
    return escape(tidy(text))
