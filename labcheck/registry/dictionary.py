"""The data dictionary, made from the row models and the event models."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args

from pydantic import BaseModel

from labcheck.caselog.events import AFTER_SEAL, Payload
from labcheck.registry.columns import Profile, Row, column
from labcheck.registry.concepts import CONCEPTS
from labcheck.registry.profiles import properties
from labcheck.registry.rows.endpoints import ENDPOINTS
from labcheck.registry.tables import ROWS
from labcheck.registry.tableschema import PROFILE, PROFILE_SAYS

INTRODUCTION = """# Data dictionary

Made from the program's own models (`python -m labcheck.registry.contract`); do not edit by hand.

labcheck records and prompts. It gives no advice and judges nothing: what is in these files is what a person at
the console said happened, when they said it, and what was corrected later.

## How to read the tables

- One folder is one data package: `datapackage.json` describes every table (Table Schema), with the size and
  SHA-256 of each file. One row of `cases` is one case; every other table points to it by `case_id`.
- UTF-8, comma, CRLF, quotes doubled. No byte order mark; the variant for spreadsheets (`--excel`) has one.
- An empty cell means: not recorded, or does not apply. It never means no, and never means zero.
- `true` and `false` are spelt so. Numbers have a decimal point and no exponent.
- **Text cells may begin with one apostrophe.** It keeps a spreadsheet from taking the text for a formula, a
  number or a date. A program that reads the file takes one leading apostrophe away from text columns (those of
  type *text* below) and has the exact text. Numbers, times and ids never carry it.
- Ids begin with a letter (`C-` case, `S-` study number, `E-` entry; in the registry profile `P-` and `Q-`
  pseudonyms), so that no spreadsheet takes `0007` for seven.
- Loading the same package twice must change nothing: use the key named at each table.

## Time

- `..._at` columns are RFC 3339 with a numeric offset and three decimals, as in `2031-03-04T09:14:05.123+01:00`:
  the local time and the offset in force at the event. Many programs turn this into UTC and drop the offset, so
  `utc_offset` stands beside it.
- `..._rel_s` and `t_rel_s` count seconds from the opening of the access stage (`access_at` in `cases`); before it
  they are negative; where access was never opened they are empty.
- Durations are measured with a steady clock that no clock change can touch (`boot`). Where the two ends lie on
  different sides of a restart, or one was copied from paper, only the wall clock is left (`wall`).
- Order is `seq`, never time: an entry made later about something earlier has a higher `seq` and an earlier time.
- What happened and when it was entered are both kept (`occurred_at`, `recorded_at`, `lag_s`, `mode`). Entries
  made more than 20 minutes after the fact are flagged.
- Stored times are never shifted. How far the imaging clock was off is in `clocks`.

## Corrections

Nothing is ever removed. A correction is an entry of its own: `event.voided` takes an earlier entry out,
`event.amended` replaces one field of it. `events` shows every entry as it was first written, with the flags
`voided` and `amended`; count only rows with `voided` = `false`. All other tables show what still counts, with
corrections applied.

## Profiles

Every file says under which profile it was written; in every table the last column `profile` says it, so that a
table that was parted from its package still tells what its times are.

- `hospital`: everything.
- `registry`: the year and relative times only. No clock time, no free text, no tag of a person, no serial or lot
  number (none is ever recorded), no case key and no study number: both are replaced by keyed pseudonyms. Words
  that are not an id of the checklist leave as `other`. Columns marked *clock* or *hospital* below are not there.
- `shifted`: as `registry`, with clock times (columns marked *clock*) moved by a whole number of weeks that is
  secret and the same for all cases of one patient. Time of day and weekday stay; the year is left out.

The pseudonyms are worked out with a key that the hospital keeps outside the ledger; the same key gives the same
pseudonyms, so that later exports fit earlier ones. Nobody without the key can turn a pseudonym back. Whoever holds
the ledger itself can still recognise a case by its durations: the profiles protect against outsiders.

