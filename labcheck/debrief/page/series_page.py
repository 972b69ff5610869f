"""Series of own cases, and two sets of them beside each other, as one HTML file. Real cases only.

The same cases, logs and agreements give the same bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

from labcheck.debrief.agreed import Agreed
from labcheck.debrief.arms import Arms
from labcheck.debrief.arms_words import about_words, cautions, difference_words, set_words, shift_words
from labcheck.debrief.page import series_sections as sections
from labcheck.debrief.page.comparison import published
from labcheck.debrief.page.document import shell
from labcheck.debrief.page.markup import Markup, bullets, el, table
from labcheck.debrief.page.series_charts import shift_picture
from labcheck.debrief.summary import Summary
from labcheck.reference.statistics.ranks import Shift

CAUTION = (
    "Facts of the team's own cases, as they were recorded. No advice, no ranking, no judgement of anybody: local "
    "protocol and the licensed physician decide. Verify locally. For the team's own learning."
)


def series_page(
    groups: Sequence[Sequence[Summary]], agreed: Agreed, left_out: Sequence[tuple[str, int]] = ()
) -> bytes:
    """Every comparable series, the largest first, as one file. Raises ``ValueError`` where one holds a rehearsal."""
    _real(case for group in groups for case in group)
    parts = [sections.series(n, cases, agreed) for n, cases in enumerate(groups)]
    techniques = dict.fromkeys(cases[-1].technique for cases in groups)
    context = [el("section", None, published(technique)) for technique in techniques]
    body = el("main", None, _top("Series of own cases", left_out), *parts, *context, _foot(groups))
    return shell("Series of own cases", body)


def arms_page(pairs: Sequence[Arms]) -> bytes:
    """Two sets beside each other, pair by pair, as one file. Raises ``ValueError`` where one holds a rehearsal."""
    _real(case for pair in pairs for cases in pair.sets for case in cases)
    parts = [_pair(n, pair) for n, pair in enumerate(pairs)]
    sets = [cases for pair in pairs for cases in pair.sets]
    return shell(
        "Two sets of own cases", el("main", None, _top("Two sets of own cases", ()), *parts, _foot(sets))
    )


def _real(cases: Iterable[Summary]) -> None:
    for case in cases:
        if case.rehearsal:
            raise ValueError(f"case {case.case} is a rehearsal, and this page holds real cases only")


def _top(title: str, left_out: Sequence[tuple[str, int]]) -> Markup:
    left = "; ".join(f"{why}: {n}" for why, n in left_out)
    return el(
        "header",
        None,
        el("h1", None, title),
        *([el("p", {"class": "quiet"}, f"Left out: {left}.")] if left else []),
        el("p", {"class": "caution"}, CAUTION),
    )


def _pair(n: int, pair: Arms) -> Markup:
    counts: list[tuple[Markup | str, ...]] = [
        (one.what, one.first.text(), one.second.text(), difference_words(one)) for one in pair.counts
    ]
    times: list[tuple[Markup | str, ...]] = [
        (one.title, *set_words(one), shift_words(one)) for one in pair.times
    ]
    drawn = [one for one in pair.times if isinstance(one.shift, Shift)]
    figure = (
        el(
            "figure",
            None,
            shift_picture(f"shift{n}", pair),
            el(
                "figcaption",
                None,
                "How much longer B took: shift (diamond) with its exact interval (bar), each line to its own scale",
            ),
        )
        if drawn
        else el(
            "p", {"class": "none"}, "No shift is drawn: the sets are too small or have no time in common."
        )
    )
    return el(
        "section",
        {"class": "fresh"} if n else None,
        el("h2", None, pair.about),
        *(el("p", None, words) for words in about_words(pair)),
        table("Counts in both sets", ("what", "A", "B", "B less A"), counts, "wrap together"),
        figure,
        table("Times in both sets", ("interval", "A", "B", "how much longer B took"), times, "wrap together"),
        el("h3", None, "What this cannot say"),
        bullets(list(cautions(pair))),
    )


def _foot(groups: Sequence[Sequence[Summary]]) -> Markup:
    """What the page was made from: a digest over the heads, which changes when any of these logs does."""
    heads = sorted({f"{case.case} {case.head}\n" for cases in groups for case in cases})
    digest = hashlib.sha256("".join(heads).encode()).hexdigest()
    return el(
        "footer",
        None,
        el("h2", None, "What this page was made from"),
        el("p", None, f"{len(heads)} sealed cases of this ledger; rehearsals are never among them."),
        el("p", {"class": "digest"}, f"digest over their heads {digest}"),
    )
