"""Many cases out at once: streamed, each whole, one bad case never stopping the rest, and none twice.

Every run leaves a numbered manifest that names each case, how many entries of it left, and the size and digest of
every file. The manifest is written last: a run that was interrupted has none, and the next one does its work anew
and gives the same bytes.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from labcheck import __version__
from labcheck.ledger.contract import Ledger
from labcheck.registry.canonical import document_line
from labcheck.registry.csvpack import CsvPackage
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import Choices, Outgoing, document, fitting_format, outgoing
from labcheck.registry.stored import load
from labcheck.registry.writing import REHEARSAL, Staged, write_file

TOGETHER = ("csv", "jsonl")
"""Formats that put all cases of a run into one package or file; the others write a file for each case."""

MANIFEST = "manifest"


@dataclass(slots=True)
class Report:
    """What a run did. ``failed``: case key and why, one line each. ``unchanged``: left before, as they are now."""

    number: int
    exported: list[str] = field(default_factory=list)
    unchanged: list[str] = field(default_factory=list)
    failed: dict[str, str] = field(default_factory=dict)
    paths: list[Path] = field(default_factory=list)


Progress = Callable[[int, int, str], None]
"""Called after each case with how many are done, how many there are, and one line about this one."""


def export_batch(
    ledger: Ledger,
    keys: Sequence[str],
    formats: Sequence[str],
    folder: Path,
    choices: Choices,
    *,
    rehearsals: bool = False,
    only_new: bool = False,
    progress: Progress | None = None,
) -> Report:
    """Write these cases, real ones or rehearsals but never both.

    ``only_new`` leaves out what earlier manifests in the folder name with as many entries as the case has now.
    Raises ``ExportError`` where nothing more can be written (a full disk); what left before stays.
    """
    fitting = {name: fitting_format(name, choices.profile) for name in formats}
    writers = [write for name, write in fitting.items() if name not in TOGETHER]
    before = _left_before(folder, choices.profile)
    run = _Run(ledger, folder, choices, rehearsals, before if only_new else {}, _next_number(folder))
    with ExitStack() as stack:
        sinks = [_sink(name, run, stack) for name in dict.fromkeys(formats) if name in TOGETHER]
        for done, key in enumerate(dict.fromkeys(keys), 1):
            line = run.one(key, writers, sinks)
            if progress is not None:
                progress(done, len(keys), line)
    run.finish(sinks)
    return run.report


class _Run:
    def __init__(
        self,
        ledger: Ledger,
        folder: Path,
        choices: Choices,
        rehearsals: bool,
        before: dict[str, int],
        number: int,
    ) -> None:
        self.ledger, self.folder, self.choices = ledger, folder, choices
        self.rehearsals, self.before = rehearsals, before
        self.report = Report(number)
        self.lines: list[dict[str, Any]] = []

    @property
    def stem(self) -> str:
        return f"{REHEARSAL if self.rehearsals else ''}batch-{self.report.number:04d}"

    def one(
        self, key: str, writers: Iterable[Callable[[Outgoing], list[Path]]], sinks: Sequence[_Sink]
    ) -> str:
        """Write one case; give one line about it."""
        try:
            out = self._ready(key)
        except Exception as fault:
            # Whatever is wrong with one case, the others must leave; it is told and counted.
            self.report.failed[key] = _one_line(fault)
            return f"{key}: not exported: {self.report.failed[key]}"
        if out is None:
            return f"{key}: left out"
        name, entries = out.frame.case_id, len(out.stored.records)
        if self.before.get(name) == entries:
            self.report.unchanged.append(key)
            return f"{key}: nothing new"
        paths = [path for write in writers for path in write(out)]
        for sink in sinks:
            sink.add(out)
        self.report.paths += paths
        self.report.exported.append(key)
        self.lines.append(
            {"case_id": name, "entries": entries, "files": [_file(self.folder, p) for p in paths]}
        )
        return f"{key}: {entries} entries"

    def _ready(self, key: str) -> Outgoing | None:
        case, stored = load(self.ledger, key)
        if case.rehearsal != self.rehearsals:
            return None
        return outgoing(case, stored, self.folder, self.choices)

    def finish(self, sinks: Sequence[_Sink]) -> None:
        """Write the manifest, after everything it names is in place."""
        together = [path for sink in sinks for path in sink.paths()]
        manifest = {
            "format": "labcheck-manifest",
            "format_version": 1,
            "generator": {"name": "labcheck", "version": __version__},
            "profile": self.choices.profile,
            "rehearsal": self.rehearsals,
            "number": self.report.number,
            "counts": {
                "exported": len(self.report.exported),
                "unchanged": len(self.report.unchanged),
                "failed": len(self.report.failed),
            },
            "cases": self.lines,
            "files": [_file(self.folder, path) for path in together],
        }
        data = (json.dumps(manifest, indent=1, ensure_ascii=False) + "\n").encode("utf-8")
        name = f"{MANIFEST}-{self.report.number:04d}.json"
        self.report.paths += [*together, write_file(self.folder, name, data)]


class _Sink:
    """One file or package that takes all cases of a run."""

    def add(self, out: Outgoing) -> None:
        raise NotImplementedError

    def paths(self) -> list[Path]:
        raise NotImplementedError


class _CsvSink(_Sink):
    def __init__(self, package: CsvPackage) -> None:
        self._package = package

    def add(self, out: Outgoing) -> None:
        self._package.add(out.tables)

    def paths(self) -> list[Path]:
        return self._package.paths()


class _LinesSink(_Sink):
    def __init__(self, path: Path, file: BinaryIO) -> None:
        self._path, self._file = path, file

    def add(self, out: Outgoing) -> None:
        self._file.write(document_line(document(out)))

    def paths(self) -> list[Path]:
        return [self._path]


def _sink(name: str, run: _Run, stack: ExitStack) -> _Sink:
    if name == "csv":
        excel = "-excel" if run.choices.excel else ""
        folder = run.folder / f"{run.stem}-csv{excel}"
        return _CsvSink(stack.enter_context(CsvPackage(folder, run.choices.profile, excel=run.choices.excel)))
    staged = stack.enter_context(Staged(run.folder))
    return _LinesSink(run.folder / f"{run.stem}.jsonl", staged.create(f"{run.stem}.jsonl"))


def _manifests(folder: Path) -> list[Path]:
    return sorted(folder.glob(f"{MANIFEST}-[0-9][0-9][0-9][0-9].json")) if folder.is_dir() else []


def _next_number(folder: Path) -> int:
    found = _manifests(folder)
    return int(found[-1].stem[-4:]) + 1 if found else 1


def _left_before(folder: Path, profile: str) -> dict[str, int]:
    """Case to the most entries of it that have left under this profile, by the manifests in the folder."""
    left: dict[str, int] = {}
    for path in _manifests(folder):
        try:
            manifest = json.loads(path.read_bytes())
            if manifest["profile"] != profile:
                continue
            for line in manifest["cases"]:
                left[line["case_id"]] = max(left.get(line["case_id"], 0), int(line["entries"]))
        except (ValueError, KeyError, TypeError, RecursionError):
            raise ExportError(
                f"{path}: is not a manifest of labcheck; move it away, or export elsewhere"
            ) from None
    return left


def _file(folder: Path, path: Path) -> dict[str, Any]:
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256")
    return {
        "path": str(path.relative_to(folder)),
        "bytes": path.stat().st_size,
        "sha256": digest.hexdigest(),
    }


def _one_line(fault: Exception) -> str:
    text = " ".join(str(fault).split())
    return text[:300] if isinstance(fault, ExportError) else f"{type(fault).__name__}: {text[:300]}"
