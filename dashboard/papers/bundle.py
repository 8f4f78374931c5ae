"""A paper with the files that it stands on, in one zip whose bytes depend on its content alone."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import BinaryIO, Final

from analysis.asking.evidence import Evidence, sha256_of

from .as_html import as_html
from .as_pdf import as_pdf
from .paper import Paper

#: The day of every entry: a zip cannot tell an earlier one.
EPOCH: Final = (1980, 1, 1, 0, 0, 0)
SUMS: Final = "SHA256SUMS"


def write_bundle(out: BinaryIO, name: str, paper: Paper, evidence: Evidence) -> int:
    """Write the paper in both forms, the logbook's files as they are, and their fingerprints.

    Returns
    -------
    int
        Files written.
    """
    made = {f"{name}.html": as_html(paper).encode(), f"{name}.pdf": as_pdf(paper)}
    sums = {title: hashlib.sha256(data).hexdigest() for title, data in made.items()}
    files = evidence.files()
    sums |= {title: sha256_of(path) for title, path in files.items()}
    told = "".join(f"{digest}  {title}\n" for title, digest in sorted(sums.items()))
    with zipfile.ZipFile(out, "w") as archive:
        put(archive, {**made, SUMS: told.encode()})
        for title, path in sorted(files.items()):
            put_file(archive, title, path)
    return len(made) + len(files) + 1


def put(archive: zipfile.ZipFile, entries: Mapping[str, bytes]) -> None:
    """Add entries, packed, without any date."""
    for title, data in entries.items():
        archive.writestr(_entry(title), data, zipfile.ZIP_DEFLATED)


def put_file(archive: zipfile.ZipFile, title: str, path: Path) -> None:
    """Add a file as it is, piece by piece."""
    with path.open("rb") as source, archive.open(_entry(title), "w", force_zip64=True) as target:
        while piece := source.read(1 << 20):
            target.write(piece)


def _entry(title: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(title, EPOCH)
    entry.create_system = 3  # the same bytes on every system
    entry.external_attr = 0o644 << 16
    return entry
