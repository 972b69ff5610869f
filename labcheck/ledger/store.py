"""The file ledger. This module owns every write to it.

Order of a save: lock, BEGIN IMMEDIATE, head, insert, COMMIT, mirror, and only then the acknowledgement.
"""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from labcheck.caselog.events import Event
from labcheck.ledger import connection, place, reading, schema
from labcheck.ledger.admission import admit, checklist_needed, one_press
from labcheck.ledger.canonical import NotCanonical
from labcheck.ledger.chain import NO_HEAD, Head, Record, link_all, same_content
from labcheck.ledger.contract import Ack, CaseLine, Ledger, opening_line, text_digest
from labcheck.ledger.errors import Busy, Damaged, LedgerError, NotSaved, Refused, UnsafePlace
from labcheck.ledger.locks import FileLock
from labcheck.ledger.log_room import make_room
from labcheck.ledger.mirror import Mirror
from labcheck.ledger.sqlite_light import Database

__all__ = ["Ack", "CaseLine", "FileLedger", "Ledger", "open_ledger", "write_archive"]

WRITE_LOCK = "write.lock"
OLDEST_SQLITE = (3, 37, 0)
"""Strict tables."""
_INSERT = f"INSERT INTO event ({reading.COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608 (constant)


def open_ledger(folder: Path, *, read_only: bool = False, allow_unsafe_path: bool = False) -> FileLedger:
    """Open the ledger in a folder, making both if need be (not for reading).

    ``allow_unsafe_path`` opens on a network file system all the same; the ledger remembers that it was done.
    Raises ``LedgerError`` (one line) when the folder or the file cannot be trusted.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise UnsafePlace(f"this Python carries SQLite {sqlite3.sqlite_version}; 3.37 or newer is needed")
    if read_only:
        if not (folder / place.DATABASE).exists():
            raise UnsafePlace(f"{folder}: there is no ledger here; name its folder with --ledger")
        return FileLedger(folder.resolve(), read_only=True)
    folder = place.prepare_folder(folder)
    unsafe = place.is_shared(place.file_system(folder) or "")
    if not allow_unsafe_path:
        place.demand_local(folder)
    place.demand_room(folder)
    ledger = FileLedger(folder)
    if unsafe:
        ledger.remember(f"unsafe path {time.time_ns() // 1000}", place.file_system(folder) or "")
    return ledger


class FileLedger:
    """One SQLite file in its folder; safe to use from several threads of one program."""

    def __init__(self, folder: Path, *, read_only: bool = False) -> None:
        self.folder = folder
        self.path = folder / place.DATABASE
        self.read_only = read_only
        self.mirror = Mirror(folder)
        self._write_lock = FileLock(folder / WRITE_LOCK)
        self._writing = threading.Lock()
        self._reading = threading.Lock()
        self._writer: Database | None = None
        self._reader: Database | None = None
        self._roomy = False
        self._open()

    def append(self, events: Sequence[Event]) -> Ack:
        """Save one press; see ``Ledger.append``."""
        case = one_press(events)
        with self._alone(case) as database:
            with _committed(database):
                if not self._roomy:
                    self._roomy = True
                    make_room(self.path)
                head, sealed = reading.standing(database.conn, case)
                mirrored = self._mirror_agrees(database.conn, case, head)
                # A press that goes on from the head is new; that its ids are, the file's own index says.
                saved = self._saved_before(database.conn, events) if events[0].seq <= head.seq else None
                records = (
                    self._chained(database.conn, events, head, sealed=sealed) if saved is None else saved
                )
                if saved is None:
                    _insert(database, records, first=events[0])
            if saved is None:
                mirrored = mirrored and self._mirrored(case, records)
        return Ack(
            case=case,
            seqs=tuple(record.seq for record in records),
            head_hex=records[-1].hash.hex(),
            committed_wall_us=time.time_ns() // 1000,
            again=saved is not None,
            mirrored=mirrored,
        )

    def append_case(self, presses: Sequence[Sequence[Event]]) -> Ack:
        """Save a whole new case, every press of it or none: a record that was decided in full beforehand.

        Raises ``Refused`` if the case is not new or the presses do not make one, ``NotSaved`` as ``append`` does.
        """
        case = one_press(presses[0]) if presses else ""
        if not presses or presses[0][0].seq != 1 or self.has(case):
            raise Refused(f"case {case}: not a whole new case; nothing was saved")
        records: list[Record] = []
        with self._alone(case) as database:
            with _committed(database):
                mirrored = self._mirror_agrees(database.conn, case, NO_HEAD)
                for events in presses:
                    if one_press(events) != case:
                        raise Refused(f"case {case}: an entry of another case; nothing was saved")
                    head, sealed = reading.standing(database.conn, case)
                    made = self._chained(database.conn, events, head, sealed=sealed)
                    _insert(database, made, first=events[0])
                    records += made
            mirrored = mirrored and self._mirrored(case, records)
        return Ack(
            case=case,
            seqs=tuple(record.seq for record in records),
            head_hex=records[-1].hash.hex(),
            committed_wall_us=time.time_ns() // 1000,
            mirrored=mirrored,
        )

    def keep_checklist(self, text: bytes) -> str:
        """Keep a checklist's text; see ``Ledger.keep_checklist``."""
        digest = text_digest(text)
        with self._alone() as database:
            with _committed(database):
                if reading.checklist_text(database.conn, digest) is None:
                    database.table("checklist").insert({"digest": digest, "text": text})
            # A copy for the rebuild; where it cannot be written the ledger still has the text.
            with suppress(OSError):
                self.mirror.keep_text(text)
        return digest

    def remember(self, key: str, value: str) -> None:
        """Keep one fact about the ledger itself; the first value stays."""
        with self._alone() as database, _committed(database):
            database.table("meta").insert({"k": key, "v": value}, ignore=True)

    def settle(self, case: str) -> int:
        """See ``Ledger.settle``."""
        if self.read_only:
            self.mirror.compare(case, self.records(case))
            return 0
        with self._alone(case) as database:
            try:
                self.mirror.forget()
                return self._agree(database.conn, case, reading.head(database.conn, case))
            except OSError as failed:
                raise NotSaved(f"{self.mirror.path(case)}: the mirror cannot be written ({failed})") from None

    def lost(self) -> list[str]:
        """Cases that have a mirror and are not in the database: it lost them; ``labcheck rebuild`` has them."""
        with self._connection() as reader:
            stored = reading.case_keys(reader)
        return sorted(self.mirror.cases() - stored)

    def checklist_text(self, digest: str) -> bytes:
        """See ``Ledger.checklist_text``."""
        with self._connection() as reader:
            text = reading.checklist_text(reader, digest)
        if text is None:
            raise LedgerError(f"{self.path}: no checklist is kept under {digest}")
        return text

    def events(self, case: str) -> tuple[Event, ...]:
        """See ``Ledger.events``. Raises ``Damaged`` when a row is no event of ours."""
        try:
            return tuple(record.event() for record in self.records(case))
        except ValueError as odd:
            why = str(odd).partition("\n")[0]
            raise Damaged(
                f"case {case}: an entry cannot be read ({why}); run: labcheck verify {case}"
            ) from None

    def records(self, case: str) -> tuple[Record, ...]:
        """See ``Ledger.records``."""
        with self._connection() as reader:
            return tuple(reading.records(reader, case))

    def head(self, case: str) -> Head:
        """See ``Ledger.head``."""
        with self._connection() as reader:
            return reading.head(reader, case)

    def cases(self, *, unfinished_only: bool = False) -> list[CaseLine]:
        """See ``Ledger.cases``."""
        with self._connection() as reader:
            return reading.case_lines(reader, unfinished_only=unfinished_only)

    def keys(self, *, rehearsals: bool) -> list[str]:
        """See ``Ledger.keys``."""
        with self._connection() as reader:
            return sorted(reading.case_keys(reader, rehearsals=rehearsals))

    def has(self, case: str) -> bool:
        """See ``Ledger.has``. A case of which only the mirror is left counts, so that no key is used twice."""
        return self.head(case).seq > 0 or self.mirror.path(case).exists()

    def reopen(self) -> None:
        """Give the writing side up and take it anew. What is read afterwards is on the disk, not only in memory.

        After a failed sync the log may show a row that never reached the disk; copying the log into the main
        file writes and syncs it anew. Raises ``NotSaved`` if that cannot be done; reading goes on all the same.
        """
        with self._writing, self._reading:
            if self._writer is not None:
                self._writer.close()
                self._writer = None
            self.mirror.forget()
            self._open()

    def close(self) -> None:
        """See ``Ledger.close``."""
        with self._writing, self._reading:
            self._close()
            self._write_lock.close()

    def _open(self) -> None:
        if self.read_only:
            self._reader = self._reader or connection.open_reading(self.path)
            return
        with self._locked():
            if not self.path.exists():
                if mirrored := self.mirror.cases():
                    raise Damaged(
                        f"{self.path}: missing, but {len(mirrored)} cases are mirrored; run: labcheck rebuild"
                    )
                self._create()
            with suppress(OSError):
                schema.clear_away(self.path)
            writer = connection.open_writing(self.path)
            try:
                self._settle(writer.conn)
                if self._reader is None:
                    self._reader = connection.open_reading(self.path)
            except BaseException:
                writer.close()
                raise
            self._writer = writer

    def _create(self) -> None:
        try:
            schema.create(self.path)
        except (OSError, sqlite3.Error) as failed:
            raise UnsafePlace(f"{self.path}: a new ledger could not be made ({failed})") from None

    def _settle(self, writer: sqlite3.Connection) -> None:
        with connection.translated(self.path):
            blocked, in_log, copied = writer.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if blocked and in_log != copied:
            raise Busy(f"{self.path}: another program is reading the ledger; try again")

    def _close(self) -> None:
        self.mirror.close()
        # The reader first: the last connection to go copies the log into the main file.
        for database in (self._reader, self._writer):
            if database is not None:
                database.close()
        self._reader = self._writer = None

    @contextmanager
    def _connection(self) -> Iterator[sqlite3.Connection]:
        with self._reading, connection.translated(self.path):
            if self._reader is None:
                raise LedgerError(f"{self.path}: the ledger is closed")
            yield self._reader.conn

    @contextmanager
    def _locked(self) -> Iterator[None]:
        # SQLite before 3.51.3 can lose a commit that races another connection's checkpoint: one at a time.
        if not self._write_lock.take(connection.WAIT_S):
            raise Busy(f"{self.path}: another console is saving; try again")
        try:
            yield
        finally:
            self._write_lock.let_go()

    @contextmanager
    def _alone(self, case: str | None = None) -> Iterator[Database]:
        if self.read_only:
            raise Refused(f"{self.path}: opened for reading only")
        with self._writing, self._locked(), connection.translated(self.path, case):
            if self._writer is None:
                raise NotSaved(f"{self.path}: the ledger is closed; open it again")
            yield self._writer

    def _agree(self, writer: sqlite3.Connection, case: str, head: Head) -> int:
        return self.mirror.agree(case, head.seq, lambda: tuple(reading.records(writer, case)))

    def _mirror_agrees(self, writer: sqlite3.Connection, case: str, head: Head) -> bool:
        try:
            self._agree(writer, case, head)
        except OSError:
            return False
        return True

    def _mirrored(self, case: str, records: Sequence[Record]) -> bool:
        try:
            self.mirror.append(case, records)
        except OSError:
            return False
        return True

    def _saved_before(self, writer: sqlite3.Connection, events: Sequence[Event]) -> list[Record] | None:
        found = [reading.record_by_id(writer, event.id) for event in events]
        if all(record is None for record in found):
            return None
        saved = [
            record
            for record, event in zip(found, events, strict=True)
            if record is not None and same_content(record, event)
        ]
        if len(saved) != len(events):
            raise Refused(f"case {events[0].case}: this press is already saved with other content")
        return saved

    def _chained(
        self, writer: sqlite3.Connection, events: Sequence[Event], head: Head, *, sealed: bool
    ) -> list[Record]:
        case = events[0].case
        admit(events, head, sealed=sealed)
        digest = checklist_needed(events)
        if digest is not None and reading.checklist_text(writer, digest) is None:
            raise Refused(f"case {case}: keep the checklist's text before the case is opened with it")
        try:
            return link_all(events, reading.prev_of(head))
        except NotCanonical as odd:
            raise Refused(f"case {case}: {odd}") from None


