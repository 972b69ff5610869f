"""The case in the order in which it happened, every entry with the corrections that were made to it."""

from __future__ import annotations

from dataclasses import dataclass

from labcheck.caselog.case import Case
from labcheck.caselog.events import AddendumAdded, Event, StepAnswered
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.ordering import by_happening
from labcheck.caselog.stamps import Moment, span
from labcheck.caselog.telling import clock_words, correction_words, late_words, span_words, tell
from labcheck.checklist import finding


@dataclass(frozen=True, slots=True)
class Line:
    """One entry. ``since`` is the time from the start of access ("+0:12:05"), empty where access never began.

    ``mark`` is empty, "VOID", "AMENDED" or "AFTER SEAL". ``notes`` are the corrections beside it, oldest first.
    """

    seq: int
    time: str
    since: str
    words: str
    late: str
    mark: str
    notes: tuple[str, ...]


def timeline(case: Case) -> tuple[Line, ...]:
    """Every entry but the corrections, which stand beside what they correct, and the answers that a reading,
    dose or decision gave to a step by itself, which stand behind it.

    Entries keep their order; one entered late stands where it happened.
    """
    about: dict[int, list[Event]] = {}
    for event in case.log:
        if event.target is not None:
            about.setdefault(event.target, []).append(event)
    answers = _answers_given(case)
    given = {seq for seqs in answers.values() for seq in seqs}
    shown = [e for e in case.log if e.target is None and e.seq not in given]
    moments = {e.seq: _stands(case, e) for e in shown}
    access = _access(case)
    ordered = by_happening(case, ((moments[e.seq], e.seq, e) for e in shown))
    return tuple(_line(case, e, moments[e.seq], about, access, answers.get(e.seq, ())) for e in ordered)


def _answers_given(case: Case) -> dict[int, tuple[int, ...]]:
    """Entry of a reading, dose or decision -> entries of the steps it answered in the same press."""
    out: dict[int, tuple[int, ...]] = {}
    giver: dict[str, int] = {}
    for event in case.log:
        if event.kind in ("reading.taken", "dose.given", "decision.made"):
            giver.setdefault(event.press, event.seq)
        elif event.kind == "step.answered" and event.press in giver and event.seq not in case.amended:
            out[giver[event.press]] = (*out.get(giver[event.press], ()), event.seq)
    return out


def _stands(case: Case, event: Event) -> Moment:
    found = effective_payload(case, event.seq)
    return found[1] if found is not None else event.happened


def _access(case: Case) -> Moment | None:
    return next((v.start for v in case.visits if v.stage == case.checklist.access_stage), None)


def _line(
    case: Case,
    event: Event,
    at: Moment,
    about: dict[int, list[Event]],
    access: Moment | None,
    answers: tuple[int, ...],
) -> Line:
    mark = "AFTER SEAL" if isinstance(event.what, AddendumAdded) else ""
    if event.seq in case.voided:
        mark = "VOID"
    elif event.seq in case.amended:
        mark = "AMENDED"
    since = since_words(span(access, at).us) if access is not None else ""
    words = tell(case, event)
    if answers:
        words = f"{words} (answers {', '.join(_step_words(case, seq) for seq in answers)})"
    notes = [note for seq in (event.seq, *answers) for note in _corrections(case, seq, about)]
    return Line(event.seq, clock_words(at), since, words, late_words(event), mark, tuple(notes))


def _step_words(case: Case, seq: int) -> str:
    event = case.event(seq)
    if event is None or not isinstance(event.what, StepAnswered):
        return str(seq)
    step = finding.step(case.checklist, event.what.stage, event.what.step)
    return f"{step.say if step is not None else event.what.step} [{seq}]"


def since_words(us: int) -> str:
    """A time from access with its sign: "+12:05", "-8:00"."""
    words = span_words(us)
    return words if words.startswith("-") else f"+{words}"


def _corrections(case: Case, seq: int, about: dict[int, list[Event]]) -> list[str]:
    """The corrections of one entry, and the corrections of those, each on a line of its own."""
    out = []
    for event in about.get(seq, []):
        undone = ", itself voided" if event.seq in case.voided else ""
        out.append(f"{event.seq} at {clock_words(event.entered)}: {correction_words(case, event)}{undone}")
        out.extend(_corrections(case, event.seq, about))
    return out
