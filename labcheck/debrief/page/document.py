"""The whole page. The same log, history and notes give the same bytes: no date of making, no chance."""

from __future__ import annotations

from labcheck.caselog.case import Case
from labcheck.debrief.history import History, alone
from labcheck.debrief.notes import Debriefing
from labcheck.debrief.page import comparison, sections
from labcheck.debrief.page.markup import Markup, el, text
from labcheck.debrief.page.style import CSS, policy
from labcheck.debrief.summary import summarise


def page(
    case: Case, head: str, count: int, history: History | None = None, notes: Debriefing | None = None
) -> bytes:
    """The debrief of a case as one HTML file in UTF-8.

    ``head``: the digest of the case's last entry, hex; ``count``: how many entries the ledger holds for it;
    ``notes``: those of this case.
    """
    beside = history or alone(summarise(case, head))
    body = el(
        "main",
        None,
        sections.title(case),
        sections.glance(case, beside),
        # What a team needs in its ten minutes comes first and ends with the lines to write on.
        sections.lanes(case),
        sections.facts(case),
        sections.writing(notes),
        comparison.intervals(case, beside),
        comparison.trends(case, beside),
        comparison.success(beside),
        sections.whole_timeline(case),
        sections.foot(case, head, count),
    )
    reality = ", REHEARSAL" if case.rehearsal else ""
    return shell(f"Debrief {case.key}{reality}", body)


def shell(title: str, body: Markup) -> bytes:
    """A whole file around a body: its own style, and nothing from anywhere."""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy()}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="referrer" content="no-referrer">\n'
        f"<title>{text(title).html}</title>\n<style>{CSS}</style>\n</head>\n<body>\n{body.html}\n</body>\n</html>\n"
    ).encode()
