"""The sheet as one HTML file that needs nothing else: drawings as SVG, pictures within it, print rules for A4 and
Letter."""

from __future__ import annotations

import base64
import io
from html import escape
from itertools import chain

from ventplanner.sheet.model import (
    Block,
    Disc,
    Figure,
    Figures,
    Heading,
    Line,
    Paragraph,
    Pixels,
    Points,
    Shape,
    Sheet,
    Table,
    Word,
)

STYLE = """
:root { color-scheme: light; }
body { font: 10.5pt/1.45 system-ui, sans-serif; color: #111; background: #fff; max-width: 186mm; margin: 8mm auto;
  padding: 0 4mm; overflow-wrap: anywhere; }
h1 { font-size: 20pt; margin: 0; } h2 { font-size: 13pt; margin: 9mm 0 2mm; border-bottom: .3mm solid #111; }
p { margin: 0 0 2mm; } .sub, .muted, figcaption, footer { color: #555; } .state { font-weight: 600; margin: 3mm 0; }
table { border-collapse: collapse; width: 100%; margin: 0 0 3mm; font-variant-numeric: tabular-nums; }
th { text-align: left; border-bottom: .2mm solid #111; font-size: 9pt; } td { border-bottom: .1mm solid #bbb;
  vertical-align: top; } th, td { padding: 1mm 3mm 1mm 0; } .r { text-align: right; }
  td:not(.w) { white-space: nowrap; }
.figures { display: flex; flex-wrap: wrap; gap: 4mm; } figure { margin: 0 0 2mm; break-inside: avoid; }
figcaption { font-size: 8.5pt; max-width: 88mm; } ul { margin: 0 0 3mm; padding-left: 5mm; }
ul.ticks { list-style: none; padding-left: 0; } ul.ticks li { padding-left: 7mm; position: relative; margin: 1.5mm 0; }
ul.ticks li::before { content: ""; position: absolute; left: 0; top: .8mm; width: 3.4mm; height: 3.4mm;
  border: .3mm solid #111; }
footer { margin-top: 8mm; font-size: 8.5pt; overflow-wrap: anywhere; }
@media print { body { margin: 0; padding: 0; } h2 { break-after: avoid; } tr, li { break-inside: avoid; } }
@page { margin: 14mm 12mm; }
"""


def to_html(sheet: Sheet) -> str:
    """The whole file."""
    body = "\n".join(chain.from_iterable(_block(block) for block in sheet.blocks))
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<title>{escape(sheet.title)}</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n<h1>{escape(sheet.title)}</h1>\n"
        f'<p class="sub">{escape(sheet.subtitle)}</p>\n<p class="state">{escape(sheet.state)}</p>\n{body}\n'
        f"<footer>{escape(sheet.foot)}</footer>\n</body>\n</html>\n"
    )


def _block(block: Block) -> list[str]:
    match block:
        case Heading(text, about):
            return [f"<h2>{escape(text)}</h2>"] + ([f'<p class="muted">{escape(about)}</p>'] if about else [])
        case Paragraph(text, is_muted):
            return [f"<p{' class=muted' if is_muted else ''}>{escape(text)}</p>"]
        case Points(sentences, ticks):
            items = [f"<li>{escape(text)}</li>" for text in sentences]
            return [f"<ul{' class=ticks' if ticks else ''}>", *items, "</ul>"]
        case Table():
            return _table(block)
        case Figures(figures):
            return ['<div class="figures">', *(_figure(figure) for figure in figures), "</div>"]


def _table(table: Table) -> list[str]:
    def cell(tag: str, k: int, text: str) -> str:
        names = [n for n, among in (("r", table.right), ("w", table.wide)) if k in among]
        kind = ' class="' + " ".join(names) + '"' if names else ""
        return f"<{tag}{kind}>{escape(text)}</{tag}>"

    head = "".join(cell("th", k, text) for k, text in enumerate(table.header))
    rows = ["<tr>" + "".join(cell("td", k, text) for k, text in enumerate(row)) + "</tr>" for row in table.rows]
    return ["<table>", f"<thead><tr>{head}</tr></thead>", "<tbody>", *rows, "</tbody>", "</table>"]


def _figure(figure: Figure) -> str:
    w, h = figure.width, figure.height
    inside = [f"<title>{escape(figure.told)}</title>"]
    if figure.pixels is not None:
        data = base64.b64encode(png(figure.pixels)).decode("ascii")
        inside.append(f'<image width="{w:g}" height="{h:g}" href="data:image/png;base64,{data}"/>')
    inside += [_svg(shape) for shape in figure.shapes]
    caption = f"<figcaption>{escape(figure.caption)}</figcaption>" if figure.caption else ""
    svg = f'<svg role="img" width="{w:g}mm" height="{h:g}mm" viewBox="0 0 {w:g} {h:g}">{"".join(inside)}</svg>'
    return f"<figure>{svg}{caption}</figure>"


def png(pixels: Pixels) -> bytes:
    """A grey picture as PNG."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "png", optimize=True)
    return out.getvalue()


def _svg(shape: Shape) -> str:
    match shape:
        case Line(points, shade, width, dash):
            more = f' stroke-dasharray="{dash[0]:g} {dash[1]:g}"' if dash else ""
            return (
                f'<polyline fill="none" stroke="{_grey(shade)}" stroke-width="{width:g}" stroke-linejoin="round"{more}'
                f' points="{_points(points)}"/>'
            )
        case Disc((x, y), radius, shade, edge):
            return (
                f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:g}" fill="{_grey(shade)}" stroke="{_grey(edge)}"'
                ' stroke-width="0.25"/>'
            )
        case Word((x, y), text, size, shade, anchor, bold):
            weight = ' font-weight="600"' if bold else ""
            return (
                f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" fill="{_grey(shade)}" text-anchor="{anchor}"'
                f' font-family="sans-serif"{weight}>{escape(text)}</text>'
            )


def _points(points: tuple[tuple[float, float], ...]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)


def _grey(shade: float) -> str:
    level = round(255 * shade)
    return f"#{level:02x}{level:02x}{level:02x}"
