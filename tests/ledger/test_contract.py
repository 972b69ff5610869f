"""What every ledger promises; run on the file ledger and on its twin in memory."""

from __future__ import annotations

import hashlib
import itertools
from decimal import Decimal

import pytest

from labcheck.caselog.events import CaseOpened, CaseSealed, NoteWritten, ReadingTaken, SealAttested
from labcheck.ledger.chain import NO_HEAD, digest
from labcheck.ledger.contract import Ledger
from labcheck.ledger.errors import Fenced, LedgerError, Refused, StaleEpoch
from tests.ledger.making import CASE, CHECKLIST, OTHER, Maker


def test_a_case_reads_back_exactly_as_it_was_appended(ledger: Ledger, maker: Maker) -> None:
    presses = [maker.opening(), maker.note("étude 1, 日本"), maker.void(2), maker.mark()]
    for press in presses:
        ledger.append(press)
    assert ledger.events(CASE) == tuple(itertools.chain(*presses))


def test_one_press_gets_one_acknowledgement_for_all_its_events(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    ack = ledger.append(maker.press(NoteWritten(text="one"), NoteWritten(text="two")))
    assert (ack.case, ack.seqs, ack.again) == (CASE, (2, 3), False)
    assert ack.head_hex == ledger.head(CASE).hash_hex
    assert ledger.head(CASE).seq == 3


def test_a_press_sent_again_gets_the_same_acknowledgement_and_is_stored_once(
    ledger: Ledger, maker: Maker
) -> None:
    ledger.append(maker.opening())
    press = maker.press(NoteWritten(text="one"), NoteWritten(text="two"))
    first = ledger.append(press)
    ledger.append(maker.note("later"))
    again = ledger.append(press)
    assert (again.case, again.seqs, again.head_hex) == (first.case, first.seqs, first.head_hex)
    assert again.again
    assert len(ledger.events(CASE)) == 4


def test_a_saved_id_with_other_content_is_refused(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    (event,) = maker.note("left wire across")
    ledger.append([event])
    with pytest.raises(Refused, match="other content"):
        ledger.append([event.model_copy(update={"what": NoteWritten(text="right wire across")})])
    assert [e.what for e in ledger.events(CASE)[1:]] == [event.what]


def test_the_chain_starts_at_zero_and_each_entry_names_the_one_before(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    ledger.append(maker.note())
    ledger.append(maker.press(NoteWritten(text="one"), NoteWritten(text="two")))
    records = ledger.records(CASE)
    assert records[0].prev == bytes(32)
    assert all(b.prev == a.hash for a, b in itertools.pairwise(records))
    assert all(record.hash == digest(record.body) for record in records)
    assert records[-1].hash.hex() == ledger.head(CASE).hash_hex


def test_two_ledgers_with_the_same_presses_have_the_same_head(ledger: Ledger) -> None:
    # The digest depends on nothing but the events: pinned here so that a change of format is noticed.
    first, second = Maker(), Maker(OTHER)
    for maker in (first, second):
        ledger.append(maker.opening())
        ledger.append(maker.note())
    bodies = [record.body for record in ledger.records(CASE)]
    prev = bytes(32)
    for body in bodies:
        assert f'"prev":"{prev.hex()}"'.encode() in body
        prev = hashlib.sha256(b"labcheck-event-v1\x00" + body).digest()
    assert prev.hex() == ledger.head(CASE).hash_hex
    assert ledger.head(OTHER).hash_hex != ledger.head(CASE).hash_hex


def test_a_number_that_is_taken_means_another_console_writes_here(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    second = Maker(start=50)
    second.seq = 1
    ledger.append(maker.note("from the first console"))
    with pytest.raises(Fenced, match="another console writes to this case"):
        ledger.append(second.note("from the second, which knows no better"))
    assert ledger.head(CASE).seq == 2


@pytest.mark.parametrize("jump", [1, 5])
def test_a_number_past_the_next_is_refused(ledger: Ledger, maker: Maker, jump: int) -> None:
    ledger.append(maker.opening())
    ledger.append(maker.note())
    (event,) = maker.note()
    with pytest.raises(Refused, match="next entry is 3"):
        ledger.append([event.model_copy(update={"seq": event.seq + jump})])
    assert ledger.head(CASE).seq == 2


def test_a_press_is_saved_whole_or_not_at_all(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    good, bad = maker.press(NoteWritten(text="one"), NoteWritten(text="two"))
    with pytest.raises(Refused):
        ledger.append([good, bad.model_copy(update={"seq": 9})])
    assert ledger.head(CASE).seq == 1
    assert ledger.append([good, bad]).seqs == (2, 3)


def test_a_takeover_fences_the_old_console(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    old = maker.note("from the old console")
    maker.seq -= 1
    ledger.append(maker.lease())
    with pytest.raises(StaleEpoch, match="took this case over"):
        ledger.append(old)
    assert [event.kind for event in ledger.events(CASE)] == ["case.opened", "lease.taken"]
    assert ledger.head(CASE).epoch == 2


def test_a_press_saved_before_the_takeover_is_still_acknowledged_after_it(
    ledger: Ledger, maker: Maker
) -> None:
    ledger.append(maker.opening())
    press = maker.note()
    ledger.append(press)
    ledger.append(maker.lease())
    assert ledger.append(press).again


@pytest.mark.parametrize("epoch", [2, 3])
def test_only_a_lease_begins_an_epoch(ledger: Ledger, maker: Maker, epoch: int) -> None:
    ledger.append(maker.opening())
    with pytest.raises(Refused, match=r"lease\.taken"):
        ledger.append(maker.note(epoch=epoch))


def test_an_epoch_cannot_be_skipped(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    maker.epoch = 2
    with pytest.raises(Refused, match="by one"):
        ledger.append(maker.lease())


def test_a_case_opens_once_and_first(ledger: Ledger, maker: Maker) -> None:
    with pytest.raises(Refused, match=r"begins with one case\.opened"):
        ledger.append(maker.note())
    maker.seq = 0
    ledger.append(maker.opening())
    with pytest.raises(Refused, match=r"begins with one case\.opened"):
        ledger.append(maker.opening())


def test_a_new_case_begins_in_epoch_one(ledger: Ledger, maker: Maker) -> None:
    maker.epoch = 2
    with pytest.raises(Refused, match="begins in epoch 1"):
        ledger.append(maker.opening())


def test_two_events_of_one_press_have_ids_of_their_own(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    first, second = maker.press(NoteWritten(text="one"), NoteWritten(text="two"))
    with pytest.raises(Refused, match="same id"):
        ledger.append([first, second.model_copy(update={"id": first.id})])


def test_nothing_follows_the_seal_in_its_own_press_either(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    with pytest.raises(Refused, match="sealed"):
        ledger.append(maker.press(CaseSealed(entries=1, signed_by="N1"), NoteWritten(text="too late")))
    assert ledger.head(CASE).seq == 1


def test_a_case_is_not_opened_without_the_text_of_its_checklist(maker: Maker, ledger: Ledger) -> None:
    (event,) = maker.opening()
    strange = event.what.model_copy(update={"checklist_digest": "0" * 64})
    with pytest.raises(Refused, match="checklist"):
        ledger.append([event.model_copy(update={"what": strange})])
    assert not ledger.has(CASE)


def test_after_the_seal_only_corrections_addenda_and_attestations_follow(
    ledger: Ledger, maker: Maker
) -> None:
    ledger.append(maker.opening())
    ledger.append(maker.note())
    ledger.append(maker.press(CaseSealed(entries=2, signed_by="N1")))
    sealed_head = ledger.head(CASE)
    with pytest.raises(Refused, match="sealed"):
        ledger.append(maker.note())
    maker.seq -= 1
    ledger.append(maker.void(2))
    ledger.append(maker.press(SealAttested(head=sealed_head.short)))
    assert ledger.records(CASE)[2].hash.hex() == sealed_head.hash_hex


def test_a_second_seal_is_refused(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    ledger.append(maker.press(CaseSealed(entries=1, signed_by="N1")))
    with pytest.raises(Refused, match="sealed"):
        ledger.append(maker.press(CaseSealed(entries=2, signed_by="N1")))


def test_a_correction_names_an_earlier_entry(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    with pytest.raises(Refused, match="not an earlier one"):
        ledger.append(maker.void(2))


def test_text_out_of_its_normal_form_is_refused(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    with pytest.raises(Refused, match="NFC"):
        ledger.append(maker.note("e\u0301tude"))


def test_events_of_two_cases_or_two_presses_are_not_one_save(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    with pytest.raises(Refused, match="one case"):
        ledger.append([*maker.note(), *Maker(OTHER).opening()])
    maker.seq = 1
    with pytest.raises(Refused, match="presses"):
        ledger.append([*maker.note(), *maker.note()])
    with pytest.raises(Refused, match="no events"):
        ledger.append([])


def test_a_checklist_is_kept_under_its_digest(ledger: Ledger) -> None:
    text = b'id = "x"\r\n# \xc3\xa9\n'
    digest_hex = ledger.keep_checklist(text)
    assert digest_hex == hashlib.sha256(text).hexdigest()
    assert ledger.keep_checklist(text) == digest_hex
    assert ledger.checklist_text(digest_hex) == text
    assert ledger.checklist_text(ledger.keep_checklist(CHECKLIST)) == CHECKLIST
    with pytest.raises(LedgerError, match="no checklist"):
        ledger.checklist_text("0" * 64)


def test_the_list_of_cases_says_what_the_home_screen_needs(ledger: Ledger, maker: Maker) -> None:
    opening = maker.opening(targets=("left", "right"))
    ledger.append(opening)
    note = maker.note()
    ledger.append(note)
    later = Maker(OTHER, start=60)
    ledger.append(later.opening(rehearsal=True))
    ledger.append(later.press(CaseSealed(entries=1, signed_by="N1")))
    second, first = ledger.cases()
    assert (first.case, first.entries, first.sealed, first.rehearsal) == (CASE, 2, False, False)
    assert (first.technique, first.targets) == ("electrosurgical", ("left", "right"))
    assert (first.opened, first.last) == (opening[0].happened, note[0].entered.moment())
    assert (second.case, second.entries, second.sealed, second.rehearsal) == (OTHER, 2, True, True)
    assert ledger.cases(unfinished_only=True) == [first]


def test_the_keys_of_real_cases_and_of_rehearsals_are_told_apart(ledger: Ledger, maker: Maker) -> None:
    third = "B7Q2-M4"
    ledger.append(maker.opening())
    ledger.append(Maker(OTHER, start=60).opening(rehearsal=True))
    ledger.append(Maker(third, start=90).opening())
    assert ledger.keys(rehearsals=False) == sorted([CASE, third])
    assert ledger.keys(rehearsals=True) == [OTHER]


def test_an_unknown_case_has_no_head_and_no_events(ledger: Ledger) -> None:
    assert not ledger.has(OTHER)
    assert ledger.head(OTHER) == NO_HEAD
    assert ledger.events(OTHER) == ()


def test_nothing_is_saved_to_a_closed_ledger_until_it_is_reopened(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening())
    ledger.close()
    press = maker.note()
    with pytest.raises(LedgerError, match="closed"):
        ledger.append(press)
    ledger.reopen()
    assert ledger.append(press).seqs == (2,)


def test_decimals_come_back_with_the_digits_they_were_given(ledger: Ledger, maker: Maker) -> None:
    ledger.append(maker.opening(weight_kg=Decimal("71.50")))
    press = maker.press(ReadingTaken(reading="act", value=Decimal("274.0"), unit="s"))
    ledger.append(press)
    opening, reading = ledger.events(CASE)
    assert isinstance(opening.what, CaseOpened)
    assert str(opening.what.plan.weight_kg) == "71.50"
    assert isinstance(reading.what, ReadingTaken)
    assert str(reading.what.value) == "274.0"
