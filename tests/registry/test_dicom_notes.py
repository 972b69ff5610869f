"""What the procedure log says in its notes, and the times it gives to what was corrected."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from pydicom import dcmread

from labcheck.caselog.events import StepAnswered
from labcheck.checklist import finding
from labcheck.registry.checking.dicom import check_log
from tests.registry.telling import everything, rehearsals, with_a_corrected_time
from tests.registry.test_dicom import below, entries, exported, named


def test_every_answer_that_counts_is_there_also_one_that_a_later_answer_replaced(tmp_path: Path) -> None:
    case, stored = next(c for c in rehearsals() if c[0].checklist.id == "electrosurgical")
    notes = [i.TextValue for i in named(dcmread(exported((case, stored), tmp_path)), "Nursing Note")]
    given = Counter(
        (e.what.stage, e.what.step)
        for e in case.log
        if isinstance(e.what, StepAnswered) and e.seq not in case.voided
    )
    assert given.total() > len(case.answers)
    for (stage, step), times in given.items():
        asked = finding.step(case.checklist, stage, step)
        assert asked is not None
        assert sum(note.startswith((f"{asked.say}:", f"{asked.say}, ")) for note in notes) >= times


def test_notes_are_in_the_words_of_the_checklist_and_outside_the_hospital_in_its_ids(tmp_path: Path) -> None:
    notes = {
        profile: [
            i.TextValue
            for i in entries(dcmread(exported(everything(), tmp_path, profile)))
            if "TextValue" in i
        ]
        for profile in ("hospital", "shifted")
    }
    assert "Sample sent: ACT" in notes["hospital"]
    assert "Sample sent: act" in notes["shifted"]
    assert "ACT: 275 s (sample sent 09:02:00) (+1+1)" in notes["hospital"]
    assert "Coronary flow, left coronary: normal (angiography scrub)" in notes["hospital"]
    assert "Clock compared: imaging minus console 31 s, give or take 1 s" in notes["hospital"]
    assert "Decision: Cerebral protection: declined (0007 said =cmd)" in notes["hospital"]
    assert "Decision: protect: declined" in notes["shifted"]


def test_a_corrected_time_is_estimated_and_was_recorded_when_it_was_corrected(tmp_path: Path) -> None:
    written = exported(with_a_corrected_time()[0], tmp_path)
    ended = next(
        i for i in named(dcmread(written), "End Procedure Action") if "failed" in str(below(i)["Comment"])
    )
    assert str(ended.ObservationDateTime) == "20310304091236.000000+0100"
    assert below(ended)["Observation DateTime Qualifier"] == "DateTime Estimated"
    assert below(ended)["DateTime of Recording of Log Entry"] == "20310304092900.000000+0100"
    assert list(check_log(written)) == []
