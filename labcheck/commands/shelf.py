"""The shelf: the checklists and rehearsals that come with the program, and where to find them.

In an installed wheel they are package data (``labcheck/shipped``); in a working copy they are the folder
``checklists`` beside the package, where the people who write them look first.
"""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from labcheck.checklist.complaint import ChecklistError
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import digest, read_checklist
from labcheck.commands.files import read_bytes
from labcheck.commands.output import CommandError

DEFAULT_REHEARSAL = "left-cusp-surgical"


def _shelf() -> Traversable:
    package = files("labcheck")
    shipped = package / "shipped"
    return shipped if shipped.is_dir() else package / ".." / "checklists"


def _text(folder: Traversable, name: str, what: str) -> bytes:
    found = folder / f"{name}.toml"
    if not name.replace("-", "").replace("_", "").isalnum() or not found.is_file():
        there = ", ".join(_names(folder))
        raise CommandError(f"no {what} called {name} comes with labcheck; there are: {there}")
    return found.read_bytes()


def _names(folder: Traversable) -> tuple[str, ...]:
    if not folder.is_dir():
        return ()
    return tuple(sorted(f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml")))


def checklist_names() -> tuple[str, ...]:
    """The ids of the shipped checklists: a checklist's file is named after its id."""
    return _names(_shelf())


def checklist_text(name: str) -> bytes:
    """The exact bytes of a shipped checklist. Raises ``CommandError`` where there is none of that id."""
    return _text(_shelf(), name, "checklist")


def checklist(name: str) -> tuple[Checklist, bytes, str]:
    """A shipped checklist with its exact bytes and their digest."""
    text = checklist_text(name)
    return read_checklist(text, f"{name}.toml"), text, digest(text)


class ShippedShelf:
    """The shelf as the console asks for it."""

    def names(self) -> tuple[str, ...]:
        """The ids that can be asked for."""
        return checklist_names()

    def text(self, name: str) -> bytes:
        """The exact bytes of one."""
        return checklist_text(name)


SHIPPED = ShippedShelf()


def find_checklist(name: str, beside: Path | None) -> tuple[Checklist, bytes, str]:
    """The checklist a script names: a file of that id beside the script, or else the shipped one.

    A house that has written its own checklist keeps its scripts in the same folder.
    """
    own = beside / f"{name}.toml" if beside is not None else None
    if own is None or not own.is_file():
        return checklist(name)
    text = read_bytes(own)
    try:
        return read_checklist(text, own.name), text, digest(text)
    except ChecklistError as error:
        raise CommandError(str(error.complaints[0])) from None


def rehearsal_names() -> tuple[str, ...]:
    """The shipped rehearsal scripts, by file name without its ending."""
    return _names(_shelf() / "rehearsals")


def rehearsal_text(name: str = DEFAULT_REHEARSAL) -> bytes:
    """The exact bytes of a shipped rehearsal script."""
    return _text(_shelf() / "rehearsals", name, "rehearsal")
