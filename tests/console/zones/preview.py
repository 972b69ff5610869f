"""Draws the scenes to SVG files, to be looked at: ``python -m tests.console.zones.preview DIR [SCENE] [SIZE]``.

With NO_COLOR set the pictures show what is left without colour. A development aid, run by nobody but people.
"""

from __future__ import annotations

import asyncio
import os
import sys
from pathlib import Path

from textual.app import App, ComposeResult

from labcheck.console.theme import THEME, ZONE_CSS
from labcheck.console.view import View
from labcheck.console.zone import Zone
from labcheck.console.zones.layout import RENDER, ZONES, places
from tests.console.zones.scenes import SCENES

SIZES = ((80, 24), (120, 40), (200, 60))


class Preview(App[None]):
    """One view, laid out as the console lays it out."""

    CSS = ZONE_CSS
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, shown: View) -> None:
        super().__init__()
        self.shown = shown

    def compose(self) -> ComposeResult:
        self.register_theme(THEME)
        self.theme = THEME.name
        for name in ZONES:
            yield Zone(f"zone-{name}")

    def on_mount(self) -> None:
        boxes = places(*self.size)
        for zone in self.query(Zone):
            zone.add_class("zone")
            name = (zone.id or "").removeprefix("zone-")
            box = boxes.get(name)  # type: ignore[call-overload]
            zone.display = box is not None
            if box is not None:
                zone.styles.offset = (box.x, box.y)
                zone.styles.width, zone.styles.height = box.width, box.height
                zone.show(lambda w, h, name=name: RENDER[name](self.shown, w, h))  # type: ignore[misc]


async def draw(scene: str, size: tuple[int, int], folder: Path) -> Path:
    """One picture."""
    app = Preview(SCENES[scene]())
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        suffix = "-grey" if os.environ.get("NO_COLOR") else ""
        target = folder / f"{scene}-{size[0]}x{size[1]}{suffix}.svg"
        target.write_text(app.export_screenshot(title=f"{scene} {size[0]}x{size[1]}"), encoding="utf-8")
        return target


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    wanted = [sys.argv[2]] if len(sys.argv) > 2 else list(SCENES)
    sizes = [tuple(int(n) for n in sys.argv[3].split("x"))] if len(sys.argv) > 3 else list(SIZES)
    for scene in wanted:
        for size in sizes:
            print(asyncio.run(draw(scene, size, folder)))  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
