"""The plan of a new case on its screen: every computed line can be reached."""

from __future__ import annotations

from labcheck.commands import shelf
from labcheck.console import plan_lines
from labcheck.console.app import Console
from labcheck.console.plan_screen import PlanScreen, _pages
from labcheck.ledger.memory import MemoryLedger
from tests.console.live import (
    in_a_loop,
    text_of,
)


@in_a_loop
async def test_every_computed_line_of_the_plan_is_reached_with_page_down() -> None:
    for size in ((80, 24), (120, 40)):
        console = Console(MemoryLedger(), shelf.SHIPPED, strict=True)
        async with console.run_test(size=size) as pilot:
            await pilot.press("n")
            await pilot.pause(0.1)
            screen = pilot.app.screen
            assert isinstance(screen, PlanScreen)
            assert screen.checklist is not None
            wanted = {line.id for line in plan_lines.so_far(screen.checklist, screen.values, "")}
            words = {line.words[:40] for line in plan_lines.so_far(screen.checklist, screen.values, "")}
            seen: set[str] = set()
            for _ in range(len(wanted) + 1):
                drawn = " ".join(text_of(pilot).split())
                seen |= {word for word in words if word[:30] in drawn}
                await pilot.press("pagedown")
                await pilot.pause(0.02)
            assert seen == words
        console.finish()


def test_pages_hold_every_line_once_and_none_is_fuller_than_its_room() -> None:
    for sizes, room in (([1, 2, 2, 1], 3), ([5, 1], 3), ([1] * 10, 4), ([2], 1)):
        pages = _pages(sizes, room)
        assert [n for first, last in pages for n in range(first, last)] == list(range(len(sizes)))
        for first, last in pages:
            assert last - first == 1 or sum(sizes[first:last]) <= room
