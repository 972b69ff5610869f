"""The bare program to be compared with: one line, repainted at every Enter. Run as a program of its own."""

from __future__ import annotations

from typing import ClassVar

from textual.app import App, ComposeResult
from textual.widgets import Static


class Bare(App[None]):
    """One Static."""

    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar = [("enter", "press", "press"), ("ctrl+q", "quit", "quit")]

    def __init__(self) -> None:
        super().__init__()
        self.presses = 0

    def compose(self) -> ComposeResult:
        yield Static("bare and ready", id="line")

    def action_press(self) -> None:
        """Show the number of the press."""
        self.presses += 1
        self.query_one("#line", Static).update(f"press number {self.presses:04d}")


if __name__ == "__main__":
    Bare().run()
