"""Random presses, resends, crashes, reopenings and takeovers, on both ledgers, against a list."""

from __future__ import annotations

import shutil
import tempfile
import unicodedata
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from labcheck.caselog.events import AFTER_SEAL, CaseSealed, Event, NoteWritten
from labcheck.ledger.contract import Ledger
from labcheck.ledger.errors import Fenced, LedgerError, Refused
from labcheck.ledger.memory import MemoryLedger
from labcheck.ledger.resume import load
from labcheck.ledger.store import FileLedger, open_ledger
from labcheck.ledger.verify import verify
from tests.ledger.making import CASE, CHECKLIST, Maker

notes = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


class Ledgers(RuleBasedStateMachine):
    """The model is ``self.log``: the events that were acknowledged, in order."""

    def __init__(self) -> None:
        super().__init__()
        self.scratch = Path(tempfile.mkdtemp())
        self.runs = 0
        self.file: FileLedger = open_ledger(self.scratch / "0")
        self.memory = MemoryLedger()
        self.maker = Maker()
        self.log: list[Event] = []
        self.presses: list[tuple[Event, ...]] = []
        for ledger in self.both:
            ledger.keep_checklist(CHECKLIST)
        self.save(self.maker.opening())

    @property
    def both(self) -> tuple[Ledger, Ledger]:
        return self.file, self.memory

    @property
    def sealed(self) -> bool:
        return any(event.kind == "case.sealed" for event in self.log)

    def save(self, press: tuple[Event, ...]) -> None:
        """What must be taken, is, by both, with the same head."""
        first, second = (ledger.append(press) for ledger in self.both)
        assert (first.seqs, first.head_hex) == (second.seqs, second.head_hex)
        self.log += press
        self.presses.append(press)

    def refuse(self, press: tuple[Event, ...], error: type[LedgerError]) -> None:
        """What must not be taken, is not, by both, with the same words."""
        words = []
        for ledger in self.both:
            with pytest.raises(error) as said:
                ledger.append(press)
            words.append(str(said.value))
        assert words[0] == words[1]
        self.maker.seq = len(self.log)

    @rule(texts=st.lists(notes, min_size=1, max_size=3))
    def write(self, texts: list[str]) -> None:
        press = self.maker.press(*(NoteWritten(text=unicodedata.normalize("NFC", text)) for text in texts))
        if self.sealed:
            self.refuse(press, Refused)
        else:
            self.save(press)

    @rule(share=st.floats(0, 1))
    def correct(self, share: float) -> None:
        self.save(self.maker.void(1 + int(share * (len(self.log) - 1))))

    @rule(which=st.integers(0, 1000))
    def send_again(self, which: int) -> None:
        press = self.presses[which % len(self.presses)]
        for ledger in self.both:
            ack = ledger.append(press)
            assert ack.again
            assert ack.seqs == tuple(event.seq for event in press)

    @rule()
    def take_over(self) -> None:
        self.save(self.maker.lease())

    @precondition(lambda self: self.maker.epoch > 1)
    @rule()
    def write_from_the_old_console(self) -> None:
        epoch = self.maker.epoch
        self.maker.epoch = epoch - 1
        self.refuse(self.maker.mark(), Fenced)
        self.maker.epoch = epoch

    @precondition(lambda self: not self.sealed)
    @rule()
    def seal(self) -> None:
        self.save(self.maker.press(CaseSealed(entries=len(self.log), signed_by="N1")))

    @rule()
    def close_and_open(self) -> None:
        folder = self.file.folder
        self.file.close()
        self.file = open_ledger(folder)

    @rule()
    def reopen(self) -> None:
        self.file.reopen()

    @rule(mirror_lost=st.booleans())
    def crash(self, mirror_lost: bool) -> None:
        """The files as they lie there now are all that is left, perhaps without the mirror."""
        self.runs += 1
        folder = self.scratch / str(self.runs)
        shutil.copytree(self.file.folder, folder, ignore=shutil.ignore_patterns("*-shm"))
        self.file.close()
        if mirror_lost:
            shutil.rmtree(folder / "mirror")
        self.file = open_ledger(folder)
        load(self.file, CASE)

    @invariant()
    def everything_acknowledged_is_there_and_nothing_else(self) -> None:
        for ledger in self.both:
            assert ledger.events(CASE) == tuple(self.log)
        assert self.file.head(CASE) == self.memory.head(CASE)
        (line,) = self.file.cases()
        assert (line.entries, line.sealed) == (len(self.log), self.sealed)
        kinds = [event.kind for event in self.log]
        if self.sealed:
            assert set(kinds[kinds.index("case.sealed") + 1 :]) <= set(AFTER_SEAL)

    def teardown(self) -> None:
        try:
            assert verify(self.file) == []
        finally:
            self.file.close()
            shutil.rmtree(self.scratch)


TestLedgers = Ledgers.TestCase
TestLedgers.settings = settings(
    max_examples=25, stateful_step_count=25, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
