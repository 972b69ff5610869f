"""The real program without a terminal: an open case on its screen, keys, and what is drawn."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from typing import Any

from textual.pilot import Pilot

from labcheck.checklist.plan import Plan
from labcheck.console.app import Console
from labcheck.console.case_screen import CaseScreen
from labcheck.console.opening import new_case
from labcheck.console.panels.panel import Press
from labcheck.console.session import Session
from labcheck.console.zone import Zone
from labcheck.ledger.memory import MemoryLedger
from tests.caselog.driving import SMALL


def in_a_loop(test: Callable[..., Coroutine[Any, Any, None]]) -> Callable[..., None]:
    """Run an async test to its end."""

    @functools.wraps(test)
    def run(*arguments: Any, **named: Any) -> None:
        asyncio.run(test(*arguments, **named))

    return run


class OneShelf:
    """A shelf with the small checklist on it."""

    def names(self) -> list[str]:
        return ["small"]

    def text(self, name: str) -> bytes:
        return SMALL.read_bytes()


@asynccontextmanager
async def running(size: tuple[int, int] = (80, 24), targets: tuple[str, ...] = ("left",)) -> AsyncIterator[Any]:
    """The console with an open case on its screen."""
    console = Console(MemoryLedger(), OneShelf(), strict=True)
    async with console.run_test(size=size, notifications=True) as pilot:
        open_case(console, targets)
        await pilot.pause(0.1)
        screen_of(pilot).opened_at -= 10
        yield pilot
    console.finish()


def open_case(console: Console, targets: tuple[str, ...] = ("left",)) -> Session:
    """Show a new case of the small checklist."""
    plan = Plan.model_validate({"technique": "small", "substrate": "native", "targets": targets})
    stamp = console.clock.stamp()
    session = new_case(console.bench, SMALL.read_bytes(), plan, stamp, rehearsal=True, recorder="N1", name="small")
    console.show_case(session)
    return session


def pressed(pilot: Pilot[None], key: str, at: float) -> None:
    """A key at that moment of the machine's own clock."""
    screen = screen_of(pilot)
    screen.take(Press(key, key if len(key) == 1 else None, screen.now_stamp(), at))


def screen_of(pilot: Pilot[None]) -> CaseScreen:
    """The screen of the running case."""
    assert isinstance(pilot.app.screen, CaseScreen)
    return pilot.app.screen


def text_of(pilot: Pilot[None]) -> str:
    """Everything that is drawn, zone by zone."""
    return "\n".join(zone.plain for zone in pilot.app.screen.query(Zone) if zone.display)


async def settled(pilot: Pilot[None]) -> None:
    """Wait until nothing is being written, and what follows an acknowledgement is drawn."""
    for _ in range(100):
        await asyncio.sleep(0.01)
        if not screen_of(pilot).session.waiting:
            break
    await asyncio.sleep(0.2)


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys, each once the one before is saved and drawn."""
    for key in keys:
        await pilot.press(key)
        await settled(pilot)