def write_archive(database: Database, records: Sequence[Record], checklist: bytes) -> None:
    """Put one whole case and its checklist into a file of its own, as the rows stand."""
    with _committed(database):
        database.table("checklist").insert({"digest": text_digest(checklist), "text": checklist})
        _insert(database, records, first=records[0].event())


def _insert(database: Database, records: Iterable[Record], *, first: Event) -> None:
    # Plain SQL here: the library's insert looks at the table first, which would be a third of a save.
    database.conn.executemany(
        _INSERT,
        (
            (r.case, r.seq, r.event_id, r.epoch, r.kind, r.target, r.body.decode("utf-8"), r.prev, r.hash)
            for r in records
        ),
    )
    if first.kind == "case.opened":
        opened, technique, targets, rehearsal = opening_line(first)
        database.table("case_line").insert(
            {
                "case_id": first.case,
                "opened": opened.model_dump_json(),
                "technique": technique,
                "targets": json.dumps(targets),
                "rehearsal": int(rehearsal),
            }
        )


@contextmanager
def _committed(database: Database) -> Iterator[None]:
    database.conn.execute("BEGIN IMMEDIATE")
    try:
        yield
        database.conn.execute("COMMIT")
    except BaseException:
        _roll_back(database.conn)
        raise


def _roll_back(writer: sqlite3.Connection) -> None:
    if writer.in_transaction:
        try:
            writer.execute("ROLLBACK")
        except sqlite3.Error:
            # The error that brought us here is the one to report; reopening ends the transaction for good.
            return
