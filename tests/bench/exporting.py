"""Exporting many cases, against the sqlite3 command line on the same rows: ``python -m tests.bench.exporting``.

The comparison is unfair on purpose: sqlite3 writes stored rows, ours folds every case and derives sixteen tables
from it. What matters is that the ratio stays put, and memory too, when the number of cases grows. Processor time
is measured, not waiting, so that a busy machine gives the same ratio.
"""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.caselog.events import Event
from labcheck.caselog.playing import play
from labcheck.caselog.script import read_script
from labcheck.checklist.complaint import Complaint
from labcheck.checklist.reading import digest, read_checklist
from labcheck.ledger.keys import LETTERS
from labcheck.ledger.store import open_ledger

TOP = Path(__file__).parents[2] / "checklists"
SQL = "SELECT case_id, seq, kind, body, hex(hash) FROM event ORDER BY case_id, seq"


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.exporting", description=__doc__)
    asked.add_argument("--cases", type=int, default=1_000, help="cases in the larger ledger")
    chosen = asked.parse_args()
    print(f"{'':36}{'sqlite3':>12}{'ours':>12}{'ratio':>8}{'peak memory':>14}")
    peaks = []
    for cases in (max(1, chosen.cases // 10), chosen.cases):
        with tempfile.TemporaryDirectory() as temporary:
            folder = Path(temporary)
            entries = fill(folder / "ledger", cases)
            for name, mode in (("csv", ".mode csv"), ("jsonl", ".mode json")):
                bare = sqlite(folder / "ledger", mode)
                ours, peak = export(folder, name)
                peaks.append(peak)
                what = f"{cases} cases, {entries} entries, {name}"
                print(f"{what:36}{bare:>10.2f} s{ours:>10.2f} s{ours / bare:>8.0f}{peak:>10.0f} MiB")
    print(f"memory, ten times as many cases: {max(peaks[2:]) / max(peaks[:2]):.2f} (aim: 1, flat)")


def rehearsed() -> tuple[Case, bytes]:
    """A whole rehearsal, played, and its checklist's text."""
    text = (TOP / "electrosurgical.toml").read_bytes()
    script = read_script((TOP / "rehearsals" / "left-cusp-surgical.toml").read_bytes(), "rehearsal")
    told = play(script, read_checklist(text, "electrosurgical.toml"), "BBBB-BB", digest(text))
    if isinstance(told, Complaint):
        raise SystemExit(str(told))
    return told, text


def fill(folder: Path, cases: int) -> int:
    """A ledger of so many copies of one rehearsal under different keys; its number of entries."""
    told, text = rehearsed()
    ledger = open_ledger(folder)
    ledger.keep_checklist(text)
    for number in range(cases):
        ledger.append_case(presses(told, number))
    ledger.close()
    return cases * len(told.log)


def key_of(number: int) -> str:
    """The key of the n-th copy."""
    key, place = "", number
    for _ in range(6):
        place, letter = divmod(place, len(LETTERS))
        key += LETTERS[letter]
    return f"{key[:4]}-{key[4:]}"


def presses(case: Case, number: int) -> list[tuple[Event, ...]]:
    """The case's presses under another key and with ids of their own."""
    key = key_of(number)
    found: dict[str, list[Event]] = {}
    for event in case.log:
        press = f"{number:08x}{event.press[8:]}"
        own = {"case": key, "press": press, "id": f"{press}-{event.id[-2:]}"}
        found.setdefault(press, []).append(event.model_copy(update=own))
    return [tuple(events) for events in found.values()]


def sqlite(folder: Path, mode: str) -> float:
    """Seconds of processor time that the sqlite3 command line takes for the stored rows."""
    if shutil.which("sqlite3") is None:
        raise SystemExit("sqlite3 is not installed: apt-get install sqlite3")
    (file,) = [path for path in folder.iterdir() if path.is_file() and path.open("rb").read(6) == b"SQLite"]
    started = worked()
    subprocess.run(["sqlite3", "-cmd", mode, str(file), SQL], stdout=subprocess.DEVNULL, check=True)
    return worked() - started


def worked() -> float:
    """Seconds of processor time of all processes that were started and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def export(folder: Path, name: str) -> tuple[float, float]:
    """Seconds of processor time and MiB at the peak that ours takes, in a process of its own."""
    code = (
        "import json, resource, sys\n"
        "from labcheck.cli import main\n"
        "main(sys.argv[1:])\n"
        "print(json.dumps(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss), file=sys.stderr)\n"
    )
    words = [
        "export",
        "--all",
        "--rehearsals",
        "--as",
        name,
        "--profile",
        "hospital",
        "--to",
        str(folder / name),
    ]
    started = worked()
    done = subprocess.run(
        [sys.executable, "-c", code, *words, "--ledger", str(folder / "ledger")],
        capture_output=True,
        text=True,
        check=True,
    )
    took = worked() - started
    kib: int = json.loads(done.stderr.splitlines()[-1])
    return took, kib / 1024


if __name__ == "__main__":
    main()
