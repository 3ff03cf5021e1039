"""The sheet as PDF, A4 or Letter, by ReportLab; fonts are embedded."""

from __future__ import annotations

import io
from collections.abc import Sequence
from html import escape
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path
from typing import Any

import reportlab
from reportlab.lib import colors, pagesizes
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, Flowable, SimpleDocTemplate, Spacer
from reportlab.platypus import Paragraph as Text
from reportlab.platypus import Table as Grid

from ventplanner.sheet.html import png
from ventplanner.sheet.model import (
    Block,
    Disc,
    Figure,
    Figures,
    Heading,
    Line,
    Paragraph,
    Points,
    Shape,
    Sheet,
    Table,
    Word,
)
from ventplanner.sheet_parameters import Paper

PAPERS: dict[Paper, tuple[float, float]] = {"a4": pagesizes.A4, "letter": pagesizes.LETTER}

MARGIN, FOOT = 15 * mm, 18 * mm

SHORT = 90 * mm
"""A table that takes no more is not divided."""

LEAST_OF_TABLE = 45 * mm
"""A longer one begins on a page with so much room, its heading included, and else on the next."""

FONT, BOLD = "Sheet", "SheetBold"

BODY = ParagraphStyle("body", fontName=FONT, fontSize=9, leading=12.5, spaceAfter=4)
MUTED = ParagraphStyle("muted", BODY, textColor=colors.Color(0.35, 0.35, 0.35))
TITLE = ParagraphStyle("title", BODY, fontName=BOLD, fontSize=18, leading=22, spaceAfter=1)
STATE = ParagraphStyle("state", BODY, fontName=BOLD, fontSize=10, leading=14, spaceBefore=5, spaceAfter=4)
HEAD = ParagraphStyle("head", BODY, fontName=BOLD, fontSize=12, leading=15, spaceBefore=10, spaceAfter=4)
CELL = ParagraphStyle("cell", BODY, fontSize=8, leading=10.5, spaceAfter=0)
CELL_HEAD = ParagraphStyle("cellhead", CELL, fontName=BOLD, fontSize=7.5)
RIGHT = ParagraphStyle("right", CELL, alignment=TA_RIGHT)
RIGHT_HEAD = ParagraphStyle("righthead", CELL_HEAD, alignment=TA_RIGHT)
CAPTION = ParagraphStyle("caption", BODY, fontSize=7.5, leading=9.5, textColor=colors.Color(0.35, 0.35, 0.35))
POINT = ParagraphStyle("point", BODY, leftIndent=12, bulletIndent=2, spaceAfter=3)


def to_pdf(sheet: Sheet, paper: Paper = "a4") -> bytes:
    """The whole file; the same sheet makes the same bytes."""
    _fonts()
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out, pagesize=PAPERS[paper], leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN, bottomMargin=FOOT,
        title=sheet.title, author="ventplanner", subject=sheet.subtitle, invariant=True, lang="en",
    )  # fmt: skip
    room = PAPERS[paper][0] - 2 * MARGIN - 12  # the frame keeps 6 points on each side
    flow: list[Flowable] = [_text(sheet.title, TITLE), _text(sheet.subtitle, MUTED), _text(sheet.state, STATE)]
    for block, after in pairwise((*sheet.blocks, None)):
        if isinstance(block, Heading) and isinstance(after, Table) and not _is_short(after, room):
            flow += [CondPageBreak(LEAST_OF_TABLE), *_heading(block, 0)]
        elif block is not None:
            flow += _block(block, room)

    document.build(flow, canvasmaker=_footed(sheet, paper))
    return out.getvalue()


def _footed(sheet: Sheet, paper: Paper) -> type[Canvas]:
    """A canvas that writes at the foot of each page what page of how many it is, which is known at the end alone."""

    class Footed(Canvas):
        def __init__(self, *args: Any, **more: Any) -> None:
            super().__init__(*args, **more)
            self._pages: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - ReportLab's name
            self._pages.append(dict(self.__dict__))
            self._startPage()  # type: ignore[attr-defined]  # as ReportLab's own way to count pages

        def save(self) -> None:
            for number, page in enumerate(self._pages, start=1):
                self.__dict__.update(page)
                _foot(self, sheet, PAPERS[paper][0], f"page {number} of {len(self._pages)}")
                super().showPage()
            super().save()

    return Footed


