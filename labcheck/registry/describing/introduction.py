"""The pages before the tables: how to read them, time, corrections, profiles, ids."""

from __future__ import annotations

READING = """# Data dictionary

Made from the program's own models (`python -m labcheck.registry.contract`); do not edit by hand.

labcheck records and prompts. It gives no advice and judges nothing: what is in these files is what a person at
the console said happened, when they said it, and what was corrected later.

## How to read the tables

- One folder is one data package: `datapackage.json` describes every table (Table Schema), with the size and
  SHA-256 of each file. One row of `cases` is one case; every other table points to it by `case_id`.
- A table checked by itself, without its package, has no `cases` to point to, and readers of Table Schema refuse it
  ("package is required for foreign keys"): check `datapackage.json` instead, or take `foreignKeys` out of a copy of
  the schema. `tables/*.schema.json` describe the hospital's tables; the other profiles have fewer columns.
- UTF-8, comma, CRLF, quotes doubled. No byte order mark; the variant for spreadsheets (`--excel`) has one.
- An empty cell means: not recorded, or does not apply. It never means no, and never means zero.
- `true` and `false` are spelt so. Numbers have a decimal point and no exponent.
- **Text cells may begin with one apostrophe.** It keeps a spreadsheet from taking the text for a formula, a
  number or a date. A program that reads the file takes one leading apostrophe away from text columns (those of
  type *text* below) and has the exact text. Numbers, times, ids, digests and coded words never carry it.
  `codebook.csv` keeps the same rule: its `'/min` is the unit `/min`, as in `runs`, once the apostrophe is taken away
  on both sides. No text of an export begins with an apostrophe of its own without getting a second one, so taking
  away exactly one is always right.
- Ids begin with a letter (`C-` case, `S-` study number, `E-` entry; under `registry` and `shifted` `P-` and `Q-`
  pseudonyms), so that no spreadsheet takes `0007` for seven.
- Loading the same package twice must change nothing: use the key named at each table. The ids are the same in every
  export under the same profile and key; under another they are others, so **never load two profiles into one
  database**: each case would be there twice.
"""

TIME = """## Time

- `..._at` columns are RFC 3339 with a numeric offset and three decimals, as in `2031-03-04T09:14:05.123+01:00`:
  the local time and the offset in force at the event. Many programs turn this into UTC and drop the offset, so
  `utc_offset` stands beside it.
- `..._rel_s` and `t_rel_s` count seconds from the opening of the access stage (`access_at` in `cases`); before it
  they are negative; where access was never opened they are empty.
- **A duration has two qualities.** `duration_basis` says which clock carries the arithmetic: `boot`, a steady clock
  that no clock change can touch, or `wall`, where the two ends lie on different sides of a restart or one was copied
  from paper. It does not say that both ends were pressed as they happened: a late entry is placed on the same steady
  clock by what a person told. That is in `time_quality`, the worse of the two ends. For measured durations alone ask
  for `duration_basis` = `boot` and `time_quality` = `measured`.
- `late` of a span (visit, attempt) is about its start; whether its end was told later is in `time_quality`.
- **Energy is what was recorded, no more.** An attempt without bursts had none keyed, which is not the same as no
  energy. An attempt that was entered afterwards may last 0 s: only its result was told, with one time for all.
- **Two orders.** Order of entry is `seq`: an entry made later about something earlier has a higher `seq` and an
  earlier time. Order of happening is time: by `stands_rel_s` (or `stands_at`), ties by `seq`.
- What happened and when it was entered are both kept (`occurred_at`, `recorded_at`, `lag_s`, `mode`). Entries
  made more than 20 minutes after the fact are flagged.
- Stored times are never shifted by a clock comparison. How far the imaging clock was off is in `clocks`.
"""

CORRECTIONS = """## Corrections

Nothing is ever removed. A correction is an entry of its own: `event.voided` takes an earlier entry out,
`event.amended` replaces one field of it. `events` shows every entry as it was first written, with the flags
`voided` and `amended`; count only rows with `voided` = `false`. All other tables show what still counts, with
corrections applied.

So an amended value stands in three places. The row of the amended entry in `events` keeps what was first written,
but `stands_at` and `stands_rel_s`, which follow an amended time. The row of `event.amended` (that entry in
`refers_to`, the field in `code`) has the new value and the one before. The table of its kind has what stands now;
of several amendments of one field that count, the last by `seq`. A void of an amendment brings the earlier value
back; a void of a void brings the entry back. An undo is a void of all entries of the last key press.
"""

