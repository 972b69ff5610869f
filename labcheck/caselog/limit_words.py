"""Limits as a screen says them: each with where it comes from, short where a row has no room for the whole citation.

The short form is the first author and the year, "local" for what is common practice and so each site's own, or the
beginning of what the checklist says of its source. The whole citation stands on the sources key.
"""

from __future__ import annotations

import re

from labcheck.caselog.case import Case
from labcheck.caselog.holds import Unmet
from labcheck.caselog.levels import source_line
from labcheck.checklist import finding
from labcheck.checklist.conditions import Condition
from labcheck.checklist.words import Number

VERIFY = "verify locally"
_LOCAL = ("(common practice, no source)", "(practice)")
_YEAR = re.compile(r"\b(?:19|20)\d\d\b")


def tag(line: str) -> str:
    """The short form of a whole source line, "Gurm 2011", "local"; "no source" where none is given."""
    if not line or line.startswith("no source given"):
        return "no source"
    cited = line.removesuffix(f"; {VERIFY}")
    if cited.endswith(_LOCAL):
        return "local"
    head = re.split(r"[:(;]", cited, maxsplit=1)[0].strip()
    author = head.partition(",")[0].strip()
    year = _YEAR.search(head)
    return author if year is None or year[0] in author else f"{author} {year[0]}"


def hold_tag(case: Case, stage_id: str, hold_id: str) -> str:
    """The short source of a hold that asks for a number or a time; "" for any other."""
    stage = finding.stage(case.checklist, stage_id)
    hold = finding.by_id(stage.hold, hold_id) if stage is not None else None
    if hold is None or not any(_limits(need) for need in hold.need):
        return ""
    return tag(source_line(case, hold.source))


def _limits(need: Condition) -> bool:
    return any(limit is not None for limit in (need.at_least, need.at_most, need.within_min))


def unmet_words(case: Case, stage_id: str, one: Unmet) -> str:
    """What is not yet true, with the short source of the limit in it."""
    source = hold_tag(case, stage_id, one.hold)
    return f"{one.text} ({source})" if source else one.text


def usual_words(case: Case, low: Number | None, high: Number | None, source_id: str | None) -> str:
    """The range of a value, "usual 70 to 999", with its whole source; "" where there is none."""
    if low is None and high is None:
        return ""
    span = f"usual {'any' if low is None else low} to {'any' if high is None else high}"
    return f"{span}: {source_line(case, source_id)}"
