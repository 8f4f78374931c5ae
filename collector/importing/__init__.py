"""Reads a table from elsewhere as a log.

``read_foreign(path, ImportOptions())`` opens CSV, XLSX, Parquet and GPX, each also
gzipped, finds columns, units, decimal mark and the order of dates from the file itself, and says
what it understood.
``read_runs`` does the same for a file that holds several runs one below the other, such as one
discharge after another. Start reading in ``reader``.
"""

from .foreign import Doubt, Dropped, Foreign, ImportOptions, Mapped
from .reader import read_foreign, read_runs

__all__ = ["Doubt", "Dropped", "Foreign", "ImportOptions", "Mapped", "read_foreign", "read_runs"]
