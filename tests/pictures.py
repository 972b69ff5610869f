"""Pictures of the real console, for the README: ``python -m tests.pictures [FOLDER]``.

A rehearsal of the first story is played to its middle in the real program, and the screen is written as SVG.
"""

from __future__ import annotations

import asyncio
import re
import sys
import tempfile
from pathlib import Path

from labcheck.caselog.script import read_script
from labcheck.commands import shelf
from labcheck.console.app import Console
from labcheck.console.playing import Player, ScriptClock
from labcheck.ledger.store import open_ledger

EXPORTS = Path(__file__).parents[1] / "exports"
SIZE = (120, 40)
UNTIL = {"console.svg": "10:23:20"}
"""File and the wall time of the script at which its picture is taken."""

FONT_LINKS = re.compile(r"@font-face \{.*?\}\s*", re.DOTALL)
"""The page must not ask another server for a font; a monospace font is everywhere."""

COMMENT = re.compile(r"<!--.*?-->\s*", re.DOTALL)


def main() -> None:
    """Take every picture."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else EXPORTS
    for name, clock in UNTIL.items():
        path = folder / name
        path.write_text(asyncio.run(picture(clock)), encoding="utf-8")
        print(path)


async def picture(until: str) -> str:
    """The screen at that wall time of the first story, as SVG."""
    name = shelf.DEFAULT_REHEARSAL
    text = shelf.rehearsal_text(name)
    script = read_script(text, f"{name}.toml")
    checklist, checklist_text, _ = shelf.checklist(script.head.checklist)
    clock = ScriptClock(script, pace=0)
    with tempfile.TemporaryDirectory() as folder:
        ledger = open_ledger(Path(folder) / "ledger")
        player = Player(script, checklist, checklist_text, clock)
        console = Console(ledger, shelf.SHIPPED, clock=clock, player=player, strict=True)
        async with console.run_test(size=SIZE, notifications=True) as pilot:
            await play_to(pilot, clock, script.start_us, until)
            svg = console.export_screenshot(title="labcheck, a rehearsal")
        console.finish()
        ledger.close()
    return COMMENT.sub("", FONT_LINKS.sub("", svg))


async def play_to(pilot, clock: ScriptClock, start_us: int, until: str) -> None:  # type: ignore[no-untyped-def]
    """Move the rehearsed time on, minute by minute, until the room clock shows ``until``."""
    from labcheck.caselog.telling import clock_words

    for _ in range(24 * 60):
        left = seconds(until) - seconds(clock_words(clock.stamp().moment()))
        if left <= 0:
            break
        clock.step(min(left, 30) * 1_000_000)
        await pilot.pause(0.15)
    pilot.app._tick()
    await pilot.pause(0.3)


def seconds(clock: str) -> int:
    """Seconds since midnight of "10:23:20"."""
    hours, minutes, rest = clock.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + int(rest)


if __name__ == "__main__":
    main()