Stages, steps, readings, drugs, outcomes and the like are named by their ids in the checklist that the case was
run with (`checklist_id`, `checklist_digest`). `codebook.csv` says what every id of the shipped checklists means; a
site with ids of its own sends its own checklist. The exact text is in the hospital's JSON document of each case.
"""


def data_dictionary() -> str:
    """The whole dictionary as Markdown."""
    parts = [
        INTRODUCTION,
        "## Tables\n",
        *(_table(name, row) for name, row in ROWS.items()),
        _kinds(),
        _codes(),
    ]
    return "\n".join(parts)


def _table(name: str, row: type[Row]) -> str:
    lines = [
        f"### {name}.csv",
        "",
        _docstring(row),
        "",
        f"Key: {', '.join(f'`{part}`' for part in row.KEY)}.",
        "",
        "| column | type | unit | profile | meaning |",
        "|---|---|---|---|---|",
        *_columns(row),
        "",
    ]
    return "\n".join(lines)


def _columns(row: type[Row]) -> Iterator[str]:
    for name, schema in properties(row, "hospital").items():
        mark = column(row.model_fields[name])
        where = mark.only or "all"
        yield f"| `{name}` | {_type(schema)} | {mark.unit or ''} | {where} | {mark.says} |"
    if PROFILE not in row.model_fields:
        known = ", ".join(get_args(Profile))
        yield f"| `{PROFILE}` | {known} |  | all | {PROFILE_SAYS} |"


def _type(schema: dict[str, Any]) -> str:
    options = [option for option in schema.get("anyOf", [schema]) if option.get("type") != "null"]
    inner, optional = options[0], len(options) != len(schema.get("anyOf", [schema]))
    if "enum" in inner:
        word = " / ".join(f"`{value}`" for value in inner["enum"])
    elif "const" in inner:
        word = f"`{inner['const']}`"
    elif inner["type"] == "string":
        word = _string(inner.get("pattern", ""))
    else:
        word = {"integer": "whole number", "number": "number", "boolean": "true or false"}[inner["type"]]
    return f"{word}, or empty" if optional else word


def _string(pattern: str) -> str:
    if pattern.startswith(r"^\d{4}-"):
        return "time"
    if pattern.startswith("^[+-]"):
        return "offset"
    if pattern.startswith("^sha256"):
        return "digest"
    return "id" if pattern else "text"


def _endpoints() -> str:
    lines = [
        "## Endpoints",
        "",
        "Column `endpoint` of `endpoints`. What a log cannot know when the patient leaves the room is `pending`,",
        "never `no`. Definitions are partly from memory: verify locally.",
        "",
        "| endpoint | meaning |",
        "|---|---|",
        *(f"| `{name}` | {says} |" for name, says in ENDPOINTS.items()),
        "",
    ]
    return "\n".join(lines)


def _kinds() -> str:
    lines = [
        "## Kinds of entry",
        "",
        "Column `kind` of `events`, and the fields of `stored.what` in the JSON document. Amounts are decimals in",
        "quotes there, so that no digit is lost.",
        "",
        "| kind | fields | meaning |",
        "|---|---|---|",
        *(_kind(model) for model in get_args(get_args(Payload)[0])),
        "",
        f"After the seal only these may follow: {', '.join(f'`{kind}`' for kind in AFTER_SEAL)}.",
        "",
    ]
    return "\n".join(lines)


CODES = """## Codes

FHIR and DICOM files carry codes that somebody else defined where one was found and looked up; everything else is
coded in the local scheme (`99LABCHECK` in DICOM, `urn:labcheck:code` in FHIR) as kind and checklist id, as in
`reading.systolic`, with its words beside it. No public code was found for a coronary cusp, leaflet laceration or
traversal, a cerebral protection device, coronary obstruction as such, or a coronary flow check.

SNOMED CT codes (SCT) are in DICOM files because the standard itself uses them, and in FHIR files only when asked for
(`--snomed`): in some countries their use needs a licence.
"""

LOOKED_UP = {
    "dicom": "DICOM dictionary",
    "web": "public code page; verify before use",
    "guide": "published FHIR guide",
    "local": "none found",
}


def _codes() -> str:
    lines = [
        CODES,
        "| concept | code | scheme | meaning there | looked up in |",
        "|---|---|---|---|---|",
        *(
            f"| `{name}` | {one.code} | {one.scheme} | {one.meaning} | {LOOKED_UP[one.checked]} |"
            for name, one in CONCEPTS.items()
        ),
        "",
    ]
    return "\n".join(lines)


def _kind(model: type[BaseModel]) -> str:
    kind = model.model_fields["kind"].default
    fields = ", ".join(f"`{name}`" for name in model.model_fields if name != "kind")
    return f"| `{kind}` | {fields} | {_docstring(model)} |"


def _docstring(model: type[BaseModel]) -> str:
    return " ".join((model.__doc__ or "").replace("``", "`").split())
