"""Somebody who holds the ledger, and not the key, tries to join a registry export back to it by what stands in both.

What they can still do is compare durations and values, as the data dictionary says: the profiles protect against
outsiders. By a name, a digest, a date, a time of day, an offset or a number of any clock they find nothing.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import uuid
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.stamps import Moment, Stamp
from labcheck.registry.dicom import instance
from labcheck.registry.exporting import NEED_CLOCK_TIMES, WRITERS, export_case
from labcheck.registry.fhir import elements
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase
from labcheck.registry.times import aware, offset
from tests.registry.generating import generated
from tests.registry.telling import everything, rehearsals

KEY, OTHER_KEY = Pseudonyms(bytes(range(32))), Pseudonyms(bytes(range(1, 33)))
Stored = list[tuple[Case, StoredCase]]
SHORTEST = 5
"""Shorter words and numbers stand in any file by chance."""


@pytest.fixture(scope="module")
def cases() -> Stored:
    return [everything(), rehearsals()[0], *(generated(seed) for seed in range(4))]


def left(cases: Stored, folder: Path, profile: str, key: Pseudonyms = KEY) -> str:
    """Everything that left, file names too, as one text."""
    formats = [name for name in WRITERS if profile == "shifted" or name not in NEED_CLOCK_TIMES]
    paths = [
        path
        for number, case in enumerate(cases)
        for path in export_case(*case, formats, folder / f"{number}", profile=profile, pseudonyms=key)
    ]
    return "\n".join(path.name + "\n" + path.read_bytes().decode("utf-8", "replace") for path in paths)


def names(case: Case, stored: StoredCase) -> Iterator[str]:
    """By what the ledger calls a case and its entries."""
    yield case.key
    yield case.checklist_digest
    if case.plan is not None and case.plan.study_number is not None:
        yield f"S-{case.plan.study_number}"
    yield stored.head.short
    for record in stored.records:
        event = record.event()
        yield from (event.id, event.press, record.hash.hex(), base64.b32encode(record.hash[:10]).decode())


def guesses(secrets: Iterable[str]) -> Iterator[str]:
    """What anybody could work out from a name without the key: digests of it, and ids made from it."""
    for secret in secrets:
        for spelt in (secret, secret.lower(), secret.replace("-", ""), f"C-{secret}"):
            data = spelt.encode()
            yield spelt
            for kind in ("md5", "sha1", "sha256"):
                yield hashlib.new(kind, data).hexdigest()[:16]
            yield base64.b32encode(hashlib.sha256(data).digest()).decode()[:16]
            yield from (str(uuid.uuid5(space, spelt)) for space in (elements.NAMESPACE, instance.NAMESPACE))


def clocks(case: Case) -> Iterator[tuple[Moment | Stamp, int]]:
    """Every reading of every clock in the log: the moment, and its boot clock."""
    for event in case.log:
        yield event.happened, event.happened.boot_us or 0
        yield event.entered, event.entered.boot_us or 0


def days_and_clocks(case: Case) -> Iterator[str]:
    """By when it happened: the day in any spelling, whole numbers of any clock."""
    for moment, boot_us in clocks(case):
        at: datetime = aware(moment)
        yield from (at.strftime(form) for form in ("%Y-%m-%d", "%Y%m%d", "%d.%m.%Y", "%m/%d/%Y", "%d %B %Y"))
        for scale in (1, 1000, 1_000_000):
            yield str(moment.wall_us // scale)
            yield str(boot_us // scale)


def times_of_day(case: Case) -> Iterator[str]:
    for moment, _ in clocks(case):
        yield aware(moment).strftime("%H:%M:%S")
        yield aware(moment).strftime("%H%M%S+")
        yield offset(moment)


def words_of(text: str) -> set[str]:
    """The text cut into words in several ways, and what long words begin with."""
    whole = set(re.findall(r"[^\s\"',;|/<>=]+", text)) | set(re.findall(r"[A-Za-z0-9]+", text))
    parts = {part for word in whole for part in re.split(r"[T.:_()\[\]{}]", word)}
    times = set(re.findall(r"\d\d:\d\d:\d\d", text)) | set(re.findall(r"[+-]\d\d:\d\d", text))
    return whole | parts | times | {word[:16] for word in whole | parts}


def found_in(words: set[str], tokens: Iterable[str]) -> set[str]:
    """The tokens that stand among the words."""
    return {token for token in tokens if len(token) >= SHORTEST} & words


@pytest.mark.parametrize("profile", ["registry", "shifted"])
def test_no_name_and_no_digest_of_the_ledger_leads_from_an_export_to_its_case(
    profile: str, cases: Stored, tmp_path: Path
) -> None:
    words = words_of(left(cases, tmp_path, profile))
    for case, stored in cases:
        assert found_in(words, guesses(names(case, stored))) == set(), case.key


@pytest.mark.parametrize("profile", ["registry", "shifted"])
def test_no_day_and_no_clock_of_the_ledger_leads_from_an_export_to_its_case(
    profile: str, cases: Stored, tmp_path: Path
) -> None:
    for number, one in enumerate(cases):
        words = words_of(left([one], tmp_path / f"{number}", profile))
        tokens = set(days_and_clocks(one[0]))
        if profile == "registry":
            tokens |= set(times_of_day(one[0]))
        # Seconds of the boot clock and of a duration may be the same number by chance.
        tokens = {token for token in tokens if not (token.isdecimal() and len(token) < 8)}
        assert found_in(words, tokens) == set(), one[0].key


def test_the_search_finds_all_of_it_where_nothing_is_held_back(cases: Stored, tmp_path: Path) -> None:
    case, stored = cases[0]
    (path,) = export_case(case, stored, ["json"], tmp_path, profile="hospital")
    words = words_of(path.read_text(encoding="utf-8"))
    found = found_in(words, [*names(case, stored), *days_and_clocks(case), *times_of_day(case)])
    assert {case.key, stored.head.short, stored.head.hash_hex, "2031-03-04", "+01:00", "S-0007"} <= found
    assert {event.id for event in case.log} <= found
    assert {str(event.happened.wall_us) for event in case.log} <= found


def test_no_number_of_a_registry_export_is_large_enough_for_an_instant(cases: Stored, tmp_path: Path) -> None:
    text = left(cases, tmp_path, "registry")
    numbers = {abs(float(found)) for found in re.findall(r"(?<![\w.:-])-?\d+(?:\.\d+)?(?![\w.:-])", text)}
    assert len(numbers) > 100
    assert max(numbers) < 10_000_000


def test_two_exports_under_two_keys_share_no_name(cases: Stored, tmp_path: Path) -> None:
    def ids(key: Pseudonyms, folder: str) -> set[str]:
        text = left(cases, tmp_path / folder, "registry", key)
        # A table without rows has one digest wherever it was written.
        text = re.sub(r'"hash": "sha256:[0-9a-f]{64}"', "", text)
        return set(re.findall(r"[A-Z2-7]{20}|[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}|[0-9a-f]{64}", text))

    one, other = ids(KEY, "one"), ids(OTHER_KEY, "other")
    assert len(one) > 100
    assert one & other == set()


def test_the_same_text_of_a_checklist_has_the_same_name_and_another_text_another(tmp_path: Path) -> None:
    said = []
    for number, (case, stored) in enumerate([everything(), everything(study="0008"), rehearsals()[0]]):
        (path,) = export_case(
            case, stored, ["json"], tmp_path / f"{number}", profile="registry", pseudonyms=KEY
        )
        said.append(json.loads(path.read_bytes())["case"]["checklist_digest"])
    assert said[0] == said[1] != said[2]
    assert all(re.fullmatch(r"keyed:[0-9a-f]{64}", name) for name in said)
