"""Run every measurement and print one table of ratios. ``--cases N`` and ``--rounds N`` make it shorter."""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from statistics import median, quantiles

from tests.bench import commits, ledgers
from tests.bench.pty import Raw

BARE = [sys.executable, "-m", "tests.bench.bare"]
ENTER, F2, SPACE = b"\r", b"\x1bOQ", b" "
IDLE_S = 15.0


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    asked.add_argument("--cases", type=int, default=10_000, help="cases in the ledger")
    asked.add_argument("--entries", type=int, default=1_000, help="entries of the case that is driven")
    asked.add_argument("--rounds", type=int, default=7, help="cold starts of each kind")
    asked.add_argument("--keys", type=int, default=40, help="key presses in each of two rounds")
    chosen = asked.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        print(f"  a ledger of {chosen.cases} cases, one of them with {chosen.entries} entries")
        key, last = ledgers.fill(folder / "ledger", chosen.cases, chosen.entries)
        ours = [sys.executable, "-m", "labcheck", "--ledger", str(folder / "ledger")]
        print(f"{'':44}{'bare':>12}{'ours':>12}{'ratio':>8}   aim")
        cold_start(ours, chosen.rounds)
        last = key_presses(ours, key, last, chosen.keys)
        idle(ours, key)
        commit(folder)


def row(what: str, bare: str, ours: str, ratio: float | None, aim: str) -> None:
    """One line of the table."""
    shown = f"{ratio:8.2f}" if ratio is not None else " " * 8
    print(f"{what:44}{bare:>12}{ours:>12}{shown}   {aim}", flush=True)


def ms(seconds: float) -> str:
    return f"{seconds * 1000:.1f} ms"


def p95(times: Sequence[float]) -> float:
    return quantiles(times, n=20)[-1]


def cold_start(ours: Sequence[str], rounds: int) -> None:
    """From the start of the process to the first screen, in turns."""
    bare_times: list[float] = []
    our_times: list[float] = []
    list_times: list[float] = []
    for _ in range(rounds + 1):
        with Raw(BARE) as program:
            bare_times.append(program.until(b"bare and ready") - program.started)
        with Raw(ours) as program:
            our_times.append(program.until(b" labcheck ") - program.started)
            list_times.append(program.until(b"NOT FINISHED") - program.started)
    # The first of each kind only warms the disk's cache.
    bare, first, full = (median(times[1:]) for times in (bare_times, our_times, list_times))
    row("cold start to first paint, median", ms(bare), ms(first), first / bare, "1.6 or less")
    row("cold start to the list of cases, median", ms(bare), ms(full), full / bare, "")


def open_case(ours: Sequence[str], key: str) -> Raw:
    """The console with the long case open."""
    program = Raw(ours)
    program.until(b"NOT FINISHED")
    program.drain(0.8)
    program.forget()
    pressed = program.send(ENTER)
    took = program.until(b"resumed") - pressed
    if key.encode() not in program.seen:
        raise RuntimeError(f"another case than {key} was opened")
    row("  the case of many entries opened in", "", ms(took), None, "3 s or less")
    program.drain(1.0)
    return program


def key_presses(ours: Sequence[str], key: str, last: int, presses: int) -> int:
    """From the key to its line repainted; for ours also committed, because the screen waits for it."""
    bare_times, our_times, our_bytes = [], [], []
    with Raw(BARE) as bare, open_case(ours, key) as console:
        bare.until(b"bare and ready")
        bare.drain(0.5)
        number = last + 1  # the resumption is an entry of its own
        for press in range(1, 2 * presses + 3):
            bare.forget()
            pressed = bare.send(ENTER)
            took = bare.until(f"press number {press:04d}".encode()) - pressed
            number += 1
            console.forget()
            pressed = console.send(F2)
            ours_took = console.until(f" {number} ".encode()) - pressed
            our_bytes.append(console.drain(0.2) + len(console.seen))
            if press > 2:  # the first presses load what only a press needs
                bare_times.append(took)
                our_times.append(ours_took)
    bare_median, our_median = median(bare_times), median(our_times)
    row(
        "key to committed and repainted, median",
        ms(bare_median),
        ms(our_median),
        our_median / bare_median,
        "4 or less",
    )
    ratio = p95(our_times) / p95(bare_times)
    row("key to committed and repainted, p95", ms(p95(bare_times)), ms(p95(our_times)), ratio, "10 or less")
    row(
        "  bytes to the terminal for a key, median",
        "",
        f"{median(our_bytes):.0f}",
        None,
        "less than a screen",
    )
    return number


def idle(ours: Sequence[str], key: str) -> None:
    """Processor time while nobody presses anything, with the clock of the running case ticking."""
    used = []
    with Raw(BARE) as bare, open_case(ours, key) as console:
        bare.until(b"bare and ready")
        for program in (bare, console):
            program.drain(1.0)
            before = program.cpu_s()
            program.drain(IDLE_S)
            used.append((program.cpu_s() - before) / IDLE_S * 100)
    row("idle, per cent of one core", f"{used[0]:.2f} %", f"{used[1]:.2f} %", None, "ours under 1 %")


def commit(folder: Path) -> None:
    """A press saved in the ledger, and in ledger and mirror, against one line appended and synced."""
    plain, alone, both = commits.measure(folder)
    for what, ours, aim in (("", alone, "3 or less"), (" with mirror", both, "4 or less")):
        row(
            f"durable commit{what}, median",
            ms(median(plain)),
            ms(median(ours)),
            median(ours) / median(plain),
            aim,
        )
        p99 = quantiles(ours, n=100)[-1]
        row(f"durable commit{what}, p99", "", ms(p99), None, "50 ms or less")


if __name__ == "__main__":
    main()
