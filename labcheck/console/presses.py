"""What each key of the table does in a running case, and which panel it opens (loaded when it is first asked for)."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING

from labcheck.caselog.case import Case
from labcheck.caselog.intents import (
    EnergyOff,
    EnergyOn,
    Intent,
    OpenStage,
    SetMark,
    SilencePrompt,
    StartRun,
    StopRun,
    Undo,
)
from labcheck.caselog.steps import StepLine
from labcheck.caselog.telling import took_back
from labcheck.checklist import finding
from labcheck.console.bound import Once, only_as_shown
from labcheck.console.keys import by_id
from labcheck.console.opening import press_id

if TYPE_CHECKING:
    from pathlib import Path

    from labcheck.caselog.events import Event
    from labcheck.console.app import Console
    from labcheck.console.case_screen import CaseScreen
    from labcheck.console.panels.panel import Panel, Press
    from labcheck.console.session import Refusal

PANELS = {
    "bailout": ("bailout", "open_panel"),
    "attempt": ("attempt", "open_panel"),
    "reading": ("reading", "open_panel"),
    "drug": ("drug", "open_panel"),
    "device": ("things", "device_panel"),
    "fault": ("things", "fault_panel"),
    "note": ("things", "note_panel"),
    "decision": ("things", "decision_panel"),
    "runs": ("things", "runs_panel"),
    "late": ("late", "open_panel"),
    "cusp": ("cusp", "open_panel"),
    "stages": ("stages", "open_panel"),
    "entries": ("entries", "open_panel"),
    "handover": ("handover", "open_panel"),
    "clocks": ("clocks", "open_panel"),
    "signout": ("signout", "open_panel"),
    "help": ("help", "help_panel"),
    "sources": ("help", "sources_panel"),
    "debrief": ("looking_back", "open_panel"),
    "takeover": ("takeover", "open_panel"),
}
"""Key id -> file of ``panels`` and the function in it that makes the panel."""

AFTER_SEAL = ("signout", "entries", "late", "help", "sources", "debrief", "step_other", "takeover")


def open_panel(key_id: str, screen: CaseScreen) -> Panel | None:
    """The panel of a key, or None with the reason told."""
    if screen.case.seal is not None and key_id not in AFTER_SEAL:
        screen.tell("the case is sealed: E corrects, L adds what became known later")
        return None
    if key_id == "step_other":
        line = marked(screen)
        if line is None:
            screen.tell("no step is marked")
            return None
        made: Panel = _module("step").other(screen, line)
        return made
    file, maker = PANELS[key_id]
    panel: Panel | None = getattr(_module(file), maker)(screen)
    return panel


def _module(file: str):  # type: ignore[no-untyped-def]
    return import_module(f"labcheck.console.panels.{file}")


def marked(screen: CaseScreen) -> StepLine | None:
    """The step that is marked."""
    _, lines = screen.viewing.steps(screen.case)
    return lines[screen.step_at] if 0 <= screen.step_at < len(lines) else None


def first_open(lines: tuple[StepLine, ...]) -> int:
    """Where the mark stands when a stage opens: at the first step without an answer."""
    return next((at for at, line in enumerate(lines) if line.state == "open"), 0)


# --- the keys that record at once -------------------------------------------------------------------------


def call(screen: CaseScreen, press: Press) -> None:
    """Enter: the call that was on the screen when it was pressed, and no other. A question that waits comes first."""
    if screen.ask_held():
        return
    intent = OpenStage(press=press_id())
    screen.ask(lambda _case: intent, press.stamp, only_as_shown(screen.shown_call(press.at), intent, press.stamp))


def energy(screen: CaseScreen, press: Press) -> None:
    """Space: on or off, as the case stands when the presses before it are written."""
    visit = screen.case.visit
    stage = finding.stage(screen.case.checklist, visit.stage) if visit else None
    nowhere = (stage is None or stage.attempts is None) and screen.case.burst is None
    if nowhere and not screen.session.waiting:
        screen.tell("there is no energy in this stage")
        return
    press_key = press_id()

    def make(case: Case) -> Intent:
        if case.burst is not None:
            return EnergyOff(press=press_key)
        # The setting is not recorded: nobody said it at this key. It can be added to the burst in the entries panel.
        return EnergyOn(press=press_key)

    screen.ask(make, press.stamp)


def step_done(screen: CaseScreen, press: Press) -> None:
    """Right: the marked step is done, or opens for its value. The mark moves on to the next open step."""
    line = marked(screen)
    if line is None:
        screen.tell("no step is marked")
        return
    if line.state in ("done", "value"):
        screen.tell("answered already; Left changes the answer")
        return
    desk = Once(screen, line) if line.step.kind == "done" else screen
    _module("step").answer(desk, line, press)


def mark(screen: CaseScreen, press: Press) -> None:
    """F2: this moment."""
    screen.send(SetMark(press=press_id()), press.stamp)


def run_switch(*names: str) -> Callable[[CaseScreen, Press], None]:
    """A key that switches a run on and off; the first of ``names`` that the checklist has."""

    def switch(screen: CaseScreen, press: Press) -> None:
        known = [name for name in names if finding.run(screen.case.checklist, name) is not None]
        if not known:
            screen.tell(f"this checklist has no {names[0]}; P lists what can be switched on and off")
            return
        run, press_key = known[0], press_id()

        def make(case: Case) -> Intent:
            on = any(spell.run == run and spell.end is None for spell in case.spells)
            return StopRun(press=press_key, run=run) if on else StartRun(press=press_key, run=run)

        screen.ask(make, press.stamp)

    return switch


def undo(screen: CaseScreen, press: Press) -> None:
    """F9: void the last press that still counts."""
    screen.send(Undo(press=press_id()), press.stamp)


def silence(screen: CaseScreen, press: Press) -> None:
    """The reminder on the screen stays away for the rest of this case; one that a panel hides is not silenced."""
    shown = screen.shown_prompt()
    if shown is None:
        screen.tell("no reminder is on the screen")
    else:
        screen.send(SilencePrompt(press=press_id(), prompt=shown.id), press.stamp)


RECORDS: dict[str, Callable[[CaseScreen, Press], None]] = {
    "call": call,
    "energy": energy,
    "step_done": step_done,
    "mark": mark,
    "pacing": run_switch("pacing"),
    "compressions": run_switch("compressions", "cpr"),
    "undo": undo,
    "silence": silence,
}
"""Key id -> what it records."""


# --- what follows a press ---------------------------------------------------------------------------------


def after(screen: CaseScreen, events: tuple[Event, ...]) -> None:
    """Move the mark on past a step that was just answered, and go on in a list that was being worked through."""
    kinds: set[str] = {event.kind for event in events}
    undone = took_back(screen.case, events)
    if undone:
        screen.tell_late(undone)
    if "step.answered" in kinds:
        _, lines = screen.viewing.steps(screen.case)
        for at in range(screen.step_at, len(lines)):
            if lines[at].state == "open":
                screen.step_at = at
                break
    _sign_out_goes_on(screen, kinds)


def _sign_out_goes_on(screen: CaseScreen, kinds: set[str]) -> None:
    """The list comes back after a settlement, the line for paper after the seal; neither over something else."""
    panel = screen.panel
    waits = panel is not None and panel.id == "signout-waiting"
    if (waits and "signout.settled" in kinds) or (panel is None and "case.sealed" in kinds):
        screen.turn(open_panel("signout", screen))
    elif "case.sealed" in kinds:
        screen.tell_late(f"the case is sealed; {by_id('signout').shown} shows the line for paper")


def not_settled(screen: CaseScreen) -> None:
    """A settlement came to nothing: the list is shown again, and nothing that looks as if it were being written."""
    if screen.panel is not None and screen.panel.id == "signout-waiting":
        screen.turn(open_panel("signout", screen))


def keep_summary(case: Case, head_hex: str, folder: Path) -> None:
    """Keep the sealed case's figures for later comparisons, so that no debrief has to read every old log first."""
    from labcheck.debrief.kept import add
    from labcheck.debrief.summary import summarise

    add(folder, summarise(case, head_hex))


def panel_for(screen: CaseScreen, refusal: Refusal, back: Panel | None) -> Panel:
    """The panel that a refused press asked for: a reason, or a second Enter."""
    if refusal.why.needs in ("accept", "reset"):
        made: Panel = _module("accept").Accept(screen, refusal, back)
    else:
        made = _module("reasons").for_refusal(screen, refusal)
    return made


def quit_panel(screen: CaseScreen, console: Console) -> Panel:
    """Leaving is asked. An unfinished case is never closed by it."""
    pick = _module("pick")
    leaving = import_module("labcheck.console.leaving")

    def go_home(_press: Press) -> None:
        if screen.session.waiting:
            screen.tell(leaving.not_yet(screen.session))
        else:
            console.go_home()

    items = [
        pick.Item("quit the program", lambda _press: console.leave()),
        pick.Item("to the first screen", go_home),
    ]
    made: Panel = pick.Pick(screen, "QUIT?", items, leaving.lead(screen.session), "quit")
    return made