def _foot(canvas: Canvas, sheet: Sheet, width: float, page: str) -> None:
    canvas.setFont(FONT, 7)
    canvas.setFillGray(0.35)
    left, room = MARGIN + 6, width - 2 * (MARGIN + 6)
    where = f"{_fitted(sheet.title, 0.3 * room)}, {page}"
    canvas.drawRightString(left + room, 10 * mm, where)
    canvas.drawString(left, 10 * mm, _fitted(sheet.foot, room - 12.0 - pdfmetrics.stringWidth(where, FONT, 7)))


def _fitted(text: str, room: float) -> str:
    """As much of a text as there is room for, at the size of the foot."""
    text = _known(text)
    if pdfmetrics.stringWidth(text, FONT, 7) <= room:
        return text
    while text and pdfmetrics.stringWidth(f"{text}…", FONT, 7) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"


def _fonts() -> None:
    """DejaVu, which comes with matplotlib, which PyVista brings: it has the letters of most alphabets. Without it the
    fonts of ReportLab, which it grew from: they have those of western Europe."""
    if FONT in pdfmetrics.getRegisteredFontNames():
        return
    own = Path(reportlab.__file__).parent / "fonts"
    found = find_spec("matplotlib")  # it is found, not loaded
    rich = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" if found is not None and found.origin else own
    for name, files in ((FONT, (rich / "DejaVuSans.ttf", own / "Vera.ttf")),
                        (BOLD, (rich / "DejaVuSans-Bold.ttf", own / "VeraBd.ttf"))):  # fmt: skip
        pdfmetrics.registerFont(TTFont(name, str(next(file for file in files if file.exists()))))


def _known(text: str) -> str:
    """What the font has no letter for becomes a question mark: names of files may hold anything."""
    face: Any = pdfmetrics.getFont(FONT)
    letters = face.face.charToGlyph
    return "".join(c if ord(c) in letters else "?" for c in text)


def _text(text: str, style: ParagraphStyle, **more: Any) -> Text:
    return Text(escape(_known(text)), style, **more)


def _block(block: Block, room: float) -> Sequence[Flowable]:
    match block:
        case Heading():
            return _heading(block, 1)
        case Paragraph(text, is_muted):
            return [_text(text, MUTED if is_muted else BODY)]
        case Points(sentences, ticks):
            return _ticks(sentences, room) if ticks else [_text(s, POINT, bulletText="–") for s in sentences]
        case Table():
            return [_whole(block, room), Spacer(1, 6)]
        case Figures(figures):
            return _rows(figures, room)


def _heading(heading: Heading, keep: int) -> list[Flowable]:
    """keep: whether it stays with all of what comes next."""
    shown: list[Flowable] = [_text(heading.text, ParagraphStyle("head", HEAD, keepWithNext=keep))]
    if heading.about:
        shown.append(_text(heading.about, ParagraphStyle("about", MUTED, keepWithNext=keep)))
    return shown


class _Box(Flowable):
    """A box to tick off."""

    def __init__(self) -> None:
        super().__init__()
        self.width = self.height = 10.0

    def draw(self) -> None:
        self.canv.setLineWidth(0.8)
        self.canv.rect(0, 1, 8.5, 8.5)


def _ticks(sentences: tuple[str, ...], room: float) -> list[Flowable]:
    rows: list[list[Any]] = [[_Box(), _text(text, BODY)] for text in sentences]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("LEFTPADDING", (0, 0), (0, -1), 2),
    ]
    style += [("TOPPADDING", (0, 0), (0, -1), 3), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]
    return [Grid(rows, colWidths=[18, room - 18], style=style), Spacer(1, 4)]


def _is_short(table: Table, room: float) -> bool:
    return bool(_grid(table, room, []).wrap(room, SHORT)[1] <= SHORT)


def _whole(table: Table, room: float) -> Grid:
    return _grid(table, room, [("NOSPLIT", (0, 0), (-1, -1))] if _is_short(table, room) else [])


