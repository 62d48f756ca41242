"""A diff as a page that needs nothing else: no script, nothing fetched."""

from html import escape
from itertools import groupby

from snapline.wire.diffs import Diff, DiffItem

_STYLE = """
html{color:#000;background:#fff;font:16px/1.4 Helvetica,Arial,sans-serif}
body{margin:0 auto;padding:.5rem;max-width:50rem;overflow-wrap:break-word}
h1{font-size:1.5rem}h2{font-size:1.1rem;margin:1.2rem 0 .3rem}
ul{margin:.25rem 0;padding-left:1.2rem}li{margin:.25rem 0}
"""


def page(diff: Diff) -> str:
    """Return the whole page, a heading for each document."""
    title = f"What differs: {diff.before} → {diff.after}"
    told = f"Documents that differ: {diff.documents}."
    if diff.documents_shown < diff.documents:
        told += f" The first {diff.documents_shown} are shown."
    parts = [_document(list(group)) for _, group in groupby(diff.items, lambda item: (item.kind, item.name))]
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{_STYLE}</style></head>\n<body><h1>{escape(title)}</h1><p>{escape(told)}</p>\n"
        f"{''.join(parts)}</body></html>\n"
    )


def _document(items: list[DiffItem]) -> str:
    heading = f"{items[0].kind} {items[0].name}"
    lines = "".join(f"<li>{escape(item.text)}</li>" for item in items)
    return f"<h2>{escape(heading)}</h2>\n<ul>{lines}</ul>\n"
