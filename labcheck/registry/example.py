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
from labcheck.registry.exporting import WRITERS, export_case
from labcheck.registry.stored import StoredCase

KEY = "R3HX-B7"
"""The example's case key; that of a real case is drawn at random."""


def example_files(checklist: Path, script: Path) -> dict[str, bytes]:
    """Name and content of every file that the rehearsal gives, in every format."""
    text = checklist.read_bytes()
    told = read_script(script.read_bytes(), script.name)
    case = play(told, read_checklist(text, checklist.name), KEY, digest(text))
    if isinstance(case, Complaint):
        raise ExportError(str(case))
    stored = StoredCase(tuple(link_all(case.log, FIRST_PREV)), text)
    with TemporaryDirectory() as folder:
        paths = export_case(case, stored, list(WRITERS), Path(folder), profile="hospital")
        return {str(path.relative_to(folder)): path.read_bytes() for path in paths}
