"""``labcheck debrief`` and ``labcheck actions`` on a ledger of rehearsals."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from labcheck.cli import main
from labcheck.debrief import kept
from labcheck.debrief.notebook import read_notes
from labcheck.debrief.notes import Debriefing, debriefing
from tests.bench.debriefing import fill
from tests.debrief.cases import key, put
from tests.debrief.reading_pages import read, words

NAMES = ("left-cusp-surgical", "left-cusp-surgical", "left-cusp-surgical", "splitter-one-cusp")
SCRIPTS = Path(__file__).parents[2] / "checklists" / "rehearsals"


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    return tmp_path / "ledger"


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with three cases of one cusp, and one of another technique."""
    folder = tmp_path_factory.mktemp("shelf") / "ledger"
    for number, name in enumerate(NAMES):
        put(folder, name, key(number))
    return folder


@pytest.fixture
def keys(shelf: Path, ledger: Path) -> list[str]:
    """The keys of its cases, in a copy of its own."""
    shutil.copytree(shelf, ledger)
    return [key(number) for number in range(len(NAMES))]


def said(capsys: pytest.CaptureFixture[str], status: int, *typed: str | Path) -> str:
    """What a command prints, on stdout when it did well and else on stderr, where it is one line."""
    assert main([str(word) for word in typed]) == status
    out, err = capsys.readouterr()
    if status:
        assert err.count("\n") == 1
        assert err.startswith("labcheck: ")
    return out if status == 0 else err


