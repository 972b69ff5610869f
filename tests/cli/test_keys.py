"""``labcheck keys``: the printed card holds every key of the one table."""

from __future__ import annotations

import pytest

from labcheck.cli import main
from labcheck.console.keys import KEYS


def test_the_card_holds_every_key_and_fits_a_page(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["keys"]) == 0
    lines = capsys.readouterr().out.splitlines()
    for key in KEYS:
        assert any(line.strip().startswith(key.shown) for line in lines), key.id
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 66
