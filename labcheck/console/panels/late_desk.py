"""The desk of a late entry: what is sent over it carries the earlier time, and every panel on it says LATE.

A key that no panel of a late entry takes must not record something as of now without a word: it either opens
another panel of the same late entry, or is not taken, or says that it counts now.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from textual.content import Content

from labcheck.caselog.case import Case
from labcheck.caselog.intents import Claim, Intent
from labcheck.caselog.stamps import Stamp
from labcheck.console.keys import find, printed
from labcheck.console.panels import addendum, attempt, bailout, drug, reading, stages, things
from labcheck.console.panels.panel import Desk, Panel, Press
from labcheck.console.zones.rows import Rows

LETTERS: Mapping[str, Callable[[Desk], Panel | None]] = {
    "a": attempt.open_panel, "r": reading.open_panel, "d": drug.open_panel, "v": things.device_panel,
    "x": things.fault_panel, "b": bailout.open_panel, "n": things.note_panel, "y": things.decision_panel,
    "p": things.runs_panel, "s": stages.open_panel,
}  # fmt: skip
"""What a letter opens for the earlier time."""

FACTS = ("r", "d", "v", "x", "n")
"""The letters of what can still be added once the case is sealed."""

SEALED = "the case is sealed: R, D, V, X or N adds what became known later"

NOW_ALWAYS = frozenset({"mark", "undo", "silence"})
"""Keys that count at the moment they are pressed, whatever time was chosen, and leave the panel open."""

READ_ONLY = frozenset({"late", "help", "sources", "debrief", "entries", "takeover"})
"""Keys that open something else: the chosen time is dropped, and that is said."""

TITLE = "LATE  "


@dataclass(frozen=True, slots=True)
class When:
    """When it is said to have happened, as counted at the press that said so."""

    words: str
    claim: Claim
    said: Stamp


class LateDesk:
    """A desk whose entries happened earlier: it adds the claim to every intent that is sent over it."""

    def __init__(self, desk: Desk, when: When) -> None:
        self._desk = desk
        self.when = when
        self.reason: str | None = None

    @property
    def case(self) -> Case:
        return self._desk.case

    @property
    def head_hex(self) -> str:
        return self._desk.head_hex

    def press_id(self) -> str:
        return self._desk.press_id()

    def now(self) -> Stamp:
        return self._desk.now()

    def turn(self, panel: Panel | None) -> None:
        """Show it with LATE in its title, and with the keys of a late entry beneath it."""
        self._desk.turn(panel if panel is None or isinstance(panel, LatePanel) else LatePanel(self, panel))

    def tell(self, words: str) -> None:
        self._desk.tell(words)

    def send(self, intent: Intent, stamp: Stamp) -> None:
        claim = self.when.claim
        if claim.ago_us is not None:
            # It happened so long before the digit that said so; what came in between is added.
            since = max(0, stamp.boot_us - self.when.said.boot_us) if stamp.boot_id == self.when.said.boot_id else 0
            claim = claim.model_copy(update={"ago_us": claim.ago_us + since})
        if self.reason is not None:
            claim = claim.model_copy(update={"reason": self.reason})
        late = intent.model_copy(update={"claim": claim})
        self._desk.send(addendum.after_seal(self._desk.case, late), stamp)


class LatePanel(Panel):
    """Any panel, opened for a late entry."""

    def __init__(self, late: LateDesk, inner: Panel) -> None:
        if not inner.title.startswith(TITLE):
            inner.title = f"{TITLE}{inner.title}"
        super().__init__(late, inner.title)
        self.late = late
        self.inner = inner
        self.id, self.typing, self.hints = inner.id, inner.typing, inner.hints

    def draw(self, width: int, height: int, plain: bool = False, saved: str = "") -> Content:
        return self.inner.draw(width, height, plain, saved)

    def body(self, rows: Rows) -> None:
        self.inner.body(rows)

    def key(self, press: Press) -> bool:
        return self.inner.key(press) or beneath(self.late, press, typing=self.typing)

    def paste(self, text: str) -> None:
        self.inner.paste(text)


def beneath(late: LateDesk, press: Press, *, typing: bool) -> bool:
    """A key that the panel of a late entry left: True if it is dealt with, False if it counts as of now."""
    line = find(press.key, "typing" if typing else "list")
    if line is None or not (line.logs or line.where[0] == "case") or line.id in ("up", "down", "back", "quit"):
        return False
    key, chosen = printed(press.key, press.character), late.when.words
    if not typing and len(press.key) == 1 and press.key.lower() in LETTERS:
        _open(late, press.key.lower())
        return True
    if line.id == "mark":
        late.tell(f"{key} marks NOW, not {chosen}")
    elif line.id == "bailout":
        late.tell(f"{key}: a bailout that starts NOW; {chosen} is dropped")
    elif line.id in READ_ONLY:
        late.tell(f"the late entry ({chosen}) is dropped: nothing of it was recorded")
    elif line.id not in NOW_ALWAYS:
        late.tell(f"{key} NOT TAKEN: a late entry is open ({chosen}); Esc drops it, then {key} counts now")
        return True
    return False


def _open(late: LateDesk, letter: str) -> None:
    if late.case.seal is not None and letter not in FACTS:
        late.tell(SEALED)
        return
    panel = LETTERS[letter](late)
    if panel is not None:
        late.turn(panel)
