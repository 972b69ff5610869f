"""The running case: zones above, keys below, a panel in the middle when one is asked for.

The screen holds what is not part of the record: which step is marked, which panel is open, what the last
press was answered. Everything else is the session's.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from textual import events
from textual.screen import Screen
from textual.timer import Timer

from labcheck.caselog.case import Case
from labcheck.caselog.intents import Intent, NoticeClock
from labcheck.caselog.stamps import Stamp
from labcheck.console import footer, presses
from labcheck.console.dropped import Dropped, both
from labcheck.console.hand import Kind, kind_in_case
from labcheck.console.held_back import HeldBack
from labcheck.console.keys import Key, Where, find, printed
from labcheck.console.opening import press_id
from labcheck.console.panels.panel import Panel, Press
from labcheck.console.placing import CLOCK_COLUMNS, COVERED, panel_box, parted
from labcheck.console.redrawing import SLOW_ZONES, WATCHED, drawer, same
from labcheck.console.session import Refusal, Session
from labcheck.console.shown import Shown
from labcheck.console.view import View
from labcheck.console.viewing import Viewing
from labcheck.console.zone import Zone
from labcheck.console.zones.layout import ZONES, Box, ZoneName, places
from labcheck.ledger.clockwatch import ClockWatch

if TYPE_CHECKING:
    from labcheck.caselog.events import Event
    from labcheck.caselog.prompts import Prompt
    from labcheck.checklist.unfolding import Slot
    from labcheck.console.app import Console

SETTLE_S = 0.4
"""A press so soon after the screen opened belongs to the screen before."""

REST_S = 0.12
"""So long after a press the zones that take longest to make are drawn."""


class CaseScreen(Screen[None]):
    """One running case. It is the desk of its panels and the listener of its session."""

    BLANK = True
    """The zones cover the screen: nothing of its own is to be drawn beneath them at every change."""

    read_only = False
    """Whether the case is another console's, and only looked at here."""

    def __init__(
        self, session: Session, viewing: Viewing, now: Callable[[], Stamp], watch: ClockWatch | None = None
    ) -> None:
        super().__init__()
        self.clock_watch = watch
        self.session = session
        self.viewing = viewing
        self.now_stamp = now
        self.opened_at = time.monotonic()
        self.panel: Panel | None = None
        self.back: Panel | None = None
        self.answer = ""
        self.dropped = Dropped()
        self.held_back = HeldBack()
        self.shown = Shown()
        self.step_at = 0
        self._steps_of = ""
        self._ticked: Stamp | None = None
        self._rest: Timer | None = None
        self._zones: dict[str, Zone] = {}
        self._placed: frozenset[str] = frozenset()
        self._drawn: dict[ZoneName, tuple[Any, ...]] = {}
        session.listeners.append(self)

    # --- the widgets --------------------------------------------------------------------------------------

    def compose(self) -> Any:
        for name in ZONES:
            self._zones[name] = Zone(f"zone-{name}")
        self._zones["panel"] = Zone("zone-panel")
        self._zones["clock"] = Zone("zone-clock")
        for zone in self._zones.values():
            zone.add_class("zone")
        yield from self._zones.values()

    def on_mount(self) -> None:
        self._place()
        self._paint()

    def on_resize(self, event: events.Resize) -> None:
        self._place()
        self._paint()

    def _place(self) -> None:
        """Put every zone where the size of the terminal wants it; the marked step stays as it is."""
        size = self.app.size
        boxes: dict[str, Box] = {name: box for name, box in places(size.width, size.height).items()}  # noqa: C416
        boxes["panel"] = panel_box(boxes, size.width, size.height)
        clock = min(CLOCK_COLUMNS, boxes["now"].width // 2)
        boxes["now"], boxes["clock"] = parted(boxes["now"], clock)
        self._zones["now"].window = (0, size.width)
        self._zones["clock"].window = (size.width - clock, size.width)
        self._placed = frozenset(boxes)
        with self.app.batch_update():
            for name, zone in self._zones.items():
                box = boxes.get(name)
                if box is not None:
                    zone.styles.offset = (box.x, box.y)
                    zone.styles.width, zone.styles.height = box.width, box.height
            self._uncover()
        self._drawn.clear()

    def _uncover(self) -> None:
        """Show the panel over the steps, figures and tail, or those; nothing else moves."""
        hidden = COVERED if self.panel is not None else ("panel",)
        for name, zone in self._zones.items():
            wanted = name in self._placed and name not in hidden
            if zone.display != wanted:
                zone.display = wanted
                zone.forget()
                self._drawn.pop(name, None)  # type: ignore[call-overload]
                if name == "figures":
                    self.shown.prompt = None

    def tick(self) -> None:
        """Once a second: the clocks, what is due, and presses that still wait for the disk."""
        now = self.now_stamp()
        self.session.look(now)
        self._notice(now)
        self._paint()

    def _notice(self, now: Stamp) -> None:
        """Write down what the clocks did, as long as the case takes entries."""
        if self.clock_watch is None or self.case.seal is not None or self.case.plan is None:
            return
        for found in self.clock_watch.notices(now):
            self.send(NoticeClock(press=press_id(), found=found), now)

    def view(self, hurry: bool = False) -> View:
        """The case as it stands, ready to draw."""
        case = self.session.case
        title, lines = self.viewing.steps(case)
        if title != self._steps_of:
            self._steps_of = title
            self.step_at = presses.first_open(lines)
        self.step_at = max(0, min(self.step_at, len(lines) - 1))
        if not hurry or self._ticked is None:
            self._ticked = self.now_stamp()
        return self.viewing.view(
            case,
            self._ticked,
            save=self.session.save,
            step_at=self.step_at,
            answer=self.dropped.told_with(both(self.answer, self.held_back.words), time.monotonic())
            or self.console.script_words(),
            keys=footer.keys_for(case, self.panel, read_only=self.read_only),
            panel=self.panel.id if self.panel else None,
            hurry=hurry,
        )

    def _paint_press(self) -> None:
        """Answer a press at once; the clocks, the trace and the figures follow when the hand has left the key."""
        self._paint(hurry=True)
        if self._rest is None:
            self._rest = self.set_timer(REST_S, self.console.safely(self._paint_rest))
        else:
            self._rest.reset()

    def _paint_rest(self) -> None:
        """What a press did not have to wait for."""
        self._rest = None
        self._paint()

    def _paint(self, hurry: bool = False) -> None:
        if not self._zones or not self.is_mounted:
            return
        view = self.view(hurry)
        self.shown.called(view.expected.slot if view.expected is not None else None, time.monotonic())
        for name in ZONES:
            if hurry and name in SLOW_ZONES:
                continue
            stands = tuple(getattr(view, field) for field in WATCHED.get(name, ()))
            if stands and same(self._drawn.get(name), stands):
                continue
            self._drawn[name] = stands
            if name == "figures" and self._zones[name].display:
                self.shown.prompt = view.prompt
            draw = drawer(name, view)
            for zone in (self._zones[name], self._zones["clock"]) if name == "now" else (self._zones[name],):
                if zone.display:
                    zone.show(draw)
        if self.panel is not None:
            panel, plain = self.panel, view.plain
            saved = view.save.words.replace("saved", "SAVED", 1)
            self._zones["panel"].show(lambda width, height: panel.draw(width, height, plain, saved))

    # --- the keys -----------------------------------------------------------------------------------------

    def take(self, press: Press) -> None:
        """One key press, stamped."""
        self.console.hand.take(self, press)

    def act(self, press: Press) -> None:
        """What it does. The panel has the first word, then the key table."""
        self.answer, self.back = "", None
        self.dropped.seen(press.at)
        waited = self.session.waiting
        if self.panel is None or not self.panel.key(press):
            line = find(press.key, self.where)
            if line is None:
                self.tell(f"{printed(press.key, press.character)} does nothing here; F1 shows the keys")
            elif line.logs and press.at - self.opened_at < SETTLE_S:
                self.not_taken(press, "this screen had just opened")
            else:
                self._act(line, press)
        if waited or not self.session.waiting:
            # Else the acknowledgement paints, or the word "writing" if it takes long enough to be seen.
            self._paint_press()

    @property
    def standing(self) -> object:
        """What the keys are for just now."""
        return self, self.panel

    @property
    def bounce_s(self) -> float:
        """Within so many seconds the core refuses a second call and says so in the log."""
        return self.case.checklist.bounce_ms / 1000

    def kind(self, press: Press) -> Kind:
        """What a press would do, for the guard against a key that is held down."""
        return kind_in_case(press, self.panel, find(press.key, self.where))

    def not_taken(self, press: Press, why: str) -> None:
        """Name a key that was not taken, for a while."""
        self.dropped.seen(press.at)
        self.dropped.add(printed(press.key, press.character), why, press.at)
        self._paint_press()

    def paste(self, text: str) -> None:
        """Pasted text goes where text is typed, and nowhere else."""
        if self.panel is not None:
            self.panel.paste(text)
            self._paint_press()

    @property
    def where(self) -> Where:
        """Which column of the key table applies."""
        if self.panel is None:
            return "case"
        return "typing" if self.panel.typing else "list"

    def _act(self, line: Key, press: Press) -> None:
        if line.id == "back":
            self.turn(None)
        elif line.id in ("down", "up"):
            self.step_at += 1 if line.id == "down" else -1
            if presses.marked(self) is None and not self.viewing.steps(self.case)[1]:
                self.tell("there are no steps here")
        elif line.id == "quit":
            self.turn(presses.quit_panel(self, self.console))
        elif line.id in presses.RECORDS:
            presses.RECORDS[line.id](self, press)
        else:
            panel = presses.open_panel(line.id, self)
            if panel is not None:
                self.turn(panel)

    # --- the desk of the panels ---------------------------------------------------------------------------

    @property
    def console(self) -> Console:
        """The program."""
        return self.app  # type: ignore[return-value]

    @property
    def case(self) -> Case:
        return self.session.case

    @property
    def head_hex(self) -> str:
        return self.session.head_hex

    def press_id(self) -> str:
        return press_id()

    def now(self) -> Stamp:
        return self.now_stamp()

    def send(self, intent: Intent, stamp: Stamp) -> None:
        self.held_back.sent(stamp, self.back, self.panel)
        self.session.send(intent, stamp)
        self.console.watch_writing(self.session)

    def ask(
        self, make: Callable[[Case], Intent | None], stamp: Stamp, unless: Callable[[Case], str] | None = None
    ) -> None:
        """Record something that depends on what the presses before it become. ``unless``: why it is not, or ""."""
        self.held_back.sent(stamp, self.back, self.panel)
        self.session.ask(make, stamp, unless=unless)
        self.console.watch_writing(self.session)

    def ask_held(self) -> bool:
        """Ask for what a press wanted while something else was open; False if nothing waits for that."""
        held = self.held_back.next()
        if held is not None:
            self.turn(presses.panel_for(self, *held))
        return held is not None

    def shown_call(self, at: float) -> Slot | None:
        """The call that was on the screen at that moment of the machine's own clock."""
        return self.shown.call_at(at)

    def shown_prompt(self) -> Prompt | None:
        """The reminder that can be read on the screen just now."""
        return self.shown.prompt

    def turn(self, panel: Panel | None) -> None:
        opened_or_closed = (panel is None) != (self.panel is None)
        if self.panel is not None and panel is None:
            self.back = self.panel
        self.panel = panel
        if opened_or_closed and self._zones:
            with self.app.batch_update():
                self._uncover()
            self._paint_press()
        else:
            self._paint_press()

    def tell(self, words: str) -> None:
        self.answer = words

    def tell_late(self, words: str) -> None:
        """What came of a press once it was written. A key pressed since then has been answered, and stays answered."""
        self.answer = both(self.answer, words)

    # --- the session's listener ---------------------------------------------------------------------------

    def case_changed(self, events: tuple[Event, ...]) -> None:
        presses.after(self, events)
        self._paint_press()
        if self.case.seal is not None and self.console.folder is not None:
            self.console.safely(presses.keep_summary)(self.case, self.head_hex, self.console.folder)

    def refused(self, refusal: Refusal) -> None:
        """Say why. What the press itself asked for by needing it, a reason or a second Enter, opens here.

        It does not push away what somebody is at by now.
        """
        back, elsewhere = self.held_back.back_of(refusal, self.panel)
        if refusal.why.needs == "none":
            self.answer = both(refusal.why.reason, self.answer)
            presses.not_settled(self)
        elif elsewhere:
            self.held_back.hold(refusal, back)
        else:
            self.turn(presses.panel_for(self, refusal, back))
        self._paint_press()

    def save_changed(self) -> None:
        if not self.session.waiting:
            presses.not_settled(self)
        self._paint_press()
