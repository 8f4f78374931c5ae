"""Structure of the PDF papers: what a screen reader is told, and that nothing is left untold."""

from __future__ import annotations

import io
import re
from collections import Counter
from typing import Any

import pytest
from pypdf import PdfReader

from dashboard.papers.as_pdf import as_pdf
from dashboard.papers.drawing import Drawing, Label, Stroke
from dashboard.papers.paper import Chart, Paper, Section, Table, Words

#: More rows than fit one page.
ROWS = 90
#: Words that need a second page.
COUNT = 1500
DRAWING = Drawing(480, 60, "Volts", "Two volts, then three.",
                  (Stroke(((0, 0), (10, 10))), Label(5, 5, "2 V")))
PAPER = Paper("Health", "of a pack", (
    Section("Words", tuple(Words(f"Line {n} " + "and so on " * 30) for n in range(20))),
    Section("Figures", (Table("Days", ("Day", "Ah"), tuple(
        (str(n), f"{n} Ah") for n in range(ROWS))), Chart(DRAWING, "Volts of a day"))),
), banner="Invented data", foot="packhand")


@pytest.fixture(scope="module")
def reader() -> PdfReader:
    return PdfReader(io.BytesIO(as_pdf(PAPER)))


def kids(element: Any) -> list[Any]:
    found = element["/K"]
    return [each.get_object() for each in (found if isinstance(found, list) else [found])]


def elements(element: Any) -> list[Any]:
    """An element and all below it, in the order of reading."""
    inside = [kid for kid in kids(element) if not isinstance(kid, int) and "/S" in kid]
    return [element, *(each for kid in inside for each in elements(kid))]


def tree(reader: PdfReader) -> list[Any]:
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    return elements(kids(root["/StructTreeRoot"])[0])


def test_headings_words_tables_and_pictures_are_named(reader: PdfReader) -> None:
    """One H1, an H2 a section, a row a row though its table spans pages, a picture in words."""
    found = tree(reader)
    counts = Counter(element["/S"] for element in found)

    assert [e["/S"] for e in found][:4] == ["/Document", "/H1", "/P", "/H2"]
    assert counts["/H1"] == 1
    assert counts["/H2"] == 2
    assert counts["/P"] == 1 + 20 + 2
    assert counts["/Table"] == 1
    assert counts["/TR"] == 1 + ROWS
    assert counts["/TH"] == 2 + ROWS
    assert counts["/TD"] == ROWS
    assert [e["/Alt"] for e in found if e["/S"] == "/Figure"] == ["Volts. Two volts, then three."]


def test_heads_say_what_they_head(reader: PdfReader) -> None:
    """The first row heads columns, the first cell of each other row its row."""
    scopes = [e["/A"]["/Scope"] for e in tree(reader) if e["/S"] == "/TH"]

    assert scopes == ["/Column"] * 2 + ["/Row"] * ROWS


def test_every_mark_is_in_the_tree_and_back(reader: PdfReader) -> None:
    """Each marked stretch of each page belongs to one element, which the parent tree names."""
    parents = reader.trailer["/Root"]["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    by_page = {parents[n]: parents[n + 1].get_object() for n in range(0, len(parents), 2)}
    owned = Counter((page, mark) for page, mark, _ in marks_in(tree(reader), reader))

    for number, page in enumerate(reader.pages):
        told = list(map(int, re.findall(rb"/MCID (\d+)", page.get_contents().get_data())))
        assert told == list(range(len(told)))
        assert len(by_page[page["/StructParents"]]) == len(told)
        assert all(owned[number, mark] == 1 for mark in told)
    for page, mark, element in marks_in(tree(reader), reader):
        assert by_page[page][mark].get_object() == element


def marks_in(found: list[Any], reader: PdfReader) -> list[tuple[int, int, Any]]:
    numbers = {page.indirect_reference.idnum: n for n, page in enumerate(reader.pages)
               if page.indirect_reference}
    told = []
    for element in found:
        for kid in kids(element):
            if isinstance(kid, int):
                told.append((numbers[element.raw_get("/Pg").idnum], kid, element))
            elif kid.get("/Type") == "/MCR":
                told.append((numbers[kid.raw_get("/Pg").idnum], kid["/MCID"], element))
    return told


def test_marks_are_ended_and_nothing_is_drawn_outside(reader: PdfReader) -> None:
    """Marks are balanced, and no letter lies outside of one."""
    for page in reader.pages:
        depth = 0
        for operator in re.findall(rb"BDC|BMC|EMC|Tj", page.get_contents().get_data()):
            depth += {b"BDC": 1, b"BMC": 1, b"EMC": -1, b"Tj": 0}[operator]
            assert depth in (0, 1)
            assert operator != b"Tj" or depth == 1
        assert depth == 0


@pytest.mark.parametrize("word", ["and so on", "<Tom> & 'Jerry'", "a long\nline"])
def test_lines_of_a_paragraph_are_apart(word: str) -> None:
    """A word at the end of a line does not run into the next line's first, also where a paragraph
    goes on over the page."""
    paper = Paper("Health", "", (Section("", (Words(" ".join([word] * COUNT)),)),))
    reader = PdfReader(io.BytesIO(as_pdf(paper)))
    told = "".join(text for page in reader.pages for text in shown_in(page)
                   if text != "Health" and not text.isdigit())

    assert len(reader.pages) > 1
    assert told.split().count(word.split(maxsplit=1)[0]) == COUNT


def shown_in(page: Any) -> list[str]:
    """What each showing operator of a page shows."""
    found: list[str] = []

    def look(operator: bytes, operands: list[bytes], *_: object) -> None:
        if operator == b"Tj":
            found.append(operands[0].decode("latin-1"))

    page.extract_text(visitor_operand_before=look)
    return found
