"""One case out, in the formats asked for: derived in full first, then written whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, get_args

from labcheck.caselog.case import Case
from labcheck.registry.canonical import case_document, document_bytes, document_line, registry_document
from labcheck.registry.columns import Profile
from labcheck.registry.csvpack import CsvPackage
from labcheck.registry.deriving.frame import Frame, frame
from labcheck.registry.errors import ExportError
from labcheck.registry.fhir.bundle import bundle_bytes, case_bundle
from labcheck.registry.identifiers import NO_IDENTIFIERS, Identifiers
from labcheck.registry.profiles import PROFILES
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import Tables, tables
from labcheck.registry.writing import safe_name, write_file
from labcheck.registry.xes import case_log


@dataclass(frozen=True, slots=True)
class Choices:
    """How cases are to leave.

    ``pseudonyms`` are needed for every profile but the hospital's; ``identifiers`` (by case key) are for the
    hospital's alone. ``snomed`` adds SNOMED CT codes to FHIR, which needs a licence in some countries.
    """

    profile: Profile
    excel: bool = False
    pseudonyms: Pseudonyms | None = None
    identifiers: Mapping[str, Identifiers] = field(default_factory=dict)
    snomed: bool = False


@dataclass(frozen=True, slots=True)
class Outgoing:
    """Everything a format needs. ``stem`` is the name its files get."""

    tables: Tables
    stored: StoredCase
    stem: str
    folder: Path
    choices: Choices
    identifiers: Identifiers

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
    profile: str,
    excel: bool = False,
    pseudonyms: Pseudonyms | None = None,
    identifiers: Mapping[str, Identifiers] | None = None,
    snomed: bool = False,
) -> list[Path]:
    """Write one case in every format asked for and give the paths written.

    ``profile`` is ``hospital``, ``registry`` or ``shifted``. Raises ``ExportError`` with one line;
    what was in the folder before is then as it was.
    """
    choices = Choices(known_profile(profile), excel, pseudonyms, identifiers or {}, snomed)
    writers = [fitting_format(name, choices.profile) for name in dict.fromkeys(formats)]
    out = outgoing(case, stored, folder, choices)
    return [path for write in writers for path in write(out)]


def outgoing(case: Case, stored: StoredCase, folder: Path, choices: Choices) -> Outgoing:
    """A case ready to be written, under the names its profile allows."""
    framed = _framed(case, choices)
    stem = case.key if choices.profile == "hospital" else framed.case_id
    known = choices.identifiers.get(case.key, NO_IDENTIFIERS)
    return Outgoing(tables(framed, stored.head), stored, stem, folder, choices, known)


def _framed(case: Case, choices: Choices) -> Frame:
    profile, key = choices.profile, choices.pseudonyms
    if profile == "hospital":
        study = case.plan.study_number if case.plan is not None else None
        return frame(
            case, profile=profile, case_id=f"C-{case.key}", subject_id=f"S-{study}" if study else None
        )
    if choices.identifiers:
        raise ExportError(
            f"the {profile} profile takes no identifiers of the hospital's systems; leave them out"
        )
    if key is None:
        raise ExportError(f"the {profile} profile needs a key for its pseudonyms; give --key FILE")
    return frame(
        case,
        profile=profile,
        case_id=key.case_id(case),
        subject_id=key.subject_id(case),
        checklist_digest=key.checklist_digest(case),
        shift_us=key.shift_us(case) if profile == "shifted" else 0,
    )


def known_profile(profile: str) -> Profile:
    """The profile of that name."""
    for known in get_args(Profile):
        if profile == known:
            return known  # type: ignore[no-any-return]
    raise ExportError(f"there is no profile {profile[:20]!a}; choose one of {', '.join(PROFILES)}")


def known_format(name: str) -> Callable[[Outgoing], list[Path]]:
    """The writer of that format."""
    if name not in WRITERS:
        raise ExportError(f"there is no format {name[:20]!a}; choose one of {', '.join(WRITERS)}")
    return WRITERS[name]


def fitting_format(name: str, profile: Profile) -> Callable[[Outgoing], list[Path]]:
    """The writer of a format, if that format can say what the profile lets out."""
    writer = known_format(name)
    if profile == "registry" and name in NEED_CLOCK_TIMES:
        raise ExportError(
            f"{name} cannot do without clock times, and the registry profile has none; use shifted"
        )
    return writer


def document(out: Outgoing) -> dict[str, Any]:
    """The JSON document of a case: lossless for the hospital, narrowed for a registry."""
    if out.choices.profile == "hospital":
        return case_document(out.tables, out.stored)
    return registry_document(out.tables)


def _json(out: Outgoing) -> list[Path]:
    return [write_file(out.folder, out.name(".json"), document_bytes(document(out)))]


def _jsonl(out: Outgoing) -> list[Path]:
    return [write_file(out.folder, out.name(".jsonl"), document_line(document(out)))]


def _csv(out: Outgoing) -> list[Path]:
    folder = out.folder / (out.name("") + ("-csv-excel" if out.choices.excel else "-csv"))
    with CsvPackage(folder, out.choices.profile, excel=out.choices.excel) as package:
        package.add(out.tables)
    return package.paths()


def _fhir(out: Outgoing) -> list[Path]:
    bundle = case_bundle(out.tables, out.identifiers, snomed=out.choices.snomed)
    return [write_file(out.folder, out.name(".fhir.json"), bundle_bytes(bundle))]


def _xes(out: Outgoing) -> list[Path]:
    return [write_file(out.folder, out.name(".xes"), case_log(out.tables))]


def _dicom(out: Outgoing) -> list[Path]:
    try:
        from labcheck.registry.dicom.instance import case_instance
    except ImportError:
        raise ExportError("DICOM needs pydicom: pip install 'labcheck[dicom]'") from None
    return [write_file(out.folder, out.name(".dcm"), case_instance(out.tables, out.identifiers))]


NEED_CLOCK_TIMES = ("xes", "dicom")

WRITERS: Mapping[str, Callable[[Outgoing], list[Path]]] = {
    "json": _json,
    "jsonl": _jsonl,
    "csv": _csv,
    "fhir": _fhir,
    "xes": _xes,
    "dicom": _dicom,
}
