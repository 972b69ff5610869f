"""Files made to do harm end in one line, quickly, and leave nothing behind.

The cases were found by trying them on the standard library's parser: some raise other errors than its own,
some are accepted and explode later, some only take long.
"""

from __future__ import annotations

import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from labcheck.checklist.toml_text import MAX_BYTES
from tests.checklist.sound import SOUND, broken, only_complaint

HOSTILE: dict[str, str | bytes] = {
    "arrays 500 deep": "a = " + "[" * 500 + "]" * 500,
    "arrays 100000 deep": "a = " + "[" * 100_000,
    "inline tables 500 deep": "a = " + "{a = " * 500 + "1" + "}" * 500,
    "arrays 20 deep": "a = " + "[" * 20 + "]" * 20,
    "a dotted key 3000 deep": ".".join(["a"] * 3000) + " = 1",
    "a dotted key 100000 deep": ".".join(["a"] * 100_000) + " = 1",
    "many dotted keys 12 deep": "\n".join(f"k{n}." + ".".join(["a"] * 12) + " = 1" for n in range(7000)),
    "a table name 3000 deep": "[" + ".".join(["a"] * 3000) + "]",
    "a whole number of 5000 digits": "format = " + "9" * 5000,
    "a whole number of 200000 hexadecimal digits": "format = 0x" + "f" * 200_000,
    "a whole number of 65 bits": "format = 18446744073709551616",
    "a decimal of 200000 digits": "late_after_min = 1." + "3" * 200_000,
    "an exponent beyond the decimal library": "late_after_min = 1e99999999999999999999",
    "a string of ten million letters": 'title = "' + "a" * 10_000_000 + '"',
    "one byte too many": "#" * (MAX_BYTES + 1),
    "not a number": broken("late_after_min = 2", "late_after_min = nan"),
    "infinity": broken("late_after_min = 2", "late_after_min = -inf"),
    "a number too large for a float": broken("late_after_min = 2", "late_after_min = 1e400"),
    "an escape sequence by its code": broken('title = "Sound"', 'title = "\\u001b[2J"'),
    "a bell": broken('title = "Sound"', 'title = "\\u0007"'),
    "a line break in a line": broken('title = "Sound"', 'title = "one\\ntwo"'),
    "a tab in a line": broken('title = "Sound"', 'title = "one\\ttwo"'),
    "a C1 control": broken('title = "Sound"', 'title = "\\u009b2J"'),
    "text turned round": broken('title = "Sound"', 'title = "\\u202e"'),
    "an isolate": broken('title = "Sound"', 'title = "\\u2066"'),
    "a zero-width space": broken('title = "Sound"', 'title = "a\\u200bb"'),
    "an escape sequence in a key": broken('title = "Sound"', '"ti\\u001btle" = "Sound"'),
    "a raw escape byte": SOUND.encode().replace(b"Sound", b"S\x1b[2Jund", 1),
    "a NUL byte": SOUND.encode() + b"\x00",
    "UTF-16": SOUND.encode("utf-16"),
    "Latin-1": SOUND.encode() + "# é".encode("latin-1"),
    "a lone surrogate": SOUND.replace("Sound", "S\ud800nd", 1),
    "nothing but a letter": "x",
    "the same key twice": SOUND + "\nformat = 1\n",
    "a thousand keys": "\n".join(f"k{n} = 1" for n in range(1000)),
    "many tables of one name": "[[stage]]\n" * 25_000,
    "a date for a title": broken('title = "Sound"', "title = 2031-03-04T05:06:07Z"),
    "a pickle": b"\x80\x04\x95\x0f\x00\x00\x00\x00\x00\x00\x00.",
    "the alias bomb of another format": "a: &a [x,x]\nb: &b [*a,*a]\n",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_ends_in_one_printable_line(name: str) -> None:
    line = only_complaint(HOSTILE[name])
    assert line.startswith("local.toml: ")
    assert line.isprintable()
    assert len(line) < 500


def test_the_whole_list_is_refused_within_a_minute(tmp_path: Path) -> None:
    """A guard against work that grows without bound, in a process that can be stopped. Not a measurement."""
    for number, text in enumerate(HOSTILE.values()):
        data = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
        (tmp_path / f"{number}.toml").write_bytes(data)
    before = sorted(tmp_path.iterdir())
    script = textwrap.dedent("""
        import pathlib, sys
        from labcheck.checklist.complaint import ChecklistError
        from labcheck.checklist.reading import read_checklist
        for path in pathlib.Path(sys.argv[1]).iterdir():
            try:
                read_checklist(path.read_bytes(), path.name)
            except ChecklistError as error:
                assert "\\n" not in str(error), error
            else:
                raise SystemExit(f"{path} was accepted")
    """)
    subprocess.run([sys.executable, "-c", script, str(tmp_path)], check=True, timeout=60)
    assert sorted(tmp_path.iterdir()) == before