def _grid(table: Table, room: float, more: list[Any]) -> Grid:
    def cell(text: str, k: int, plain: ParagraphStyle, right: ParagraphStyle) -> Text:
        return _text(text, right if k in table.right else plain)

    head = [cell(text, k, CELL_HEAD, RIGHT_HEAD) for k, text in enumerate(table.header)]
    rows = [[cell(text, k, CELL, RIGHT) for k, text in enumerate(row)] for row in table.rows]
    style: list[Any] = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.6, colors.black),
        ("LINEBELOW", (0, 1), (-1, -1), 0.25, colors.Color(0.72, 0.72, 0.72)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 7),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    return Grid([head, *rows], colWidths=_widths(table, room), style=[*style, *more], repeatRows=1, hAlign="LEFT")


def _widths(table: Table, room: float) -> list[float]:
    """As wide as the longest cell; those that may wrap share what is left."""
    need = []
    for k, head in enumerate(table.header):
        cells = [pdfmetrics.stringWidth(_known(row[k]), FONT, 8) for row in table.rows]
        need.append(max([pdfmetrics.stringWidth(head, BOLD, 7.5), *cells]) + 8.5)
    fixed = sum(w for k, w in enumerate(need) if k not in table.wide)
    wide = sum(w for k, w in enumerate(need) if k in table.wide)
    left = room - fixed
    if wide > left > 0.0:
        return [w if k not in table.wide else left * w / wide for k, w in enumerate(need)]
    over = sum(need) / room
    return [w / over for w in need] if over > 1.0 else need


class _Drawing(Flowable):
    """A figure, drawn as it is described."""

    def __init__(self, figure: Figure) -> None:
        super().__init__()
        self.figure = figure
        self.width, self.height = figure.width * mm, figure.height * mm

    def draw(self) -> None:
        canvas = self.canv
        canvas.saveState()
        canvas.translate(0, self.height)
        canvas.scale(mm, mm)
        if self.figure.pixels is not None:
            image = ImageReader(io.BytesIO(png(self.figure.pixels)))
            canvas.drawImage(image, 0, -self.figure.height, self.figure.width, self.figure.height)
        for shape in self.figure.shapes:
            _draw(canvas, shape)
        canvas.restoreState()


def _draw(canvas: Canvas, shape: Shape) -> None:
    match shape:
        case Line(points, shade, width, dash):
            canvas.setStrokeGray(shade)
            canvas.setLineWidth(width)
            canvas.setDash(*((list(dash), 0) if dash else ([], 0)))
            canvas.drawPath(_path(canvas, points), stroke=1, fill=0)
        case Disc((x, y), radius, shade, edge):
            canvas.setDash([], 0)
            canvas.setFillGray(shade)
            canvas.setStrokeGray(edge)
            canvas.setLineWidth(0.25)
            canvas.circle(x, -y, radius, stroke=1, fill=1)
        case Word((x, y), text, size, shade, anchor, bold):
            canvas.setFillGray(shade)
            canvas.setFont(BOLD if bold else FONT, size * 0.92)
            put = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
            put[anchor](x, -y, _known(text))


def _path(canvas: Canvas, points: tuple[tuple[float, float], ...]) -> Any:
    path = canvas.beginPath()
    path.moveTo(points[0][0], -points[0][1])
    for x, y in points[1:]:
        path.lineTo(x, -y)
    return path


def _rows(figures: tuple[Figure, ...], room: float) -> list[Flowable]:
    """Figures side by side with their captions, in rows that stay together."""
    rows: list[list[Figure]] = []
    gap = 4 * mm
    for figure in figures:
        wide = sum(f.width * mm + gap for f in rows[-1]) if rows else room
        if not rows or wide + figure.width * mm > room + 1.0:
            rows.append([])
        rows[-1].append(figure)
    made: list[Flowable] = []
    for row in rows:
        cells: list[list[Any]] = [[_Drawing(f) for f in row], [_text(f.caption, CAPTION) for f in row]]
        style: list[Any] = [
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), gap),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ]
        style += [("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]
        style += [("NOSPLIT", (0, 0), (-1, -1))]
        made.append(Grid(cells, colWidths=[f.width * mm + gap for f in row], style=style, hAlign="LEFT"))
        made.append(Spacer(1, 4))
    return made
