"""Papers: what they hold, how they are set, and that the same logbook gives the same bytes."""

from __future__ import annotations

import hashlib
import io
import math
import re
import unicodedata
import zipfile
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from pypdf import PdfReader

from analysis.asking.book import Book
from analysis.asking.evidence import Evidence, Period, ask_evidence, period_of
from analysis.estimate import Estimate, NoEstimate
from analysis.season.spans import Span
from analysis.season.summary import Capacity
from collector.errors import LogbookError
from collector.logbook import Logbook
from dashboard.papers import sections
from dashboard.papers.as_html import as_html
from dashboard.papers.as_pdf import as_pdf
from dashboard.papers.bundle import write_bundle
from dashboard.papers.kinds import KINDS, against_warranty
from dashboard.papers.paper import Block, Chart, Paper, Table, Words
from dashboard.quantities import NBSP, Units
from dashboard.shell import INVENTED
from tests.dashboard.papers_book import CUT_OUT_LOG


@pytest.fixture(scope="module")
def evidence(papers_book: Logbook) -> Evidence:
    return ask_evidence(Book.open(papers_book.root), Period(log=CUT_OUT_LOG)).answer


def blocks_of(paper: Paper) -> list[Block]:
    return [block for section in paper.sections for block in section.blocks]


def words_of(paper: Paper) -> str:
    """Everything that a reader of the paper can read."""
    told = [paper.title, paper.under]
    for block in blocks_of(paper):
        if isinstance(block, Words):
            told.append(block.words)
        elif isinstance(block, Table):
            told += [block.caption, *block.heads, *(cell for row in block.rows for cell in row)]
        else:
            told += [block.caption, block.drawing.description]
    return " ".join(told).replace("\N{NO-BREAK SPACE}", " ")


def test_the_cut_out_stands_in_the_evidence(evidence: Evidence) -> None:
    """Too many amps need the typed limits, which the digests do not know."""
    assert [(c.log, c.cut.cause) for c in evidence.cut_outs] == [
        (f"{CUT_OUT_LOG}.parquet", "over_current")]


def test_logs_carry_their_fingerprint(evidence: Evidence, papers_book: Logbook) -> None:
    """Each SHA-256 is that of the file on disk."""
    for log in evidence.logs:
        data = (papers_book.logs_folder / log.log).read_bytes()
        assert hashlib.sha256(data).hexdigest() == log.sha256
        assert log.samples > 0


def test_a_period_holds_whole_days(papers_book: Logbook) -> None:
    """First and last day are both in; notes of other days are not."""
    found = ask_evidence(Book.open(papers_book.root), period_of("2026-04-16", "2026-04-16")).answer

    assert {log.log[:10] for log in found.logs} == {"2026-04-16"}
    assert [note.kind for note in found.notes] == ["part-changed", "joint-millivolts"]


def test_an_empty_period_is_told(papers_book: Logbook) -> None:
    """No paper is made of nothing."""
    with pytest.raises(LogbookError, match="no log of this pack in that period"):
        ask_evidence(Book.open(papers_book.root), period_of("2020-01-01", "2020-01-02"))


@pytest.mark.parametrize("log", ["../../etc/passwd", "2020-01-01T00-00-00Z", "logbook.toml"])
def test_only_a_listed_log_is_drawn(papers_book: Logbook, log: str) -> None:
    """A name is compared with the names that the logbook lists, never opened."""
    with pytest.raises(LogbookError, match="no log"):
        ask_evidence(Book.open(papers_book.root), Period(log=log))


@pytest.mark.parametrize("kind", KINDS)
def test_every_paper_says_whose_it_is_and_that_it_is_invented(evidence: Evidence,
                                                              kind: str) -> None:
    """The banner stands on every paper of an invented logbook, and none without it."""
    paper = KINDS[kind].make(evidence, Units())

    assert "flatbed main" in paper.title
    assert paper.banner == INVENTED
    assert KINDS[kind].make(replace(evidence, is_invented=False), Units()).banner == ""


@pytest.mark.parametrize("kind", ["health", "warranty", "sale"])
def test_a_paper_holds_what_evidence_needs(evidence: Evidence, kind: str) -> None:
    """Identity, method, instrument and check, ledger, what was not measured, hashes."""
    told = words_of(KINDS[kind].make(evidence, Units()))

    for part in ("105 Ah", "serial", "time zone", "19 times in 20", "minus means out of the pack",
                 "clamp No 4711", "Equivalent full cycles", "Days at the top",
                 "Largest amps out", "The inside of the pack", "212 A out for 11 s",
                 evidence.logs[0].sha256, str(evidence.logs[0].samples)):
        assert part in told, part


