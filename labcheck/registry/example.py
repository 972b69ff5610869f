"""The worked example of the export contract: one shipped rehearsal, exported in every format."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from labcheck.caselog.playing import play
from labcheck.caselog.script import read_script
from labcheck.checklist.complaint import Complaint
from labcheck.checklist.reading import digest, read_checklist
from labcheck.ledger.chain import FIRST_PREV, link_all
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import NEED_CLOCK_TIMES, WRITERS, export_case
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase

KEY = "R3HX-B7"
"""The example's case key; that of a real case is drawn at random."""


EXAMPLE_KEY = b"an example key that is no secret"
"""For the example's pseudonyms only; a site makes its own with ``labcheck export --make-key``."""


def example_files(checklist: Path, script: Path) -> dict[str, bytes]:
    """Name and content of every file that the rehearsal gives: all formats for the hospital, in ``example``;
    what a registry gets, in ``example-registry``.
    """
    text = checklist.read_bytes()
    told = read_script(script.read_bytes(), script.name)
    case = play(told, read_checklist(text, checklist.name), KEY, digest(text))
    if isinstance(case, Complaint):
        raise ExportError(str(case))
    stored = StoredCase(tuple(link_all(case.log, FIRST_PREV)), text)
    registry = [name for name in WRITERS if name not in NEED_CLOCK_TIMES]
    with TemporaryDirectory() as folder:
        top = Path(folder)
        paths = export_case(case, stored, list(WRITERS), top / "example", profile="hospital")
        paths += export_case(
            case,
            stored,
            registry,
            top / "example-registry",
            profile="registry",
            pseudonyms=Pseudonyms(EXAMPLE_KEY),
        )
        return {str(path.relative_to(folder)): path.read_bytes() for path in paths}