def test_the_page_is_one_file_beside_the_words_that_say_so(
    ledger: Path, keys: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "out" / "debrief.html"
    out = said(capsys, 0, "debrief", keys[2], "--html", page, "--rehearsals", "--ledger", ledger)
    assert str(page) in out
    assert [path.name for path in page.parent.iterdir()] == ["debrief.html"]
    assert page.stat().st_mode & 0o077 == 0
    text = words(page.read_bytes())
    assert "REHEARSAL, NOT A REAL CASE" in text
    assert "Compared with 2 earlier rehearsals" in text
    assert "another technique (mechanical splitter): 1" in text


def test_the_page_is_the_same_whether_figures_were_kept_or_made_anew(
    ledger: Path, keys: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pages = []
    for number in range(2):
        page = tmp_path / f"page-{number}.html"
        said(capsys, 0, "debrief", keys[2], "--html", page, "--rehearsals", "--ledger", ledger)
        pages.append(page.read_bytes())
    (ledger / kept.NAME).unlink()
    page = tmp_path / "page-3.html"
    said(capsys, 0, "debrief", keys[2], "--html", page, "--rehearsals", "--ledger", ledger)
    assert pages[0] == pages[1] == page.read_bytes()


def test_a_page_that_cannot_be_written_leaves_nothing(
    ledger: Path, keys: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("in the way")
    err = said(capsys, 2, "debrief", keys[0], "--html", tmp_path / "file" / "page.html", "--ledger", ledger)
    assert "file" in err
    assert (tmp_path / "file").read_text() == "in the way"


def test_a_mixed_history_is_refused_with_the_reason(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    typed = ("debrief", keys[2], "--against", keys[0], keys[3], "--rehearsals", "--ledger", ledger)
    err = said(capsys, 2, *typed)
    assert f"case {keys[3]} cannot be compared with {keys[2]}: another technique (mechanical splitter)" in err


def test_a_case_is_refused_as_its_own_history(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    err = said(capsys, 2, "debrief", keys[2], "--against", keys[2], "--rehearsals", "--ledger", ledger)
    assert "its own history" in err


def test_a_rehearsal_is_not_compared_unless_it_is_asked_for(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert "0 comparable earlier cases" in said(capsys, 0, "debrief", keys[2], "--ledger", ledger)
    out = said(capsys, 0, "debrief", keys[2], "--rehearsals", "--ledger", ledger)
    assert "2 comparable earlier cases" in out


def test_the_series_are_apart_by_technique_and_a_mixed_one_is_refused(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    out = said(capsys, 0, "debrief", "--series", "--rehearsals", "--ledger", ledger)
    assert "SERIES  electrosurgical, 1 cusp, n=3  REHEARSALS" in out
    assert "SERIES  mechanical splitter, 1 cusp, n=1  REHEARSALS" in out
    err = said(capsys, 2, "debrief", "--series", keys[0], keys[3], "--rehearsals", "--ledger", ledger)
    assert "another technique" in err
    assert "no sealed case" in said(capsys, 2, "debrief", "--series", "--ledger", ledger)


def test_the_team_s_agreements_are_read_from_the_ledger_s_folder(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    agreed = ledger / "debrief.toml"
    agreed.write_text(
        'format = 1\n[[rates]]\ntechnique = "electrosurgical"\nacceptable = 0.05\nunacceptable = 0.15\n'
        'agreed = "2031-01-10"\nreason = "as agreed"\n'
    )
    out = " ".join(said(capsys, 0, "debrief", keys[2], "--rehearsals", "--ledger", ledger).split())
    assert "Agreed on 2031-01-10: acceptable p0 5 in 100 leaflets" in out
    agreed.write_text("format = 1\nsurprise = 2\n")
    assert "debrief.toml" in said(capsys, 2, "debrief", keys[2], "--ledger", ledger)


def test_notes_stand_beside_the_case_and_never_in_its_log(
    ledger: Path, keys: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = said(capsys, 0, "cases", "--ledger", ledger)
    said(capsys, 0, "debrief", keys[0], "--learned", "count aloud", "--ledger", ledger)
    typed = ("--action", "a second guide on the table", "--owner", "nurse", "--by", "2031-04-30")
    said(capsys, 0, "debrief", keys[0], *typed, "--ledger", ledger)
    assert said(capsys, 0, "cases", "--ledger", ledger) == before
    assert main(["verify", "--ledger", str(ledger)]) == 0
    capsys.readouterr()
    page = tmp_path / "page.html"
    said(capsys, 0, "debrief", keys[0], "--html", page, "--ledger", ledger)
    text = words(page.read_bytes())
    assert "learned: count aloud" in text
    assert "a second guide on the table; nurse, by 2031-04-30; OPEN" in text
    assert "count aloud" not in said(capsys, 0, "debrief", keys[1], "--ledger", ledger)


def test_actions_lists_what_is_open_until_it_is_done_or_given_up(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert said(capsys, 0, "actions", "--ledger", ledger) == "no open actions\n"
    for text in ("first thing", "second thing"):
        said(capsys, 0, "debrief", keys[0], "--action", text, "--owner", "nurse", "--ledger", ledger)
    assert "first thing" in said(capsys, 0, "actions", "--ledger", ledger)
    said(capsys, 0, "actions", "--done", "1", "--say", "it is there", "--ledger", ledger)
    said(capsys, 0, "actions", "--give-up", "2", "--say", "no money", "--ledger", ledger)
    assert said(capsys, 0, "actions", "--ledger", ledger) == "no open actions\n"
    assert "done: it is there" in said(capsys, 0, "actions", "--all", "--ledger", ledger)
    assert "not open any more" in said(
        capsys, 2, "actions", "--done", "1", "--say", "again", "--ledger", ledger
    )
    assert "no action" in said(capsys, 2, "actions", "--done", "9", "--say", "it", "--ledger", ledger)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        (["--action", "something"], "owner's role"),
        (["--action", "something", "--owner", "Anna"], "owner's role"),
        (["--action", "something", "--owner", "nurse", "--by", "2031-02-30"], "date"),
        (["--learned", "ask Dr Smith"], "names a person"),
        (["--learned", "x"], "the text: must take 3 to 300 letters"),
        (["--action", "something", "--owner", "nurse", "--by", "soon"], "write it as 2031-04-30"),
        (["--learned", "count aloud", "--owner", "nurse"], "--action"),
        (["--learned", "count aloud", "--action", "count aloud"], "one note at a time"),
    ],
)
def test_a_note_that_is_not_fair_is_refused_in_one_line(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str], typed: list[str], why: str
) -> None:
    assert why in said(capsys, 2, "debrief", keys[0], *typed, "--ledger", ledger)
    assert said(capsys, 0, "actions", "--all", "--ledger", ledger) == "no actions yet\n"


@pytest.mark.parametrize("typed", [[], ["A", "B"], ["--series", "--html", "x.html"]])
def test_wrong_use_is_one_line(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str], typed: list[str]
) -> None:
    said(capsys, 2, "debrief", *typed, "--ledger", ledger)


def test_a_record_copied_from_paper_has_a_page(
    ledger: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = said(capsys, 0, "transcribe", SCRIPTS / "paper-record.toml", "--ledger", ledger)
    page = tmp_path / "page.html"
    said(capsys, 0, "debrief", made.partition(":")[0], "--html", page, "--ledger", ledger)
    assert read(page.read_bytes()).elements
    assert "wall only" in words(page.read_bytes())


def real(folder: Path, how_many: int) -> list[str]:
    """Real cases in a ledger, three days apart: a shipped rehearsal's events as those of cases."""
    fill(folder, how_many, 0)
    return [key(number) for number in range(how_many)]


def test_a_series_has_a_page_of_its_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ledger, page = tmp_path / "ledger", tmp_path / "out" / "series.html"
    keys = real(ledger, 3)
    capsys.readouterr()
    put(ledger, "left-cusp-surgical", "RRRR-RR")
    assert str(page) in said(capsys, 0, "debrief", "--series", "--html", page, "--ledger", ledger)
    first = page.read_bytes()
    text = words(first)
    assert all(one in text for one in keys)
    assert "RRRR-RR" not in text
    assert "acceptable p0 5 in 100 leaflets" in text
    (ledger / kept.NAME).unlink()
    said(capsys, 0, "debrief", "--series", "--html", page, "--ledger", ledger)
    assert page.read_bytes() == first
    said(capsys, 0, "debrief", "--series", *keys[:2], "--html", page, "--ledger", ledger)
    assert keys[2] not in words(page.read_bytes())


def test_two_sets_are_told_apart_in_lines_and_on_a_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ledger, page = tmp_path / "ledger", tmp_path / "sets.html"
    real(ledger, 3)
    capsys.readouterr()
    day = re.findall(r"\d{4}-\d{2}-\d{2}", said(capsys, 0, "debrief", "--series", "--ledger", ledger))[1]
    out = said(capsys, 0, "debrief", "--series", "--apart-by", day, "--ledger", ledger)
    assert f"A: before {day}, n=2" in out
    assert f"B: from {day} on, n=1" in out
    said(capsys, 0, "debrief", "--series", "--apart-by", day, "--html", page, "--ledger", ledger)
    assert "1 against 2 cases: each group needs 4" in words(page.read_bytes())


@pytest.mark.parametrize(
    ("typed", "err"),
    [
        (("--series", "--rehearsals", "--html", "x.html"), "they would pass for cases"),
        (("--series", "--rehearsals", "--apart-by", "revision"), "they would pass for cases"),
        (("--series", "--apart-by", "nurse"), "tells no cases apart"),
        (("--series", "--owner", "nurse"), "--series goes with"),
        (("--apart-by", "revision"), "--apart-by belongs to --series"),
    ],
)
def test_what_does_not_go_together_is_refused_in_one_line(
    typed: tuple[str, ...],
    err: str,
    ledger: Path,
    keys: list[str],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert err in said(capsys, 2, "debrief", *typed, "--ledger", ledger)
    assert not (tmp_path / "x.html").exists()


def test_an_action_that_another_program_closed_meanwhile_is_not_closed_twice(
    ledger: Path, keys: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = ("--action", "a second guide on the table", "--owner", "nurse", "--by", "2001-04-30")
    said(capsys, 0, "debrief", keys[0], *typed, "--ledger", ledger)
    assert "PAST ITS DAY" in said(capsys, 0, "actions", "--ledger", ledger)
    before = debriefing(read_notes(ledger)).actions
    said(capsys, 0, "actions", "--done", "1", "--say", "it is there", "--ledger", ledger)
    assert "PAST ITS DAY" not in said(capsys, 0, "actions", "--all", "--ledger", ledger)
    # The list as it was read before the other program wrote.
    monkeypatch.setattr("labcheck.commands.actions.debriefing", lambda _notes: Debriefing(actions=before))
    err = said(capsys, 2, "actions", "--give-up", "1", "--say", "no money", "--ledger", ledger)
    assert "action 1 is not open any more" in err
    assert len(read_notes(ledger)) == 2