def test_nothing_is_said_to_be_measured_that_was_not(evidence: Evidence) -> None:
    """Two days give no capacity: the paper says so, and what would tell."""
    told = words_of(KINDS["health"].make(evidence, Units()))

    assert isinstance(evidence.season.capacity_now, NoEstimate)
    assert "cannot tell yet" in told
    assert "Leakage to the frame" in told
    assert "Joints and cables" not in told  # joint millivolts were noted


def test_the_help_paper_opens_with_the_cut_out(evidence: Evidence) -> None:
    """The moment, its cause, and the minute before and after."""
    paper = KINDS["help"].make(evidence, Units())
    first = blocks_of(paper)[0]
    chart = next(block for block in blocks_of(paper) if isinstance(block, Chart))

    assert isinstance(first, Words)
    assert "212\N{NO-BREAK SPACE}A out for 11\N{NO-BREAK SPACE}s" in first.words
    assert "16 April 2026" in first.words
    assert "08:27:39 to 08:29:39" in chart.drawing.description


@pytest.mark.parametrize(("held", "pct", "verdict"), [
    ((80.0, 78.0, 82.0), 80, "yes"), ((101.0, 99.0, 103.0), 80, "no"),
    ((84.0, 82.0, 86.0), 80, "cannot tell yet"), ((101.0, 99.0, 103.0), None, "cannot tell yet"),
])
def test_the_warranty_verdict_has_three_values(
        evidence: Evidence, held: tuple[float, float, float], pct: float | None,
        verdict: str) -> None:
    """80 % of 105 Ah is 84 Ah: below it, above it, or within the interval; none typed, none
    told."""
    season = replace(evidence.season, capacity_now=Estimate(*held, "Ah"))
    table = evidence.pack_table | ({"warranted_pct": pct} if pct else {})

    assert against_warranty(replace(evidence, season=season, pack_table=table))[0] == verdict


@pytest.mark.parametrize(("missing", "asked"), [
    ("rated_ah", "type its amp-hours under Pack & limits"),
    ("warranted_pct", "type its percent under Pack & limits"),
])
def test_a_warranty_paper_asks_for_what_is_not_typed(evidence: Evidence, missing: str,
                                                     asked: str) -> None:
    """One figure, and where it is typed."""
    season = replace(evidence.season, capacity_now=Estimate(101.0, 99.0, 103.0, "Ah"))
    table = {"rated_ah": 105, "warranted_pct": 80} | {missing: None}

    assert asked in against_warranty(replace(evidence, season=season, pack_table=table))[1]


class Tags(HTMLParser):
    """Names of the elements and the addresses in a document."""

    def __init__(self) -> None:
        super().__init__()
        self.names: list[str] = []
        self.addresses: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.append(tag)
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href")]


@pytest.mark.parametrize("kind", KINDS)
def test_html_is_one_file_without_scripts(evidence: Evidence, kind: str) -> None:
    """No script, no address, no markup from words; every chart has a description."""
    text = as_html(KINDS[kind].make(evidence, Units()))
    tags = Tags()
    tags.feed(text)

    assert "script" not in tags.names
    assert tags.addresses == []
    assert tags.names.count("svg") == tags.names.count("desc")
    assert tags.names.count("h1") == 1
    assert "@page" in text
    assert "<script>alert" not in text
    assert re.findall(r"https?://", text) == []


def test_odd_words_stay_words(evidence: Evidence) -> None:
    """What was typed appears as typed."""
    text = as_html(KINDS["health"].make(evidence, Units()))

    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; Ж" in text


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_logbook_gives_the_same_bytes(evidence: Evidence, papers_book: Logbook,
                                               kind: str) -> None:
    """Nothing of today's date, of this machine or of chance is in a paper."""
    again = ask_evidence(Book.open(papers_book.root), Period(log=CUT_OUT_LOG)).answer
    papers = [KINDS[kind].make(each, Units()) for each in (evidence, again)]

    assert as_html(papers[0]) == as_html(papers[1])
    assert as_pdf(papers[0]) == as_pdf(papers[1])


def test_pdf_can_be_searched_and_says_what_it_is(evidence: Evidence) -> None:
    """Text comes out again, with title and language; the banner stands on each page."""
    paper = KINDS["warranty"].make(evidence, Units())
    reader = PdfReader(io.BytesIO(as_pdf(paper)))
    pages = [page.extract_text() for page in reader.pages]

    assert reader.metadata is not None
    assert reader.metadata.title == paper.title
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert "212 A out for 11 s" in " ".join(" ".join(pages).split())
    assert all(INVENTED in page for page in pages)


NAMES = "Мария’s cart, Ελένη, Łódź, Nguyễn: −3 °C, ±2 Ω, ≥ 1"


