"""One case out, in the formats asked for: derived in full first, then written whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.registry.canonical import case_document, document_bytes
from labcheck.registry.columns import Profile
from labcheck.registry.csvpack import CsvPackage
from labcheck.registry.deriving.frame import Frame, frame
from labcheck.registry.errors import ExportError
from labcheck.registry.profiles import PROFILES
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import Tables, tables
from labcheck.registry.writing import safe_name, write_file


@dataclass(frozen=True, slots=True)
class Outgoing:
    """Everything a format needs. ``stem`` is the name its files get."""

    tables: Tables
    stored: StoredCase
    stem: str
    folder: Path
    excel: bool

    @property
    def frame(self) -> Frame:
        """Under which names the case leaves."""
        return self.tables.frame

    def name(self, ending: str) -> str:
        """A file name of this case."""
        return safe_name(self.stem, ending, rehearsal=self.frame.case.rehearsal)


def export_case(
    case: Case,
    stored: StoredCase,
    formats: Sequence[str],
    folder: Path,
    *,
    profile: str | None = None,
    excel: bool = False,
) -> list[Path]:
    """Write one case in every format asked for and give the paths written.

    ``profile`` is ``hospital`` (the default) or ``registry``. Raises ``ExportError`` with one line; what was
    in the folder before is then as it was.
    """
    out = outgoing(case, stored, folder, profile=known_profile(profile), excel=excel)
    writers = [known_format(name) for name in dict.fromkeys(formats)]
    return [path for write in writers for path in write(out)]


def outgoing(case: Case, stored: StoredCase, folder: Path, *, profile: Profile, excel: bool) -> Outgoing:
    """A case ready to be written."""
    case_id, subject_id = f"C-{case.key}", None
    if case.plan is not None and case.plan.study_number is not None:
        subject_id = f"S-{case.plan.study_number}"
    framed = frame(case, profile=profile, case_id=case_id, subject_id=subject_id)
    return Outgoing(tables(framed, stored.head), stored, case.key, folder, excel)


def known_profile(profile: str | None) -> Profile:
    """The profile of that name; the hospital's where none is named."""
    if profile is None or profile == "hospital":
        return "hospital"
    if profile == "registry":
        return "registry"
    raise ExportError(f"there is no profile {profile[:20]!a}; choose one of {', '.join(PROFILES)}")


def known_format(name: str) -> Callable[[Outgoing], list[Path]]:
    """The writer of that format."""
    if name not in WRITERS:
        raise ExportError(f"there is no format {name[:20]!a}; choose one of {', '.join(WRITERS)}")
    return WRITERS[name]


def _json(out: Outgoing) -> list[Path]:
    document = case_document(out.tables, out.stored)
    return [write_file(out.folder, out.name(".json"), document_bytes(document))]


def _csv(out: Outgoing) -> list[Path]:
    folder = out.folder / (out.name("") + ("-csv-excel" if out.excel else "-csv"))
    with CsvPackage(folder, out.frame.profile, excel=out.excel) as package:
        package.add(out.tables)
    return package.paths()


WRITERS: Mapping[str, Callable[[Outgoing], list[Path]]] = {"json": _json, "csv": _csv}
