"""``labcheck export`` as a data manager meets it: batches, keys, identifiers and checks."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from labcheck.cli import main
from labcheck.ledger.store import open_ledger
from labcheck.registry.profiles import PROFILES
from tests.registry.telling import SMALL, TOLD, head, told

KEY = "K7Q2-M4"
FOR_US = ("--profile", "hospital")


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    folder = tmp_path / "ledger"
    kept = open_ledger(folder)
    try:
        kept.keep_checklist(SMALL.read_bytes())
        case, _ = told(head() + TOLD, key=KEY)
        press: list[object] = []
        for event in case.log:
            if press and press[0].press != event.press:  # type: ignore[attr-defined]
                kept.append(press)  # type: ignore[arg-type]
                press = []
            press.append(event)
        kept.append(press)  # type: ignore[arg-type]
    finally:
        kept.close()
    return folder


def test_every_case_leaves_in_a_batch_and_again_only_when_it_changed(
    ledger: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["export", "--all", "--new", *FOR_US, "--as", "csv", "--to", str(tmp_path / "out")]
    words += ["--ledger", str(ledger)]
    assert main(words) == 0
    assert "1 exported, 0 unchanged, 0 failed" in capsys.readouterr().out
    assert main(words) == 0
    assert "0 exported, 1 unchanged, 0 failed" in capsys.readouterr().out


def test_the_registry_profile_works_with_a_key_and_says_so_without_one(
    ledger: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    words = [
        "export",
        KEY,
        "--as",
        "json",
        "--to",
        str(out),
        "--profile",
        "registry",
        "--ledger",
        str(ledger),
    ]
    assert main(words) == 2
    assert "--key FILE" in capsys.readouterr().err
    assert not out.exists()
    assert main(["export", "--make-key", str(tmp_path / "site.key")]) == 0
    capsys.readouterr()
    assert main([*words, "--key", str(tmp_path / "site.key")]) == 0
    path = Path(capsys.readouterr().out.strip())
    assert path.name.startswith("P-")
    assert json.loads(path.read_bytes())["profile"] == "registry"


@pytest.mark.parametrize("which", [[KEY], ["--all"]])
def test_nobody_chooses_the_profile_but_who_exports(
    which: list[str], ledger: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["export", *which, "--as", "csv", "--to", str(tmp_path / "out"), "--ledger", str(ledger)]
    assert main(words) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert all(f"--profile {name} (" in said for name in PROFILES)
    assert not (tmp_path / "out").exists()


def test_identifiers_come_from_their_file_and_only_for_the_hospital(
    ledger: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ids = tmp_path / "ids.toml"
    ids.write_text(f'["{KEY}"]\npatient_id = "H-0012345"\n', encoding="utf-8")
    out = tmp_path / "out"
    words = [
        "export",
        KEY,
        "--as",
        "fhir",
        "--to",
        str(out),
        "--identifiers",
        str(ids),
        "--ledger",
        str(ledger),
    ]
    assert main([*words, *FOR_US]) == 0
    assert "H-0012345" in Path(capsys.readouterr().out.strip()).read_text(encoding="utf-8")
    assert main([*words, "--profile", "registry"]) == 2
    assert "identifiers" in capsys.readouterr().err


def test_checking_says_what_is_wrong_and_ends_with_one(
    ledger: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    formats = [word for name in ("json", "csv", "fhir", "xes", "dicom") for word in ("--as", name)]
    assert main(["export", KEY, *FOR_US, *formats, "--to", str(out), "--ledger", str(ledger)]) == 0
    files = [str(p) for p in out.iterdir()]
    capsys.readouterr()
    assert main(["export", "--check", *files]) == 0
    assert capsys.readouterr().out.count("nothing wrong found") == 5
    path = out / f"{KEY}.json"
    path.write_text(
        path.read_text(encoding="utf-8").replace('"amount": "5000"', '"amount": "9000"'), encoding="utf-8"
    )
    assert main(["export", "--check", *files]) == 1
    assert "its digest is not that of what is stored" in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    [
        ["export"],
        ["export", "K7Q2-M4"],
        ["export", "--all"],
        ["export", "--all", "K7Q2-M4", *FOR_US, "--as", "csv", "--to", "x"],
        ["export", "--check", "nothing.json"],
        ["export", "K7Q2-M4", "--as", "xes", "--to", "x", "--profile", "registry"],
        ["export", "K7Q2-M4", *FOR_US, "--as", "csv", "--to", "x", "--key", "nothing.key"],
        ["export", "K7Q2-M4", *FOR_US, "--as", "csv", "--to", "x", "--identifiers", "nothing.toml"],
    ],
)
def test_wrong_use_is_one_line_and_writes_nothing(
    words: list[str],
    ledger: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([*words, "--ledger", str(ledger)]) == 2
    err = capsys.readouterr().err
    assert err.startswith("labcheck: ")
    assert err.count("\n") == 1
    assert [p.name for p in tmp_path.iterdir()] == ["ledger"]