def test_pdf_prints_names_of_many_languages(evidence: Evidence) -> None:
    """Latin with its marks, Greek and Cyrillic come out as typed, marks in either Unicode form."""
    paper = replace(KINDS["card"].make(evidence, Units()),
                    title=NAMES, under=unicodedata.normalize("NFD", "Grüße"))
    found = " ".join(text_of_pdf(paper).split())

    assert NAMES in found
    assert "Grüße" in found
    assert "font lacks" not in found


def test_pdf_says_which_letters_it_lacks(evidence: Evidence) -> None:
    """A letter that the font lacks is a question mark, and the last line says so."""
    found = " ".join(text_of_pdf(replace(KINDS["card"].make(evidence, Units()),
                                         title="電池 pack")).split())

    assert "?? pack" in found
    assert "shown as a question mark" in found


def text_of_pdf(paper: Paper) -> str:
    return "".join(page.extract_text() for page in PdfReader(io.BytesIO(as_pdf(paper))).pages)


def test_the_card_fits_one_page(evidence: Evidence) -> None:
    """It is taped to a dash: one page of A6."""
    paper = KINDS["card"].make(evidence, Units())
    reader = PdfReader(io.BytesIO(as_pdf(paper)))

    assert len(reader.pages) == 1
    assert float(reader.pages[0].mediabox.width) == pytest.approx(105 / 25.4 * 72, abs=0.5)
    assert "Minus amps flow out of the pack" in words_of(paper)


def test_the_card_works_with_own_figures(evidence: Evidence) -> None:
    """Hours are amp-hours over amps: 105 Ah at 35 A are 3 h; turning at half of what may go."""
    usual = evidence.usual
    assert not isinstance(usual, NoEstimate)
    told = words_of(KINDS["card"].make(replace(evidence, usual=replace(
        usual, usual_a=35.0, hard_a=70.0)), Units()))

    assert "35 A, usual 3 h 00 1 h 30 36 min" in told
    assert "70 A, hard pull 1 h 30 45 min 18 min" in told
    assert "turn at 55 % 45 % 35 % 25 %" in told


def test_the_bundle_proves_itself(evidence: Evidence, papers_book: Logbook) -> None:
    """Every file of the logbook is in it as it is, and SHA256SUMS holds for each; same bytes."""
    made = []
    for _ in range(2):
        out = io.BytesIO()
        write_bundle(out, "warranty", KINDS["warranty"].make(evidence, Units()), evidence)
        made.append(out.getvalue())
    with zipfile.ZipFile(io.BytesIO(made[0])) as archive:
        sums = dict(line.split("  ")[::-1] for line in
                    archive.read("SHA256SUMS").decode().splitlines())
        for name, digest in sums.items():
            assert hashlib.sha256(archive.read(name)).hexdigest() == digest
        assert archive.read("notes.csv") == papers_book.notes_path.read_bytes()

    assert made[0] == made[1]
    assert {"warranty.html", "warranty.pdf", "logbook.toml",
            f"logs/{CUT_OUT_LOG}.parquet"} <= sums.keys()


def test_capacities_are_listed_and_drawn(evidence: Evidence) -> None:
    """Each with its interval, how, how warm, and the log it ended in; the picture says the same."""
    start_s = evidence.season.start_s
    found = tuple(Capacity(Span("full test", start_s + day * 86400, f"{day}.parquet", 100.0, 0.2,
                                0.98, 0.004, celsius), Estimate.around(ah, 1.7, "Ah"))
                  for day, ah, celsius in ((0, 104.2, 21.0), (1, 101.9, math.nan)))
    season = replace(evidence.season, capacity=found,
                     capacity_now=Estimate.around(101.9, 1.7, "Ah"))
    paper = KINDS["health"].make(replace(evidence, season=season), Units(temperature="F"))
    told = words_of(paper)

    assert "The pack holds about 101.9 Ah of the 105 Ah on its label, between 100.2" in told
    assert "full test 104.2 102.5 to 105.9 69.8 °F 0.parquet" in told
    assert "full test 101.9 100.2 to 103.6 no record 1.parquet" in told
    assert "the first 104.2 Ah (102.5 to 105.9), the last 101.9 Ah (100.2 to 103.6)" in told
    assert as_html(paper).count("rated 105 Ah, typed") == 1


def test_typed_days_are_told_beside_the_ledger(evidence: Evidence) -> None:
    """Whoever reads the paper learns which figures stand on what somebody typed."""
    book = replace(evidence.season.ledger, typed_days=2, typed_out_ah=40.0,
                   typed_distance_m=12_000.0)
    typed = replace(evidence, season=replace(evidence.season, ledger=book))
    last = [sections.ledger(each, Units()).blocks[-1] for each in (evidence, typed)]

    assert last[0] == Words("Time that nobody logged is not in these figures.", "small")
    assert isinstance(last[1], Words)
    assert "count 2 days that nobody logged as somebody typed them" in last[1].words
    assert f"40 Ah out, 12{NBSP}km" in last[1].words
