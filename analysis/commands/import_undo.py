"""Taking back the last import, and what is remembered about tables."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from collector.errors import LogbookError, PackhandError
from collector.import_history import ImportHistory
from collector.logbook import Logbook
from collector.logfile import read_meta


def undo(root: Path, *, as_json: bool) -> int:
    """Remove the logs and place layers of the last import that came from its files.

    Raises
    ------
    LogbookError
        If nothing was imported, or a file cannot be removed.
    """
    book = Logbook.open(root)
    history = ImportHistory.read(root)
    if not history.batches:
        raise LogbookError(str(root), "no import to take back", "logs that were recorded stay")
    batch = history.batches.pop()
    removed = [log for log, sha256 in batch.logs if _remove(book, log, sha256)]
    kept = [log for log, _ in batch.logs if log not in removed]
    for fingerprint in batch.fingerprints:
        history.forget(fingerprint)
    history.save()
    if as_json:
        print(json.dumps({"schema": "packhand.import/1", "undone": removed, "kept": kept,
                          "files": list(batch.files), "logs": []}, indent=2))
        return 0
    print(f"Taken back: {', '.join(batch.files)}, imported {batch.time}. "
          "The files themselves are as they were.")
    print("\n".join([*(f"  removed {log}" for log in removed),
                     *(f"  kept {log}: it is not what that import wrote" for log in kept)]))
    if batch.fingerprints:
        print("What was said about such tables then is forgotten, too.")
    return 0


def _remove(book: Logbook, log: str, sha256: str) -> bool:
    """Remove a file of the logbook if it still holds what was imported."""
    path = book.root / log
    try:
        if read_meta(path).origin.get("sha256") != sha256:
            return False
        path.unlink()
    except FileNotFoundError:
        return False
    except PackhandError:
        return False
    except OSError as error:
        raise LogbookError(str(path), f"cannot be removed ({error.strerror})",
                           "close what has it open, then undo again") from error
    touch_log(book.log_path(path.stem))
    return True


def touch_log(log: Path) -> None:
    """Mark a log as changed, for what was worked out from it is kept by its time of change."""
    if log.exists():
        os.utime(log)


def show_remembered(root: Path, forget: str | None, *, as_json: bool) -> int:
    """Print what is remembered about tables, after forgetting some of it.

    Raises
    ------
    LogbookError
        If there is nothing under that fingerprint.
    """
    history = ImportHistory.read(root)
    if forget:
        if not history.forget(forget):
            raise LogbookError(str(history.path), f"nothing remembered under {forget!r}",
                               "--remembered lists what there is")
        history.save()
    entries: list[dict[str, Any]] = [
        {"fingerprint": one.fingerprint, "headings": list(one.headings),
         "options": one.answers.words, "file": one.file, "time": one.time}
        for one in history.remembered]
    if as_json:
        print(json.dumps({"schema": "packhand.import/1", "remembered": entries, "logs": []},
                         indent=2, ensure_ascii=False))
        return 0
    print("\n".join(f"{e['fingerprint']}  {e['options']}  (said for {e['file']}; headings "
                    f"{', '.join(e['headings'][:6])}{', ...' if len(e['headings']) > 6 else ''})"
                    for e in entries) or "Nothing is remembered about tables.")
    return 0
