"""The page: one inert file that says the same for the same log, and can be read without colour or a picture."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.folding import begin, refold
from labcheck.debrief.agreed import Agreed, Rates
from labcheck.debrief.comparing import lasted_words
from labcheck.debrief.history import History, own_history
from labcheck.debrief.notes import Action, Debriefing, Learned
from labcheck.debrief.page.document import page
from labcheck.debrief.page.markup import ATTRIBUTES, TAGS, el
from tests.caselog.driving import Driver
from tests.debrief.cases import HEAD, ONE, TWO, dense, history_like, played, summary
from tests.debrief.reading_pages import drawings, outside, overlaps, read, words

AGREED = Agreed(
    rates=(
        Rates(
            technique="electrosurgical",
            acceptable=Decimal("0.05"),
            unacceptable=Decimal("0.15"),
            agreed="2031-01-10",
            reason="as agreed",
        ),
    )
)
PAGE_TAGS = TAGS | {"html", "head", "meta", "title", "style", "body"}
PAGE_ATTRIBUTES = {name.lower() for name in ATTRIBUTES} | {"charset", "http-equiv", "content", "name"}
PAYLOADS = (
    "<script>alert(1)</script>",
    "</script><script src=//x.test/a.js></script>",
    "<img src=x onerror=alert(1)>",
    "<svg onload=alert(1)>",
    '" onmouseover="alert(1)',
    "' onfocus='alert(1)' autofocus='",
    "<a href='javascript:alert(1)'>x</a>",
    "javascript:alert(1)",
    "</title><script>alert(1)</script>",
    "</style><script>alert(1)</script>",
    "</text></svg><iframe src=//x.test></iframe>",
    "<!-- --><!--",
    "]]><script>alert(1)</script>",
    "&lt;script&gt;alert(1)&lt;/script&gt;",
    "&#60;script&#62;alert(1)",
    "<style>body{background:url(//x.test)}</style>",
    "<meta http-equiv=refresh content=0;url=//x.test>",
    "<base href=//x.test/>",
    "<form action=//x.test><input name=a>",
    "`;${alert(1)}//{{7*7}}<%= 7 %>",
    "x\u202egnp.exe\u2066",
)


def beside(case: Case, n: int) -> History:
    own = summary(case)
    return own_history(own, history_like(own, n, (1, 4)), AGREED, rehearsals=case.rehearsal)


def made(case: Case, n: int = 14) -> bytes:
    return page(case, HEAD, len(case.log), beside(case, n))


def hostile(payload: str) -> bytes:
    """A page with the payload wherever a person or a local checklist can put words."""
    driver = Driver("left", "right", roles=(payload[:200],))
    driver.at(0).do("stage.open")
    driver.do("step.answer", step="pad", answer="not_done", reason=payload)
    driver.do("note.write", text=payload)
    driver.do("dose.give", drug="heparin", amount=Decimal(5000), note=payload)
    driver.at(5).do("stage.open", stage="cross", cusp="left", reason=payload)
    driver.do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="failed", reason=payload)
    driver.do("bailout.open", bailout="coronary", ostium="left")
    driver.do("bailout.close", outcome="stented", note=payload)
    sound = driver.checklist
    stages = tuple(s.model_copy(update={"title": payload, "big": payload}) for s in sound.stage)
    intervals = tuple(i.model_copy(update={"title": payload}) for i in sound.interval)
    local = sound.model_copy(
        update={"title": payload, "revision": payload, "stage": stages, "interval": intervals}
    )
    case = refold(begin(driver.case.key, local), driver.case.log)
    agreed = Agreed(
        rates=(AGREED.rates[0].model_copy(update={"technique": sound.technique, "reason": payload}),)
    )
    own = summary(case)
    past = [replace(one, technique=sound.technique, revision=payload) for one in history_like(own, 9, (2,))]
    notes = Debriefing((Learned(1, case.key, payload),), (Action(2, case.key, payload, payload, payload),))
    return page(case, HEAD, len(case.log), own_history(own, past, agreed), notes)


def shape(found: bytes) -> list[tuple[str, tuple[str, ...]]]:
    """The elements outside the drawings, whose number of labels depends on the width of words."""
    plain = re.sub(rb"<svg.*?</svg>", b"", found, flags=re.DOTALL)
    return [(tag, tuple(attributes)) for tag, attributes in read(plain).elements]


@pytest.mark.parametrize("payload", PAYLOADS)
def test_whatever_stands_in_the_data_stays_text(payload: str) -> None:
    found = read(hostile(payload))
    for tag, attributes in found.elements:
        assert tag in {name.lower() for name in PAGE_TAGS}
        for name, value in attributes.items():
            assert name in PAGE_ATTRIBUTES
            assert not name.startswith("on")
            assert name not in ("href", "src", "style", "xlink:href")
            assert "javascript:" not in (value or "") or name in ("data-n", "aria-label")
    assert found.comments == 0
    assert payload[:6].strip() in " ".join(found.words) or "\\u" in " ".join(found.words)


def test_no_payload_adds_or_takes_an_element() -> None:
    harmless = shape(hostile("a harmless line of words"))
    for payload in PAYLOADS:
        assert shape(hostile(payload)) == harmless


def test_signs_that_steer_or_hide_are_written_out() -> None:
    said = hostile(PAYLOADS[-1]).decode("utf-8")
    assert "\u202e" not in said
    assert "\u2066" not in said


def test_the_maker_of_elements_knows_no_script_link_or_handler() -> None:
    for tag in ("script", "a", "img", "iframe", "object", "use", "foreignObject", "form", "link"):
        with pytest.raises(ValueError, match="no tag"):
            el(tag)
    for name in ("onclick", "href", "src", "style", "xlink:href"):
        with pytest.raises(ValueError, match="no attribute"):
            el("p", {name: "x"})


def test_the_page_forbids_everything_from_anywhere_and_names_its_style() -> None:
    said = made(played(TWO)).decode("utf-8")
    style = re.search(r"<style>(.*?)</style>", said, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'sha256-{digest}'" in said
    assert not re.findall(r"(?:https?:)?//\w", said)
    assert "url(" not in said.replace("url(#hatch)", "")


@pytest.mark.parametrize("name", [ONE, TWO, "splitter-two-cusps", "anterior-mitral"])
def test_the_same_log_gives_the_same_bytes(name: str) -> None:
    case = played(name)
    again = refold(begin(case.key, case.checklist), case.log)
    assert made(again) == made(case)


@pytest.mark.parametrize("name", [ONE, TWO, "splitter-one-cusp", "splitter-two-cusps", "fused-leaflet"])
def test_no_words_overlap_in_any_drawing_of_a_rehearsal(name: str) -> None:
    for svg in drawings(made(played(name), 26)):
        assert overlaps(svg) == []
        assert outside(svg) == []


def test_no_words_overlap_in_a_case_of_forty_events_in_three_minutes() -> None:
    case = dense()
    start = case.log[0].happened.wall_us
    minutes = [(e.happened.wall_us - start) / 60e6 for e in case.log]
    crowd = [minute for minute in minutes if 40 <= minute < 43]
    assert len(crowd) >= 40
    found = drawings(made(case))
    assert len([svg for svg in found if "Detail" in (svg[0].text or "")]) == 1
    for svg in found:
        assert overlaps(svg) == []
        assert outside(svg) == []


def test_every_entry_that_is_drawn_as_a_mark_is_drawn_with_its_label_exactly_once() -> None:
    case = dense()
    swims = [svg for svg in drawings(made(case)) if "swim lanes" in (svg[0].text or "")]
    labels = [text.text or "" for svg in swims for text in svg.iter("text")]
    for event in case.log:
        if event.kind == "energy.started":
            assert labels.count(f"E{event.seq}") == 1
        if event.kind == "dose.given":
            assert labels.count(f"D{event.seq}") == 1


def test_a_hundred_entries_at_one_moment_get_one_label_and_a_dot_each() -> None:
    driver = Driver("left")
    driver.at(5)
    for number in range(100):
        driver.do("note.write", text=f"note {number}")
        driver.at(5)
    driver.at(60).do("note.write", text="the last")
    first, last = (
        e.seq for e in driver.case.log if e.what in (driver.case.log[1].what, driver.case.log[100].what)
    )
    made_of = drawings(made(driver.case, 0))
    labels = [text.text or "" for svg in made_of for text in svg.iter("text")]
    assert labels.count(f"N{first} to N{last}, 100 entries") == 1
    titles = [title.text or "" for title in made_of[0].iter("title")]
    for event in driver.case.log[1:]:
        assert any(title.startswith(f"[{event.seq}] ") for title in titles)
    assert all(overlaps(svg) == [] for svg in made_of)


def test_every_mark_says_what_it_is_when_pointed_at() -> None:
    for svg in drawings(made(played(TWO))):
        for group in svg.iter("g"):
            if group.attrib.get("class") in ("axis", "lane"):
                continue
            assert group[0].tag == "title"
            assert (group[0].text or "").strip()


def test_every_drawing_and_table_has_a_name() -> None:
    found = read(made(played(TWO)))
    ids = [attributes.get("id") for _, attributes in found.elements if attributes.get("id")]
    assert len(ids) == len(set(ids))
    for tag, attributes in found.elements:
        if tag == "svg":
            assert attributes["role"] == "img"
            assert attributes["aria-labelledby"] in ids
        if tag == "th":
            assert attributes["scope"] in ("col", "row")
    tags = [tag for tag, _ in found.elements]
    assert tags.count("caption") == tags.count("table")


def test_the_timeline_table_says_every_entry_that_the_drawing_shows() -> None:
    case = played(TWO)
    said = words(made(case))
    for svg in drawings(made(case)):
        if "swim lanes" in (svg[0].text or ""):
            for text in svg.iter("text"):
                if re.fullmatch(r"[A-Z]\d+", text.text or ""):
                    assert said.count(text.text or "") >= 2


def test_what_the_run_chart_draws_is_what_the_history_holds() -> None:
    case = played(TWO)
    history = beside(case, 14)
    drawn: dict[str, list[float]] = {}
    for svg in drawings(made(case)):
        for one in svg.iter():
            if "data-value" in one.attrib:
                drawn.setdefault(one.attrib["data-n"], []).append(float(one.attrib["data-value"]))
    assert "access_to_exit" in drawn
    for id_, values in drawn.items():
        assert values == pytest.approx(history.minutes(id_), abs=1e-4)


def test_what_the_charts_draw_stands_in_a_table_too() -> None:
    case = played(TWO)
    history = beside(case, 26)
    said = words(made(case, 26))
    assert "The last 20 of 26 earlier cases in figures" in said
    for one in history.earlier[-20:]:
        exit_ = one.lasted("access_to_exit")
        assert exit_ is not None
        day = f"{datetime.fromtimestamp(one.opened_us / 1e6 + one.off_s, UTC):%Y-%m-%d}"
        assert f"{one.case} {day} {lasted_words(exit_.minutes)}" in said
    failed = [
        n
        for n, leaflet in enumerate((x for c in history.earlier for x in c.leaflets), 1)
        if leaflet.answer == "no"
    ]
    assert failed
    for n in failed:
        assert f" {n} (" in said[said.index("Failed leaflets by their number") :][:400]


def test_a_rehearsal_says_so_on_the_page_and_a_real_case_does_not() -> None:
    assert "REHEARSAL, NOT A REAL CASE" in words(made(played(ONE)))
    assert "REHEARSAL" not in words(made(dense()))


def test_the_head_and_the_number_of_entries_stand_on_the_page() -> None:
    case = played(ONE)
    said = words(made(case))
    assert HEAD in said
    assert f"Entries in the ledger: {len(case.log)}." in said
    assert case.checklist_digest in said
    assert "CAUTION: made from" in words(page(case, HEAD, 999))


def test_the_failure_chart_says_its_rates_its_limit_and_its_weakness() -> None:
    said = words(made(played(TWO)))
    assert "acceptable p0 5 in 100 leaflets, unacceptable p1 15 in 100 leaflets" in said
    assert "The limit is 2.74" in said
    assert "it is slow" in said
    assert "false alarm every 402 leaflets" in said


def test_without_agreed_rates_there_is_no_failure_chart_and_the_page_says_why() -> None:
    case = played(TWO)
    own = summary(case)
    said = words(page(case, HEAD, 1, own_history(own, history_like(own, 14), rehearsals=True)))
    assert "No failure chart: the acceptable and the unacceptable failure rate must be agreed" in said


def test_published_series_stand_with_denominator_and_source() -> None:
    said = words(made(played(TWO)))
    # Khan, JACC Cardiovasc Interv 2019: 35 of 37 leaflets.
    assert "35 of 37 leaflets traversed and lacerated Khan, JACC Cardiovasc Interv 2019" in said
    assert "never a target" in said


@pytest.mark.parametrize("fields", [{}, {"study_number": "R-1"}])
def test_a_case_that_has_only_been_opened_has_a_page(fields: dict[str, Any]) -> None:
    case = Driver("left", **fields).case
    assert "NOT SEALED" in words(page(case, HEAD, 1))
