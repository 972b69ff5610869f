"""The page in a real browser: it prints on both papers, and nothing of it is wider than the sheet."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from labcheck.debrief.history import grouped, own_history
from labcheck.debrief.page import document, style
from labcheck.debrief.page.document import page
from labcheck.debrief.page.series_page import series_page
from tests.debrief.cases import HEAD, ONE, TWO, dense, history_like, played, summary
from tests.debrief.series_of import AGREED, small, varied

BROWSER = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))),
    None,
)
PAPERS = {"A4": (595, 842), "letter": (612, 792)}

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        BROWSER is None, reason="no headless browser (chromium) on this machine to print with"
    ),
]


def browsed(folder: Path, *flags: str) -> str:
    assert BROWSER is not None
    profile = f"--user-data-dir={folder / 'profile'}"
    command = [
        BROWSER,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        profile,
        *flags,
        (folder / "page.html").as_uri(),
    ]
    return subprocess.run(command, check=True, capture_output=True, timeout=120, text=True).stdout


def written(name: str) -> bytes:
    """The page of a case with its history, or that of two series."""
    if name == "series":
        groups, left = grouped([*varied(44), *(replace(c, case=f"J{c.case[1:]}") for c in small(6))], AGREED)
        return series_page(groups, AGREED, left)
    case = dense() if name == "dense" else played(name)
    own = summary(case)
    beside = own_history(own, history_like(own, 14, (1,)), rehearsals=case.rehearsal)
    return page(case, HEAD, len(case.log), beside)


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("name", [ONE, TWO, "dense", "series"])
def test_the_page_prints_on_that_paper(
    name: str, paper: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sized = style.CSS.replace("@page {", f"@page {{ size: {paper};")
    monkeypatch.setattr(style, "CSS", sized)
    monkeypatch.setattr(document, "CSS", sized)
    (tmp_path / "page.html").write_bytes(written(name))
    browsed(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={tmp_path / 'page.pdf'}")
    printed = (tmp_path / "page.pdf").read_bytes()
    sheets = [
        tuple(round(float(n)) for n in box.split()[2:])
        for box in re.findall(rb"/MediaBox \[([^\]]*)\]", printed)
    ]
    assert len(sheets) >= 3
    assert set(sheets) == {PAPERS[paper]}


def test_the_browser_builds_the_page_as_it_was_written(tmp_path: Path) -> None:
    case = played(TWO)
    made = page(case, HEAD, len(case.log))
    (tmp_path / "page.html").write_bytes(made)
    dom = browsed(tmp_path, "--dump-dom")
    assert dom.count("<svg") == made.count(b"<svg")
    assert dom.count("<tr") == made.count(b"<tr")
    assert "<script" not in dom
