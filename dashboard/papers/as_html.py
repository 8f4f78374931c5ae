"""A paper as one HTML file: no script, nothing fetched, black on white, ready to print.

Whatever stands in a paper may come from a file or a keyboard, so every word is escaped; the
document's own policy forbids scripts and anything from outside as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Final

from ..theme import PRINT
from .drawing import as_svg
from .paper import Block, Chart, Paper, Section, Table, Words

#: What a paper's document may do, for its header and for the server that sends it.
POLICY: Final = ("default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; "
                 "form-action 'none'")

_STYLE: Final = f"""
@page {{ size: SIZE; margin: MARGIN }}
:root {{ color-scheme: light }}
body {{ margin: 0 auto; padding: 16pt; max-width: WIDTH; background: #fff; color: {PRINT['ink']};
  font: BODY/1.45 "Public Sans", system-ui, "Segoe UI", Roboto, "Liberation Sans", sans-serif;
  font-variant-numeric: tabular-nums; overflow-wrap: break-word }}
h1, .sentence {{ font-family: Newsreader, Georgia, "Liberation Serif", serif; font-weight: 500 }}
h1 {{ font-size: 1.9em; line-height: 1.15; margin: 0 0 2pt }}
h2 {{ font-size: 1.15em; margin: 16pt 0 4pt; padding-top: 4pt; border-top: 1px solid
  {PRINT['frame']}; break-after: avoid }}
p {{ margin: 4pt 0 }}
.under, .small, caption, figcaption, footer {{ color: {PRINT['muted']}; font-size: 0.88em }}
.sentence {{ font-size: 1.3em; line-height: 1.35 }}
.banner {{ border: 1.5px solid {PRINT['ink']}; padding: 3pt 6pt; font-weight: 600 }}
.caution {{ border-left: 4px solid {PRINT['ink']}; padding-left: 8pt }}
table {{ border-collapse: collapse; table-layout: fixed; width: 100%; margin: 6pt 0 10pt }}
caption, figcaption {{ text-align: left; padding: 2pt 0 }}
th, td {{ text-align: left; vertical-align: top; padding: 2pt 8pt 2pt 0;
  border-bottom: 1px solid {PRINT['grid']} }}
thead th {{ border-bottom-color: {PRINT['ink']} }}
tbody th {{ font-weight: 600 }}
tr, figure {{ break-inside: avoid }}
.list {{ font-size: 0.72em }}
figure {{ margin: 8pt 0 }}
svg {{ width: 100%; height: auto; display: block; font-family: inherit }}
footer {{ margin-top: 18pt; border-top: 1px solid {PRINT['frame']}; padding-top: 4pt }}
@media print {{ body {{ padding: 0; max-width: none }} }}
"""
_SIZES: Final = {"A4": {"SIZE": "A4", "MARGIN": "16mm", "WIDTH": "178mm", "BODY": "10.5pt"},
                 "A6": {"SIZE": "A6", "MARGIN": "7mm", "WIDTH": "91mm", "BODY": "8.5pt"}}


def as_html(paper: Paper) -> str:
    """The document; the same paper gives the same text."""
    style = _STYLE
    for name, value in _SIZES[paper.size].items():
        style = style.replace(name, value)
    return "\n".join([
        '<!DOCTYPE html>', '<html lang="en">', '<head>', '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(paper.title)}</title>", f"<style>{style}</style>", "</head>", "<body>",
        "<main>", f"<h1>{escape(paper.title)}</h1>", f'<p class="under">{escape(paper.under)}</p>',
        f'<p class="banner">{escape(paper.banner)}</p>' if paper.banner else "",
        *(_section(section, f"c{number}") for number, section in enumerate(paper.sections)),
        "</main>", f"<footer>{escape(paper.foot)}</footer>", "</body>", "</html>", ""])


def _section(section: Section, identity: str) -> str:
    blocks = "\n".join(_block(block, f"{identity}-{number}")
                       for number, block in enumerate(section.blocks))
    heading = f"<h2>{escape(section.heading)}</h2>\n" if section.heading else ""
    return f"<section>\n{heading}{blocks}\n</section>"


def _block(block: Block, identity: str) -> str:
    if isinstance(block, Words):
        kind = "" if block.tone == "plain" else f' class="{block.tone}"'
        lead = "<strong>Caution.</strong> " if block.tone == "caution" else ""
        return f"<p{kind}>{lead}{escape(block.words)}</p>"
    if isinstance(block, Chart):
        return (f"<figure>{as_svg(block.drawing, identity)}"
                f"<figcaption>{escape(block.caption)}</figcaption></figure>")
    return _table(block)


def _table(table: Table) -> str:
    kind = ' class="list"' if table.is_small else ""
    heads = _cells(table.heads, 'th scope="col"', "th")
    rows = "\n".join(f'<tr><th scope="row">{escape(row[0])}</th>{_cells(row[1:], "td", "td")}</tr>'
                     for row in table.rows)
    caption = f"<caption>{escape(table.caption)}</caption>" if table.caption else ""
    shares = table.widths or (1.0,) * len(table.heads)
    columns = "".join(f'<col style="width:{100 * share / sum(shares):.1f}%">' for share in shares)
    return (f"<table{kind}>{caption}<colgroup>{columns}</colgroup>"
            f"<thead><tr>{heads}</tr></thead>\n<tbody>{rows}</tbody></table>")


def _cells(words: Iterable[str], opening: str, closing: str) -> str:
    return "".join(f"<{opening}>{escape(cell)}</{closing}>" for cell in words)
