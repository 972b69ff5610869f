"""A disk that is really full: a small tmpfs, mounted in a mount namespace of its own (root only).

``unshare --mount python -m tests.faults.full_disk FOLDER MEBIBYTES``; prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from labcheck.ledger.archive import archive
from labcheck.ledger.errors import LedgerError
from labcheck.ledger.store import open_ledger
from labcheck.ledger.verify import verify
from labcheck.ledger.writer import Writer
from tests.ledger.making import CASE, CHECKLIST, Maker


def fill(path: Path) -> None:
    """Write until nothing more fits."""
    descriptor = os.open(path, os.O_CREAT | os.O_WRONLY)
    try:
        for size in (1 << 20, 1 << 12, 1):
            while True:
                try:
                    os.write(descriptor, b"x" * size)
                except OSError:
                    break
    finally:
        os.close(descriptor)


def story(folder: Path) -> dict[str, Any]:
    """Start with room, lose it, go on as far as it goes, get room again, retry."""
    try:
        ledger = open_ledger(folder / "ledger")
    except LedgerError as refused:
        return {"refused": str(refused), "left": sorted(path.name for path in (folder / "ledger").iterdir())}
    ledger.keep_checklist(CHECKLIST)
    writer = Writer(ledger, side_folder=folder / "ledger")
    maker = Maker()
    writer.submit(maker.opening()).result()
    fill(folder / "filler")
    saved, said = 0, "nothing"
    for number in range(4000):
        try:
            writer.submit(maker.note(f"{number} " + "x" * 1500)).result()
        except LedgerError as error:
            said = str(error)
            break
        saved += 1
    state, unsaved, readable = writer.state, len(writer.unsaved), len(ledger.events(CASE))
    try:
        archive(ledger, CASE, folder / "case.db")
        archived = "archived"
    except LedgerError as error:
        archived = str(error)
    left = sorted(path.name for path in folder.iterdir())
    (folder / "filler").unlink()
    again = writer.retry().result()
    faults = [str(fault) for fault in verify(ledger)]
    writer.close()
    ledger.close()
    return {
        "saved": saved, "said": said, "state": state, "unsaved": unsaved, "readable": readable,
        "archived": archived, "left": left, "again": list(again.seqs), "faults": faults,
    }  # fmt: skip


if __name__ == "__main__":
    place = Path(sys.argv[1])
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={sys.argv[2]}m", "tmpfs", str(place)], check=True)
    print(json.dumps(story(place)))
