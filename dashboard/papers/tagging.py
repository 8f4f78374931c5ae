"""What the parts of a PDF are, for screen readers: headings, paragraphs, tables, pictures.

reportlab draws and knows nothing of structure. Here each part is marked while it is drawn, and
the tree of parts is laid into the document before it is written (ISO 32000-1:2008, 14.6 to 14.8).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Final

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFString, PDFtrue
from reportlab.pdfgen.canvas import Canvas

#: A marked stretch of drawing: page, counted from 0, and its number on that page.
Mark = tuple[int, int]
#: Drawn for the eye alone: rules, the foot, a table's heads again on its next page.
_ARTIFACT: Final = "/Artifact BMC"


@dataclass(slots=True)
class Part:
    """One part of the document, with what lies in it in the order of reading."""

    #: A standard structure type, such as ``H1``, ``P``, ``TH``.
    kind: str
    #: Read out in place of a picture.
    instead: str = ""
    #: What a ``TH`` heads: ``Row`` or ``Column``.
    scope: str = ""
    inside: list[Part | Mark] = field(default_factory=list)


class Structure:
    """The tree of one document, grown while it is drawn."""

    def __init__(self) -> None:
        self._open = [Part("Document")]
        #: The part that each mark of each page belongs to.
        self._pages: dict[int, list[Part]] = {}
        self._is_for_eyes = False

    def begin(self, part: Part) -> None:
        """What is drawn from here on lies in this part; one already begun goes on."""
        if not any(known is part for known in self._open[-1].inside):
            self._open[-1].inside.append(part)
        self._open.append(part)

    def end(self) -> None:
        """The part that was begun last is over."""
        self._open.pop()

    @contextmanager
    def drawn(self, canvas: Any, part: Part | None = None) -> Iterator[None]:
        """What is drawn meanwhile is ``part``, or belongs to the part that is open."""
        if self._is_for_eyes:
            yield
            return
        if part:
            self.begin(part)
        owner, page = self._open[-1], canvas.getPageNumber() - 1
        marks = self._pages.setdefault(page, [])
        owner.inside.append((page, len(marks)))
        _operator(canvas, f"/{owner.kind} <</MCID {len(marks)}>> BDC")
        marks.append(owner)
        yield
        _operator(canvas, "EMC")
        if part:
            self.end()

    def begin_for_eyes(self, canvas: Any) -> None:
        """What follows says nothing to whoever cannot see it."""
        self._is_for_eyes = True
        _operator(canvas, _ARTIFACT)

    def end_for_eyes(self, canvas: Any) -> None:
        self._is_for_eyes = False
        _operator(canvas, "EMC")

    def lay_into(self, document: Any) -> None:
        """Write the tree into a reportlab document whose pages are all drawn."""
        refer, pages = document.Reference, document.Pages.pages
        names: dict[int, Any] = {}
        root = PDFDictionary({"Type": PDFName("StructTreeRoot")})
        top = _as_object(self._open[0], refer(root), document, names)
        root["K"] = top
        numbers: list[Any] = []
        for number, marks in sorted(self._pages.items()):
            numbers += [number, refer(PDFArray([names[id(part)] for part in marks]))]
            pages[number].__NoDefault__ = [*pages[number].__NoDefault__, "StructParents", "Tabs"]
            pages[number].StructParents, pages[number].Tabs = number, PDFName("S")
        root["ParentTree"] = refer(PDFDictionary({"Nums": PDFArray(numbers)}))
        document.Catalog.StructTreeRoot = root
        document.Catalog.MarkInfo = PDFDictionary({"Marked": PDFtrue})


class TableTags:
    """Told by a reportlab table of each row and cell that it draws, on one page or on several."""

    def __init__(self, structure: Structure) -> None:
        self._structure, self._table = structure, Part("Table")
        self._pieces = 0

    def __call__(self, table: Any, moment: str, *told: Any) -> None:
        handle = getattr(self, f"_{moment}", None)
        if handle:
            handle(table.canv, *told)

    def _startTable(self, _: Any) -> None:  # noqa: N802 - named by reportlab
        self._pieces += 1
        self._structure.begin(self._table)

    def _endTable(self, _: Any) -> None:  # noqa: N802
        self._structure.end()

    def _startRow(self, canvas: Any, row: int) -> None:  # noqa: N802
        self._is_again = row == 0 and self._pieces > 1
        if self._is_again:
            self._structure.begin_for_eyes(canvas)
        else:
            self._structure.begin(Part("TR"))

    def _endRow(self, canvas: Any) -> None:  # noqa: N802
        if self._is_again:
            self._structure.end_for_eyes(canvas)
        else:
            self._structure.end()

    def _startCell(self, _: Any, row: int, column: int, *__: Any) -> None:  # noqa: N802
        if not self._is_again:
            scope = "Column" if row == 0 and self._pieces == 1 else "Row" if column == 0 else ""
            self._structure.begin(Part("TH" if scope else "TD", scope=scope))

    def _endCell(self, _: Any) -> None:  # noqa: N802
        if not self._is_again:
            self._structure.end()

    def _startLines(self, canvas: Any) -> None:  # noqa: N802
        self._structure.begin_for_eyes(canvas)

    def _endLines(self, canvas: Any) -> None:  # noqa: N802
        self._structure.end_for_eyes(canvas)


class TaggedCanvas(Canvas):  # type: ignore[misc]
    """A canvas whose document is written with the structure of what was drawn."""

    structure: Structure

    def save(self) -> None:
        self.structure.lay_into(self._doc)
        super().save()


def _operator(canvas: Any, words: str) -> None:
    canvas._code.append(words)  # reportlab offers no other way to mark content


def _as_object(part: Part, above: Any, document: Any, names: dict[int, Any]) -> Any:
    """A reference to the structure element of a part; ``names`` gets that of each part within."""
    found = PDFDictionary({"S": PDFName(part.kind), "P": above})
    names[id(part)] = own = document.Reference(found)
    marked = next((inside[0] for inside in part.inside if isinstance(inside, tuple)), None)
    pages = document.Pages.pages
    if marked is not None:
        found["Pg"] = document.Reference(pages[marked])
    if part.instead:
        found["Alt"] = PDFString(part.instead)
    if part.scope:
        found["A"] = PDFDictionary({"O": PDFName("Table"), "Scope": PDFName(part.scope)})
    found["K"] = PDFArray([
        _as_object(inside, own, document, names) if isinstance(inside, Part) else
        inside[1] if inside[0] == marked else
        PDFDictionary({"Type": PDFName("MCR"), "Pg": document.Reference(pages[inside[0]]),
                       "MCID": inside[1]})
        for inside in part.inside])
    return own
