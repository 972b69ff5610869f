"""The parts of the page, each with the table that says the same as its drawing."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.caselog.case import Case
from labcheck.caselog.deviations import deviations
from labcheck.caselog.trace import LETTERS
from labcheck.debrief.comparing import compared, place_words
from labcheck.debrief.facts import (
    ATTEMPT_HEAD,
    BAILOUT_HEAD,
    CAUTION,
    KINDS,
    about_lines,
    attempt_rows,
    bailout_rows,
    deviation_lines,
    interval_rows,
    record_lines,
    row_cells,
    signout_lines,
    tally_lines,
)
from labcheck.debrief.history import History
from labcheck.debrief.notes import Debriefing
from labcheck.debrief.page.comparison import below_words, today_words
from labcheck.debrief.page.markup import Markup, bullets, el, table, time
from labcheck.debrief.page.swim import drawings
from labcheck.debrief.timeline import Line, timeline
from labcheck.ledger.chain import short_head

LETTER_WORDS = (
    "E energy, R reading, S sample sent, D drug, V device, F fault, N note, M mark, B bailout, A cusp abandoned, "
    "O order changed, C decision, H hold passed, P handover, K clock, x undone or voided, ~ amended, + added "
    "after the seal, Z sealed. A hollow dot was corrected, a square was entered late, hatched was left or abandoned."
)


def title(case: Case) -> Markup:
    """Which case this is, and the caution."""
    parts = [el("h1", None, f"Debrief {case.key}")]
    if case.rehearsal:
        parts.append(el("p", {"class": "rehearsal"}, "REHEARSAL, NOT A REAL CASE"))
    parts.append(el("p", None, el("strong", None, case.checklist.title)))
    parts += [
        el("p", {"class": "warn" if line.startswith("NOT SEALED") else "quiet"}, line)
        for line in about_lines(case)
    ]
    parts.append(el("p", {"class": "caution"}, CAUTION))
    return el("header", None, *parts)


def glance(case: Case, history: History) -> Markup:
    """The first page: how it ended, the few times that matter, and how many things went another way."""
    found = deviations(case)
    rows: list[tuple[Markup | str, ...]] = []
    for row in interval_rows(case):
        one = compared(history, row.id, row.title)
        rows.append((row.title, time(row_cells(row)[2]), place_words(one) or below_words(one)))
    counts = [f"{name}: {len(deviation_lines(found, kind))}" for kind, name in KINDS]
    return el(
        "section",
        None,
        el("h2", None, "At a glance"),
        el("p", None, today_words(history)),
        table("The intervals that the checklist names", ("interval", "today", "today's place"), rows, "wrap"),
        el("h3", None, "Where it went another way, counted and not scored"),
        bullets(counts),
        el("h3", None, "The record itself"),
        bullets(record_lines(case)[:1]),
    )


def lanes(case: Case) -> Markup:
    """The swim lanes, with the details of dense stretches."""
    key = el("p", {"class": "quiet"}, LETTER_WORDS)
    return el("section", None, el("h2", None, "What happened"), *drawings(case), key)


def facts(case: Case) -> Markup:
    """Attempts, bailouts, deviations and the rest, as facts."""
    found = deviations(case)
    parts: list[Markup] = [el("h2", None, "Where it went another way")]
    empty = []
    for kind, name in KINDS:
        lines = deviation_lines(found, kind)
        if lines:
            parts += [el("h3", None, f"{name} ({len(lines)})"), bullets(lines)]
        else:
            empty.append(name)
    if empty:
        parts.append(el("p", {"class": "none"}, f"None of these: {'; '.join(empty)}."))
    attempts: list[tuple[Markup | str, ...]] = list(attempt_rows(case))
    bailouts: list[tuple[Markup | str, ...]] = list(bailout_rows(case))
    return el(
        "section",
        None,
        *parts,
        el("h2", None, "Attempts, bailouts, tallies"),
        table("Attempts", ATTEMPT_HEAD, attempts),
        table("Bailouts", BAILOUT_HEAD, bailouts),
        el("h3", None, "Tallies at the end"),
        bullets(tally_lines(case)),
        el("h3", None, "Sign-out items settled by a reason"),
        bullets(signout_lines(case)),
        el("h3", None, "The record itself"),
        bullets(record_lines(case)),
    )


def whole_timeline(case: Case) -> Markup:
    """Every entry, which is also the key of the swim lanes."""
    rows: list[tuple[Markup | str, ...]] = [
        (_number(case, line), time(line.time), time(line.since), _told(line)) for line in timeline(case)
    ]
    head = ("entry", "time", "since access", "what")
    return el(
        "section",
        None,
        el("h2", None, "Timeline"),
        table("Every entry in the order of happening", head, rows, "long"),
    )


def _number(case: Case, line: Line) -> str:
    event = case.event(line.seq)
    letter = LETTERS.get(event.kind, "") if event is not None else ""
    return f"{letter}{line.seq}"


def _told(line: Line) -> Markup:
    words = "  ".join(part for part in (line.mark, line.late, line.words) if part)
    notes = (el("div", {"class": "quiet"}, f"corrected: {note}") for note in line.notes)
    return el("span", None, words) + Markup("".join(note.html for note in notes))


def writing(notes: Debriefing | None) -> Markup:
    """What was written down before, and room for plus, delta and actions: roles and never names."""
    parts: list[Markup] = [el("h2", None, "To be filled in by hand: no names, no ranking")]
    if notes is not None and (notes.learned or notes.actions):
        parts.append(el("h3", None, "Written down at an earlier debrief, beside the sealed log"))
        parts.append(bullets([*(n.words for n in notes.learned), *(a.words for a in notes.actions)]))
    for name in ("What went well (plus)", "What to change (delta)"):
        parts += [
            el("h3", None, name),
            el("div", {"class": "write"}, *(el("p", None, " ") for _ in range(3))),
        ]
    empty: list[tuple[Markup | str, ...]] = [(str(n), "", "", "") for n in (1, 2, 3)]
    parts.append(table("Actions", ("action", "what", "owner's role", "by which date"), empty, "blank"))
    return el("section", {"class": "together"}, *parts)


def foot(case: Case, head: str, count: int) -> Markup:
    """Whether this is the whole record."""
    return el("footer", None, el("h2", None, "Whether this is the whole record"), *_foot(case, head, count))


def _foot(case: Case, head: str, count: int) -> Iterator[Markup]:
    yield el(
        "p", None, f"Entries in the ledger: {count}. Head, short form: ", el("strong", None, short_head(head))
    )
    yield el("p", {"class": "digest"}, f"head digest {head}")
    yield el("p", {"class": "digest"}, f"checklist digest {case.checklist_digest or 'none'}")
    if count != len(case.log):
        yield el(
            "p", {"class": "warn"}, f"CAUTION: made from {len(case.log)} entries, the ledger holds {count}."
        )
