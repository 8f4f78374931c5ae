"""What can go wrong in the world, as one small tree.

::

    PackhandError                 every failure a person can do something about
    ├── SourceUnavailable         the monitor cannot be opened: no such port, busy, no permission
    ├── LinkLost                  an open link went away: cable pulled, server closed
    ├── DescriptionError          a monitor description or parts list has a wrong key or value
    ├── LogFormatError            a file is not a log, or is damaged beyond its journal rows
    ├── LogInUse                  another recorder holds this log
    ├── LogbookError              a logbook folder cannot be used: missing, read-only
    └── ForeignFileError          a file from elsewhere cannot be read as a log

Each carries *where* it happened, *what was found* and *what to do*; ``str()`` joins them into
the one line a command prints. Misuse by a programmer is a ``ValueError`` or ``TypeError`` and
keeps its traceback.
"""

from __future__ import annotations


class PackhandError(Exception):
    """A failure of the world, told in one line.

    ``where`` names the port, file or key; ``found`` says what was met there; ``remedy`` says
    what is allowed or what to do next and may be empty.
    """

    def __init__(self, where: str, found: str, remedy: str = "") -> None:
        super().__init__(where, found, remedy)
        self.where = where
        self.found = found
        self.remedy = remedy

    def __str__(self) -> str:
        line = f"{self.where}: {self.found}"
        return f"{line} — {self.remedy}" if self.remedy else line


class SourceUnavailable(PackhandError):
    """A monitor cannot be opened, such as a port that does not exist or is in use."""


class LinkLost(PackhandError):
    """A link that was open has gone, such as a cable pulled in the middle of a drive."""


class DescriptionError(PackhandError):
    """A monitor description or a parts list holds a wrong key, type or value."""


class LogFormatError(PackhandError):
    """A file is not a packhand log, or its header is damaged."""


class LogInUse(PackhandError):
    """Another recorder is writing this log."""


class LogbookError(PackhandError):
    """A logbook folder is missing, read-only or not a logbook."""


class EmptyLogbook(LogbookError):
    """A logbook has no log yet that could answer."""


class ForeignFileError(PackhandError):
    """A file from elsewhere cannot be read as a log, such as a table with no time column."""
