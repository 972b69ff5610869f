"""A disk that is really full: a small tmpfs, mounted in a mount namespace of its own (root only).

``unshare --mount python -m tests.faults.full_disk FOLDER MEBIBYTES STORY``; prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from labcheck.ledger.archive import archive
from labcheck.ledger.errors import LedgerError
from labcheck.ledger.store import open_ledger
from labcheck.ledger.verify import verify
from labcheck.ledger.writer import Writer
from labcheck.registry.exporting import WRITERS
from tests.faults.invariants import Tally, heads, judge
from tests.faults.running import run
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
    opened = writer.submit(maker.opening()).result()
    acknowledged = {opened.seqs[-1]: opened.head_hex}
    fill(folder / "filler")
    saved, said = 0, "nothing"
    for number in range(4000):
        try:
            ack = writer.submit(maker.note(f"{number} " + "x" * 1500)).result()
        except LedgerError as error:
            said = str(error)
            break
        saved += 1
        acknowledged[ack.seqs[-1]] = ack.head_hex
    state, unsaved, readable = writer.state, len(writer.unsaved), len(ledger.events(CASE))
    try:
        archive(ledger, CASE, folder / "case.db")
        archived = "archived"
    except LedgerError as error:
        archived = str(error)
    left = sorted(path.name for path in folder.iterdir())
    (folder / "filler").unlink()
    again = writer.retry().result()
    acknowledged[again.seqs[-1]] = again.head_hex
    faults = [str(fault) for fault in verify(ledger)]
    writer.close()
    ledger.close()
    tally = Tally()
    judge(folder / "ledger", acknowledged, tally, "full disk", extra=0)
    return {
        "saved": saved, "said": said, "state": state, "unsaved": unsaved, "readable": readable,
        "archived": archived, "left": left, "again": list(again.seqs), "faults": faults,
        "promises": tally.notes,
    }  # fmt: skip


def leaving(folder: Path) -> dict[str, Any]:
    """Let a case leave in every way, lose the room, let it leave again, get room again."""
    key, ledger = transcribed(folder / "ledger"), folder / "ledger"
    before = heads(ledger, key)
    found: dict[str, Any] = {}
    files = 0
    for number, (name, words) in enumerate(WAYS_OUT.items()):
        if " " in name:
            continue  # the same writers again; without root every way is tried (test_06_07)
        to = folder / f"out-{number}"
        to.mkdir()
        said = placed(words, key, to)
        worked = 0 if name in NEVER_REPLACED else run(ledger, *said).status
        stood = contents(to)
        fill(folder / "filler")
        full = run(ledger, *said)
        intact = contents(to) == stood
        (folder / "filler").unlink()
        files += len(contents(to))
        found[name] = {"worked": worked, "full": full.status, "said": full.err, "intact": intact}
        shutil.rmtree(to)
    tally = Tally()
    judge(ledger, before, tally, "left", case=key, made=False, extra=0)
    return {"exports": found, "files": files, "promises": tally.notes}


WAYS_OUT: dict[str, tuple[str, ...]] = {
    **{name: ("export", "KEY", "--profile", "hospital", "--to", "TO", "--as", name) for name in WRITERS},
    "csv --excel": ("export", "KEY", "--profile", "hospital", "--to", "TO", "--as", "csv", "--excel"),
    "all in json": ("export", "--all", "--rehearsals", "--profile", "hospital", "--to", "TO", "--as", "json"),
    "all in csv": ("export", "--all", "--rehearsals", "--profile", "hospital", "--to", "TO", "--as", "csv"),
    "every row": ("events", "--rehearsals", "--profile", "hospital", "--to", "TO"),
    "page": ("debrief", "KEY", "--html", "TO/page.html"),
    "archive": ("archive", "KEY", "--to", "TO/case.db"),
    "rebuild": ("rebuild", "--to", "TO/new"),
}
"""Everything that writes a file which leaves. A new format joins by itself."""
NEVER_REPLACED = ("archive", "rebuild")
"""These refuse a name that is taken."""


def transcribed(ledger: Path) -> str:
    """Put the paper record into a fresh ledger and give its key."""
    done = run(ledger, "transcribe", str(ROOT / "checklists" / "rehearsals" / "paper-record.toml"))
    return done.out.partition(":")[0]


def placed(words: tuple[str, ...], key: str, to: Path) -> tuple[str, ...]:
    """A command with its key and folder."""
    return tuple(word.replace("KEY", key).replace("TO", str(to)) for word in words)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below, whole or half."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


if __name__ == "__main__":
    place = Path(sys.argv[1])
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={sys.argv[2]}m", "tmpfs", str(place)], check=True)
    print(json.dumps({"saving": story, "leaving": leaving}[sys.argv[3]](place)))
