"""A disk that is really full: a small tmpfs, mounted in a mount namespace of its own (root only).

``unshare --mount python -m tests.faults.full_disk FOLDER MEBIBYTES STORY``; prints one line of JSON.
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

ROOT = Path(__file__).parents[2]


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


def leaving(folder: Path) -> dict[str, Any]:
    """Export a case, lose the room, export it again, get room again."""
    (folder / "out").mkdir()
    script = ROOT / "checklists" / "rehearsals" / "paper-record.toml"
    quiet = labcheck(folder, "transcribe", str(script))
    key = labcheck(folder, "cases").stdout.split()[0]
    words = ("--profile", "hospital", "--as", "json", "--as", "csv", "--to", str(folder / "out"))
    export = ("export", key, *words)
    first = labcheck(folder, *export)
    before = contents(folder / "out")
    fill(folder / "filler")
    full = labcheck(folder, *export)
    after = contents(folder / "out")
    (folder / "filler").unlink()
    again = labcheck(folder, *export)
    return {
        "worked": [quiet.returncode, first.returncode, again.returncode],
        "full": full.returncode,
        "said": full.stderr,
        "files": len(before),
        "intact": before == after,
        "same_names": sorted(contents(folder / "out")) == sorted(before),
    }


def labcheck(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """One command of the program."""
    return subprocess.run(
        [sys.executable, "-m", "labcheck", "--ledger", str(folder / "ledger"), *words],
        capture_output=True,
        text=True,
        check=False,
    )


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below, whole or half."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


if __name__ == "__main__":
    place = Path(sys.argv[1])
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={sys.argv[2]}m", "tmpfs", str(place)], check=True)
    print(json.dumps({"saving": story, "leaving": leaving}[sys.argv[3]](place)))
