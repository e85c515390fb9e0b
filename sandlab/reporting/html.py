"""A report as one HTML file that needs nothing else: no font, script, picture or style from outside."""

from __future__ import annotations

from html import escape
from itertools import count

from sandlab.reporting.pages import Block, Document, Heading, NewPage, Pictures, Table, Words

_STYLE = """
body { font: 14px/1.35 sans-serif; color: #111; background: #fff; margin: 0 auto; padding: 1rem;
  max-width: 62rem; }
header { display: flex; justify-content: space-between; align-items: baseline; border-bottom: 2px solid; }
h1 { font-size: 1.3rem; margin: 0; }
h2 { font-size: 1rem; margin: 1rem 0 .2rem; }
p { margin: .2rem 0; }
p.strong, tr.strong td { font-weight: bold; }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; border-bottom: 1px solid; }
td { border-bottom: 1px solid #bbb; vertical-align: top; white-space: pre-line; }
th, td { padding: .1rem .6rem .1rem 0; }
td:first-child { white-space: nowrap; }
th.n, td.n { text-align: right; }
.pictures { display: flex; gap: .5rem; flex-wrap: wrap; }
.pictures svg { flex: 1 1 20rem; height: auto; min-width: 0; max-width: 50%; }
footer { border-top: 1px solid; margin-top: 1rem; font-size: .85rem; }
@page { size: A4; margin: 12mm; }
@media (max-width: 40rem) { .pictures svg { max-width: 100%; } }
@media print {
  body { padding: 0; max-width: none; font-size: 9pt; }
  .new { break-before: page; }
  tr, .pictures { break-inside: avoid; }
  h2 { break-after: avoid; }
}
"""


def html_page(document: Document, *, language: str = "en") -> str:
    """The whole page as text."""
    parts = [
        "<!DOCTYPE html>",
        f'<html lang="{language}">',
        f'<head><meta charset="utf-8"><title>{escape(document.title)}, {escape(document.subtitle)}</title>',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<style>{_STYLE}</style></head>",
        "<body>",
        f"<header><h1>{escape(document.title)}</h1><div>{escape(document.subtitle)}</div></header>",
    ]
    numbers = count(1)
    for block in document.blocks:
        parts += _block(block, numbers)
    parts += [f"<footer>{escape(document.foot)}</footer>", "</body>", "</html>", ""]
    return "\n".join(parts)


def _block(block: Block, numbers: count[int]) -> list[str]:
    if isinstance(block, Heading):
        return [f"<h2>{escape(block.text)}</h2>"]
    if isinstance(block, Words):
        return [
            f'<p class="strong">{escape(block.text)}</p>' if block.strong else f"<p>{escape(block.text)}</p>"
        ]
    if isinstance(block, NewPage):
        return ['<div class="new"></div>']
    if isinstance(block, Pictures):
        return ['<div class="pictures">', *block.svgs, "</div>"]
    return _table(block)


def _table(table: Table) -> list[str]:
    classes = ['class="n"' if place in table.numbers else "" for place in range(len(table.heads))]
    heads = "".join(
        f"<th {kind}>{escape(head)}</th>" for head, kind in zip(table.heads, classes, strict=True)
    )
    parts = ["<table>", f"<thead><tr>{heads}</tr></thead>", "<tbody>"]
    for row in table.rows:
        cells = "".join(
            f"<td {kind}>{escape(cell)}</td>" for cell, kind in zip(row.cells, classes, strict=True)
        )
        parts.append(f'<tr class="strong">{cells}</tr>' if row.strong else f"<tr>{cells}</tr>")
    return [*parts, "</tbody>", "</table>"]
