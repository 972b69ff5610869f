"""What looking back costs: one long case against its own history from a cold start, and a series of thousands.

``python -m tests.bench.debriefing``; ``--cases N`` and ``--entries N`` make the history shorter, ``--series N``
the series. Times are printed beside each other with their growth; nothing is asserted.
"""

from __future__ import annotations

import argparse
import hashlib
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby
from pathlib import Path

from labcheck.caselog.events import Event, NoteWritten
from labcheck.debrief import kept
from labcheck.debrief.agreed import NOTHING
from labcheck.debrief.history import grouped
from labcheck.debrief.page.series_page import series_page
from labcheck.debrief.series import series_lines
from labcheck.ledger.store import open_ledger
from tests.debrief.cases import DAY_US, TWO, history_like, key, played, shipped, summary

RATES = """format = 1
[[rates]]
technique = "electrosurgical"
acceptable = 0.05
unacceptable = 0.15
agreed = "2031-01-10"
reason = "made up for the measurement"
"""


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.debriefing", description=__doc__)
    asked.add_argument("--cases", type=int, default=500, help="earlier cases")
    asked.add_argument("--entries", type=int, default=300, help="entries of every case")
    asked.add_argument("--series", type=int, default=10_000, help="cases of the series")
    asked.add_argument("--rounds", type=int, default=5)
    chosen = asked.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary) / "ledger"
        fill(folder, chosen.cases + 1, chosen.entries)
        one_case(folder, key(chosen.cases), chosen.cases, chosen.rounds)
    series(chosen.series, chosen.rounds)


def fill(folder: Path, cases: int, entries: int) -> None:
    """A ledger of so many real cases of so many entries, three days apart, each a little slower or faster."""
    base = _events(entries)
    text = Path(__file__).parents[2] / "checklists" / "electrosurgical.toml"
    ledger = open_ledger(folder)
    ledger.keep_checklist(text.read_bytes())
    for number in range(cases):
        if number % 100 == 0:
            print(f"  filling the ledger: {number} of {cases}", flush=True)
        events = [_moved(event, number) for event in base]
        ledger.append_case([tuple(press) for _, press in groupby(events, key=lambda e: e.press)])
    ledger.close()
    (folder / "debrief.toml").write_text(RATES, encoding="utf-8")


def _events(entries: int) -> list[Event]:
    """A shipped rehearsal's events as those of a real case, with notes before the seal to make it long enough."""
    log = played(TWO).log
    seal = next(n for n, event in enumerate(log) if event.kind == "case.sealed")
    opening = log[0].model_copy(update={"what": log[0].what.model_copy(update={"rehearsal": False})})
    events = [opening, *log[1:seal]]
    model = events[-1]
    while len(events) < entries - 1:
        number = len(events) + 1
        press = f"{number:032x}"
        note = {"seq": number, "press": press, "id": f"{press}-00", "mode": "live", "late_reason": None}
        events.append(model.model_copy(update={**note, "what": NoteWritten(text=f"note {number}")}))
    last = log[seal]
    what = last.what.model_copy(update={"entries": len(events)})
    return [*events, last.model_copy(update={"seq": len(events) + 1, "what": what})]


def _moved(event: Event, number: int) -> Event:
    """The event in another case, on another day, at another speed."""
    pace = 1 + 0.3 * ((number * 37) % 21 - 10) / 10
    press = hashlib.sha256(f"{number}/{event.press}".encode()).hexdigest()[:32]
    first = played(TWO).log[0].entered

    def at(wall_us: int) -> int:
        return first.wall_us + 3 * DAY_US * number + round((wall_us - first.wall_us) * pace)

    entered, happened = event.entered, event.happened
    boot = round((entered.boot_us - first.boot_us) * pace) + first.boot_us
    was = {"wall_us": at(happened.wall_us)}
    if happened.boot_us is not None:
        was["boot_us"] = round((happened.boot_us - first.boot_us) * pace) + first.boot_us
    return event.model_copy(
        update={
            "case": key(number),
            "press": press,
            "id": f"{press}-{event.id[33:]}",
            "happened": happened.model_copy(update=was),
            "entered": entered.model_copy(
                update={"wall_us": at(entered.wall_us), "boot_us": boot, "mono_us": boot}
            ),
        }
    )


def one_case(folder: Path, case: str, cases: int, rounds: int) -> None:
    """The whole command in a fresh interpreter: first without kept figures, then with them."""
    page = folder.parent / "page.html"
    command = [
        sys.executable,
        "-m",
        "labcheck",
        "--ledger",
        str(folder),
        "debrief",
        case,
        "--html",
        str(page),
    ]
    took = [_seconds(command) for _ in range(rounds + 1)]
    bare = [_seconds([sys.executable, "-c", "import labcheck.cli, pydantic"]) for _ in range(rounds)]
    print(f"debrief page against {cases} earlier cases, cold process{'elapsed':>16}{'processor':>12}")
    for what, times in (
        ("the first time, every earlier case read from the log", took[:1]),
        (f"afterwards, least of {rounds}", took[1:]),
        ("for comparison, importing pydantic and the command line", bare),
    ):
        elapsed, used = min(t[0] for t in times), min(t[1] for t in times)
        print(f"  {what:58}{elapsed:10.2f} s{used:10.2f} s")
    print(f"  the page has {page.stat().st_size} bytes")


def _seconds(command: list[str]) -> tuple[float, float]:
    """Elapsed and processor time: on a machine that does other work the first says little."""
    began, used = time.perf_counter(), _children()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - began, _children() - used


def _children() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def series(most: int, rounds: int) -> None:
    """Kept figures of ever more cases read, grouped and told, in lines and as a page."""
    print(f"{'series of':>12}{'lines, s':>15}{'growth':>8}{'page, s':>15}{'growth':>8}{'page, bytes':>13}")
    before = (0.0, 0.0)
    for count in _doubling(most):
        took = [_one_series(count) for _ in range(rounds)]
        lines, page = (min(one[n] for one in took) for n in (0, 1))
        growth = [
            f"{now / was:8.2f}" if was else " " * 8 for now, was in zip((lines, page), before, strict=True)
        ]
        print(f"{count:12}{lines:15.3f}{growth[0]}{page:15.3f}{growth[1]}{took[0][2]:13}", flush=True)
        before = (lines, page)


def _doubling(most: int) -> Iterator[int]:
    for part in (8, 4, 2, 1):
        yield most // part


def _one_series(count: int) -> tuple[float, float, int]:
    """Processor seconds of the lines and of the page, each from the kept figures on, and the page's bytes."""
    present = replace(summary(played(TWO)), rehearsal=False)
    cases = history_like(present, count, failed=range(0, count, 20))
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        kept.keep(folder, map(kept.written, cases))
        heads = {one.case: one.head for one in cases}
        began = time.process_time()
        groups, left = grouped(kept.gathered(folder, heads, lambda _: None).values(), NOTHING)
        read = time.process_time() - began
        lines = [line for group in groups for line in series_lines(group)]
        told = time.process_time() - began
        page = series_page(groups, NOTHING, left)
        drawn = time.process_time() - began - told + read
    if len(groups) != 1 or len(groups[0]) != count or not lines:
        raise RuntimeError("the series is not the one that was made")
    return told, drawn, len(page)


if __name__ == "__main__":
    shipped("electrosurgical")
    main()