PROFILES = """## Profiles

Every file says under which profile it was written; in every table the last column `profile` says it, so that a
table that was parted from its package still tells what its times are.

- `hospital`: everything.
- `registry`: the year and relative times only. No clock time, no free text, no tag of a person, no serial or lot
  number (none is ever recorded), no case key and no study number: both are replaced by keyed pseudonyms (`P-`,
  `Q-`). Ages of 90 and more are 90. Words that are not an id of the checklist leave as `other`. Columns marked
  *clock* or *hospital* below are not there.
- `shifted`: as `registry` (the same pseudonyms, the same rule for ages and words), with clock times (columns marked
  *clock*) moved back by a whole number of weeks that is secret and the same for all cases of one patient; a case
  without a study number has its own. The column `year` is empty, and the year in the times is not the true one.

The pseudonyms are worked out with a key that the hospital keeps outside the ledger; the same key gives the same
pseudonyms, so that later exports fit earlier ones. Nobody without the key can turn a pseudonym back. Whoever holds
the ledger itself can still recognise a case by its durations: the profiles protect against outsiders.

What `shifted` keeps, on purpose: durations and order, time of day, day of the week, and the distance between two
cases of one patient (an hour off where a change of the clocks lies between them). Its times carry **no zone**: they are
the local time of where the case was opened, all at the offset in force then, and `+00:00` stands where an offset has to
stand; a true one would tell the half of the year and the part of the world. What it gives away all the same, so that
whoever exports can decide:

- The true time is one to 260 weeks after the one that is written.
- **`registry` beside `shifted` undoes the shift to within a year**: with one key both have the same pseudonyms, and
  even with two keys the relative times are the same to the millisecond. Never give both to one recipient.
"""

IDS = """## Ids and the codebook

Stages, steps, readings, drugs, outcomes and the like are named by their ids in the checklist that the case was
run with (`checklist_id`, `checklist_digest`). `codebook.csv` says what every id of the shipped checklists means; a
site with ids of its own sends its own checklist. The exact text is in the hospital's JSON document of each case.

- The same id in two checklists need not mean the same: look it up by `checklist_id` too. Above all, **pool an
  interval only within one checklist**: `unstable` and `to_deploy_start` begin with another act in each technique.
  `starts` and `ends` of the codebook say between which moments an interval lies; *first* and *last* are by time of
  happening, over all cusps and visits; the end is looked for only at or after the start.
- **For a step that records a reading, a drug, a decision or a device, look the option up there**: the codebook's
  `records` names it (`reading.flow`), and the option stands under kind `choice` within that id (`flow`), or under
  kind `device`. For other steps it stands under kind `option` within STAGE.STEP.
- Which text a case was run with: under `hospital`, `checklist_digest` in `cases` is the `checklist_digest` of the
  codebook where the text is a shipped one, to the letter, whatever its revision says. Under `registry` and `shifted`
  the digest is a keyed name, because a public one would tell since when that text was in use. The same text keeps the
  same name, so it is enough to ask the hospital once for each name which text, and which revision, it stands for.
- Ids that no checklist gives: `imaging` is the clock that the console compares itself with. A silenced prompt is
  named `watch:ID`, `reading:ID` (to be repeated), `attempts:STAGE:CUSP`, `tally:ID:LEVEL` (a total that has reached
  a level) or `silence` (nothing recorded for long). What was settled at sign-out is named `signout:ID` (kind `item`),
  `step:STAGE.STEP:CUSP` (a killer step without an answer; `step:STAGE.STEP` where it has no cusp), `device:filters`,
  `recorder`, or by the entry that nobody ended, answered or described: `visit:`, `attempt:`, `burst:`, `run:`,
  `sample:`, `bailout:` or `mark:` and its `seq`; `tries:` and the `seq` of the first visit to the stage where leaflets
  are cut, in which no attempt is on record.
- Words that no list has. An outcome `abandoned` is an attempt that ended with its cusp. A reason may be the program's
  own: `undo`, and `moved to CUSP cusp` where a press was moved to the right cusp; these have no `reason_code`. The
  mode of a generator (`pure cut`) is text, as the checklist or a person worded it; it stays in the hospital.
"""

INTRODUCTION = "\n".join((READING, TIME, CORRECTIONS, PROFILES, IDS))
"""Everything before the tables."""
