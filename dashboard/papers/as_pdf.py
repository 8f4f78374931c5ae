"""A paper as PDF, made here and offline: the same paper gives the same bytes.

The font is in ``fonts/``: Latin, Greek and Cyrillic letters. Letters that it lacks are shown as a
question mark, and the last line says so; the HTML form has them all.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, A6
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    PageTemplate,
    Paragraph,
)
from reportlab.platypus import Table as Grid

from ..theme import PRINT
from .drawing import LABEL_PT, Area, Dot, Drawing, Label, Points, Stroke
from .paper import Block, Chart, Paper, Section, Table, Words
from .tagging import Part, Structure, TableTags, TaggedCanvas

_FONTS: Final = {"Paper": "roboto-regular.ttf", "Paper-Strong": "roboto-bold.ttf"}
#: Page, margin and size of the words. [pt]
_SIZES: Final = {"A4": (A4, 48.0, 9.5), "A6": (A6, 20.0, 8.0)}
#: Fewer lines than this of a table or of words do not begin at the foot of a page.
_LINES_MIN: Final = 4
_LACKING: Final = ("Letters that this form's font lacks are shown as a question mark; the HTML "
                   "form has them.")


def as_pdf(paper: Paper) -> bytes:
    """The document, searchable, with title and language, tagged for screen readers."""
    return _Setting(paper).made()


def _register() -> dict[str, set[int]]:
    """Fonts by name, and the letters that they have."""
    folder = Path(__file__).parent / "fonts"
    for name, file in _FONTS.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    return {name: set(pdfmetrics.getFont(name).face.charToGlyph) for name in _FONTS}


class _Setting:
    """One pass from blocks to pages."""

    def __init__(self, paper: Paper) -> None:
        self.paper = paper
        self.page, self.margin, self.body_pt = _SIZES[paper.size]
        self.width = self.page[0] - 2 * self.margin
        self._has = _register()["Paper"]
        self._is_lacking = False
        self._structure = Structure()

    def made(self) -> bytes:
        paper, out = self.paper, io.BytesIO()
        story = [self._words(paper.title, 1.8, strong=True, kind="H1"),
                 self._words(paper.under, 0.9)]
        for section in paper.sections:
            story += self._section(section)
        if self._is_lacking:
            story.append(self._words(_LACKING, 0.9))
        foot_pt = self.body_pt * 3.2
        frame = Frame(self.margin, self.margin + foot_pt, self.width,
                      self.page[1] - 2 * self.margin - foot_pt, 0, 0, 0, 0)
        document = BaseDocTemplate(
            out, pagesize=self.page, title=self._known(paper.title), author="", subject=self._known(
                paper.under), creator="packhand", producer="packhand", lang="en", invariant=1,
            pageCompression=1)
        document.addPageTemplates(PageTemplate("page", [frame], onPage=self._margins))
        document.build(story, canvasmaker=self._canvas)
        return out.getvalue()

    def _canvas(self, *arguments: Any, **named: Any) -> TaggedCanvas:
        canvas = TaggedCanvas(*arguments, **named)
        canvas.structure = self._structure
        canvas.setViewerPreference("DisplayDocTitle", "true")
        return canvas

    def _margins(self, canvas: Any, document: Any) -> None:
        """Banner and foot of every page."""
        self._structure.begin_for_eyes(canvas)
        canvas.saveState()
        canvas.setFont("Paper", self.body_pt * 0.75)
        canvas.setFillColor(colors.HexColor(PRINT["muted"]))
        canvas.drawString(self.margin, self.margin * 0.55, self._known(self.paper.foot))
        canvas.drawRightString(self.margin + self.width, self.margin * 0.55, str(document.page))
        if self.paper.banner:
            canvas.setFont("Paper-Strong", self.body_pt * 0.85)
            canvas.setFillColor(colors.HexColor(PRINT["ink"]))
            canvas.drawString(self.margin, self.margin + self.body_pt * 0.6,
                              self._known(self.paper.banner))
        canvas.restoreState()
        self._structure.end_for_eyes(canvas)

    def _section(self, section: Section) -> list[Flowable]:
        told = [flowable for block in section.blocks for flowable in self._block(block)]
        if not section.heading:
            return told
        size = self.body_pt * 1.25
        heading = self._words(section.heading, 1.25, strong=True, before=size, kind="H2")
        room = self._room(section.blocks[0]) if section.blocks else 0.0
        return [CondPageBreak(room + 3 * size), heading, *told]

    def _room(self, block: Block) -> float:
        """What a block wants to be begun on a page. [pt]"""
        line = self.body_pt * 1.6
        if isinstance(block, Chart):
            return float(block.drawing.height * self.width / block.drawing.width + 2 * line)
        return _LINES_MIN * line

    def _block(self, block: Block) -> list[Flowable]:
        if isinstance(block, Words):
            lead = "Caution. " if block.tone == "caution" else ""
            scale = {"sentence": 1.3, "small": 0.88}.get(block.tone, 1.0)
            return [self._words(lead + block.words, scale, strong=block.tone == "caution")]
        if isinstance(block, Chart):
            return [KeepTogether([
                _Picture(block.drawing, self.width, self._known, self._structure),
                self._words(block.caption, 0.88)])]
        caption = ([self._words(block.caption, 0.88, before=self.body_pt * 0.8)] if block.caption
                   else [])
        return [CondPageBreak(self._room(block)), *caption, self._table(block)]

    def _table(self, table: Table) -> Flowable:
        scale = 0.62 if table.is_small else 0.9
        cell = partial(self._words, scale=scale, before=0.0, kind="")
        shares = table.widths or (1.0,) * len(table.heads)
        widths = [self.width * share / sum(shares) for share in shares]
        rows = [[cell(words, strong=True) for words in table.heads],
                *([cell(words) for words in row] for row in table.rows)]
        rule, ink = colors.HexColor(PRINT["grid"]), colors.HexColor(PRINT["ink"])
        return Grid(rows, widths, repeatRows=1, hAlign="LEFT", spaceAfter=self.body_pt,
                    renderCB=TableTags(self._structure), style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 5), ("TOPPADDING", (0, 0), (-1, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2), ("LINEBELOW", (0, 0), (-1, 0), 0.8, ink),
            ("LINEBELOW", (0, 1), (-1, -1), 0.4, rule)])

    def _words(self, words: str, scale: float = 1.0, *, strong: bool = False,
               before: float | None = None, kind: str = "P") -> Paragraph:
        size = self.body_pt * scale
        style = ParagraphStyle(
            "words", fontName="Paper-Strong" if strong else "Paper", fontSize=size,
            leading=size * 1.35, spaceBefore=size * 0.35 if before is None else before,
            textColor=colors.HexColor(PRINT["ink"]), splitLongWords=1)
        told = _Told(escape(self._known(words)), style)
        told.structure, told.part = self._structure, Part(kind) if kind else None
        return told

    def _known(self, words: str) -> str:
        """The words with a question mark for each letter that the font lacks."""
        words = unicodedata.normalize("NFC", words.replace("→", "to"))
        known = "".join(c if ord(c) in self._has or c == "\n" else "?" for c in words)
        self._is_lacking |= known != words
        return known


class _Told(Paragraph):  # type: ignore[misc]
    """A paragraph that says what it is; its halves on two pages are one part."""

    structure: Structure
    #: ``None`` where it belongs to what is around it.
    part: Part | None

    def split(self, width: float, height: float) -> list[Flowable]:
        halves: list[Flowable] = super().split(width, height)
        for half in halves:
            half.structure, half.part = self.structure, self.part
        return halves

    def draw(self) -> None:
        self.blPara.lines = [_ended(line) for line in self.blPara.lines]
        with self.structure.drawn(self.canv, self.part):
            super().draw()


def _ended(line: Any) -> Any:
    """A line of a paragraph with a space after it, or two lines would be read as one word."""
    if isinstance(line, tuple):
        room, words = line
        return room, [*words, ""]
    line.words[-1].text += " "  # a line that reportlab has made of pieces
    return line


class _Picture(Flowable):  # type: ignore[misc]
    """A drawing, scaled to the width of the page."""

    def __init__(self, drawing: Drawing, width: float, known: Callable[[str], str],
                 structure: Structure) -> None:
        super().__init__()
        self.drawing, self.known, self.structure = drawing, known, structure
        self.scale = width / drawing.width
        self.width, self.height = width, drawing.height * self.scale

    def draw(self) -> None:
        """Called with the origin at the foot of the picture; y points up here."""
        told = f"{self.drawing.title}. {self.drawing.description}"
        with self.structure.drawn(self.canv, Part("Figure", self.known(told))):
            self._draw()

    def _draw(self) -> None:
        self.canv.scale(self.scale, -self.scale)
        self.canv.translate(0, -self.drawing.height)
        for part in self.drawing.parts:
            colour = colors.HexColor(PRINT[part.role])
            self.canv.setStrokeColor(colour)
            self.canv.setFillColor(colour)
            if isinstance(part, Stroke):
                self.canv.setLineWidth(part.width)
                self.canv.setDash([4, 3] if part.is_dashed else [])
                self.canv.drawPath(self._path(part.points), stroke=1, fill=0)
            elif isinstance(part, Area):
                self.canv.drawPath(self._path(part.points), stroke=0, fill=1)
            elif isinstance(part, Dot):
                self.canv.circle(part.x, part.y, part.radius, stroke=0, fill=1)
            else:
                self._label(part)

    def _path(self, points: Points) -> Any:
        path = self.canv.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        return path

    def _label(self, label: Label) -> None:
        self.canv.saveState()
        self.canv.translate(label.x, label.y)
        self.canv.scale(1, -1)
        self.canv.setFont("Paper", LABEL_PT)
        write = {"start": self.canv.drawString, "middle": self.canv.drawCentredString,
                 "end": self.canv.drawRightString}[label.anchor]
        write(0, 0, self.known(label.words))
        self.canv.restoreState()
