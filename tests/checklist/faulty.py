"""The sound little checklist broken in every way that the checks must notice: what is replaced, and what is said."""

from __future__ import annotations

DANGLING: list[tuple[str, str, str, str]] = [
    (
        'access_stage = "access"',
        'access_stage = "acess"',
        'key access_stage: there is no stage "acess"',
        "access",
    ),
    (
        'drug = "heparin" }',
        'drug = "heprin" }',
        'step heparin, key drug: there is no drug "heprin"',
        "heparin",
    ),
    (
        'decision = "filters" },',
        'decision = "filter" },',
        "step filters, key decision: there is no decision",
        "filters",
    ),
    (
        'decision = "filters", is = ["used"]',
        'decision = "filtre", is = ["used"]',
        "step open, key when.decision",
        "filters",
    ),
    (
        'decision = "filters", is = ["used"]',
        'decision = "filters", is = ["usd"]',
        'key when.is: "usd" is not one',
        "used",
    ),
    (
        'need = [{ reading = "act"',
        'need = [{ reading = "atc"',
        "hold act, key need.reading: there is no reading",
        "act",
    ),
    ('{ step = "access.pad" }', '{ step = "access.pda" }', 'no step "pda" in stage "access"', "access.pad"),
    ('{ step = "access.pad" }', '{ step = "acces.pad" }', 'there is no stage "acces"', "access.pad"),
    ('{ stage = "access" }', '{ stage = "axcess" }', "hold pad, key need.stage: there is no stage", "access"),
    ('is = ["here"]', 'is = ["her"]', '"her" is not one of the options of access.side', "here"),
    ('each_cusp = "traverse"', 'each_cusp = "traverze"', "key need.each_cusp: there is no stage", "traverse"),
    (
        'success = ["crossed"]',
        'success = ["crosed"]',
        'attempts, key success: "crosed" is not one',
        "crossed",
    ),
    ('fault = ["fault"]', 'fault = ["falt"]', 'attempts, key fault: "falt" is not one', "fault"),
    (
        'opens = ["protection"]',
        'opens = ["protecton"]',
        "option used, key opens: there is no stage",
        "protection",
    ),
    (
        'skips = ["protection"]',
        'skips = ["portection"]',
        "option declined, key skips: there is no stage",
        "protection",
    ),
    (
        'reading = "contrast"',
        'reading = "contrst"',
        "tally contrast, key reading: there is no reading",
        "contrast",
    ),
    (
        "contrast.cigarroa",
        "contrast.cigaroa",
        "notice number 1, key limit: there is no limit named",
        "contrast.cigarroa",
    ),
    (
        'end = { event = "sample", reading = "act" }',
        'end = { event = "sample", reading = "ac" }',
        "watch recheck, end",
        "act",
    ),
    ('outcome = ["crossed"]', 'outcome = ["cross"]', "interval unstable, start, key outcome", "crossed"),
    (
        'stage = "deploy" }',
        'stage = "deplo" }',
        "interval unstable, end, key stage: there is no stage",
        "deploy",
    ),
    ('jump_to = "deploy"', 'jump_to = "deply"', "bailout collapse, key jump_to: there is no stage", "deploy"),
    (
        'need = [{ decision = "filters" }]',
        'need = [{ decision = "fliters" }]',
        "signout filters, key need.decision",
        "filters",
    ),
    (
        'high = 9, source = "practice"',
        'high = 9, source = "practise"',
        "step depth, key source: there is no source",
        "practice",
    ),
]
"""A name that leads nowhere: old text, new text, part of the complaint, the right spelling."""

WRONG: list[tuple[str, str, str]] = [
    (
        'kind = "choice", options = [{ id = "here", text = "here" }, { id = "there", text = "there" }]',
        'kind = "choice"',
        "step side, key options: must be given for a step of kind choice",
    ),
    (
        'unit = "mm", low = 1, high = 9, ',
        'unit = "mm", low = 1, ',
        "step depth, key high: must be given for a step of kind number",
    ),
    ("low = 1, high = 9", "low = 9, high = 1", "step depth, key low: 9 is above high (1)"),
    (
        'say = "Pad on", ',
        'say = "Pad on", drug = "heparin", ',
        "step pad, key drug: belongs to a step of kind dose, not done",
    ),
    ('owner = "nurse", killer = true', "killer = true", "step pad, key owner: must be given: a killer step"),
    (
        'reading = "flow", ostium = "left"',
        'reading = "act", ostium = "left"',
        'key ostium: belongs to a step whose reading has per = "ostium"',
    ),
    (
        'text = "Pad", need = [{ step = "access.pad" }',
        'text = "Pad", need = [{ step = "access.pad", is = ["done"] }',
        "has no options to choose from",
    ),
    (
        '{ reading = "act", at_least = 250 }',
        '{ reading = "flow", at_least = 250 }',
        'reading "flow" is coded',
    ),
    ('each_cusp = "traverse"', 'each_cusp = "access"', 'stage "access" is not per cusp'),
    (
        'call = "In position"\nper_cusp = true\nlane = "prepare"',
        'call = "In position"',
        "attempts name a cusp, so the stage needs per_cusp",
    ),
    (
        'call = "Filters"\n',
        'call = "Filters"\nlane = "prepare"\n',
        "stage protection, key lane: a lane belongs to a stage with per_cusp",
    ),
    ('success = ["crossed"]', 'success = ["crossed", "fault"]', '"fault" cannot be a success and a fault'),
    (
        '{ id = "here", text = "here" }',
        '{ id = "here", text = "here", opens = ["protection"] }',
        "belong to a decision's options",
    ),
    (
        '{ id = "there", text = "there" }',
        '{ id = "here", text = "there" }',
        "option here, key id: is used 2 times",
    ),
    ('{ id = "side", say', '{ id = "pad", say', "step pad, key id: is used 2 times"),
    (
        '[[run]]\nid = "pacing"',
        '[[run]]\nid = "pacing"\ntitle = "a"\n[[run]]\nid = "pacing"',
        "run pacing, key id: is used 2 times",
    ),
    ("due_min = 30\n", "", "watch recheck, key due_min: must be given for a watch that counts down"),
    ("due_min = 30\n", "due_min = 30\noverdue_min = 20\n", "key overdue_min: must not be less than due_min"),
    (
        "due_min = 30\n",
        'due_min = 30\nagain = { event = "reading" }\n',
        "again, key reading: must be given for the event reading",
    ),
    (
        '{ id = "side", say',
        '{ id = "side", devices = ["guide"], say',
        "key devices: belongs to a step of kind device",
    ),
    (
        'end = { event = "sample", reading = "act" }',
        'end = { event = "sample", reading = "contrast" }',
        "is not a sample that is sent",
    ),
    (
        'end = { event = "sample", reading = "act" }',
        'end = { event = "sample" }',
        "key reading: must be given for the event sample",
    ),
    (
        'end = { event = "sample", reading = "act" }',
        'end = { event = "sample", reading = "act", drug = "heparin" }',
        "key drug: does not belong to the event sample",
    ),
    (
        'event = "attempt", stage = "traverse"',
        'event = "attempt", stage = "deploy"',
        'stage "deploy" has no attempts',
    ),
    ("cumulative = true\n", "", 'tally contrast, key reading: reading "contrast" is not cumulative'),
    (
        'kind = "cumulative"\nreading = "contrast"',
        'kind = "sum"\nreading = "contrast"',
        "a tally of kind sum is built from drug; it names reading",
    ),
    (
        'limit = "contrast.cigarroa"',
        'limit = "contrast.cigarroa", at = 3',
        "needs a number (at) or a named limit",
    ),
    (
        'reading = "contrast"\nnotice',
        'reading = "contrast"\nper_kg = true\nnotice',
        "per_kg: belongs to a tally of kind sum",
    ),
    (
        'title = "Contrast"\nunit = "mL"',
        'title = "Contrast"',
        "reading contrast, key unit: needs a unit or a list of options",
    ),
    (
        'title = "Contrast"\nunit = "mL"',
        'title = "Contrast"\nunit = "mL"\nunits = ["L"]',
        "must hold the unit itself",
    ),
    ("low = 70\nhigh = 999", "low = 999\nhigh = 70", "reading act, key low: 999 is above high (70)"),
    ("usual = [5000]", "usual = [50]", "drug heparin, key usual: 50 is outside the range"),
    ('jump_to = "deploy"\n', "", "bailout collapse, key jump_to: must be given when leads has jump"),
    (
        'leads = ["carry_on", "jump"]',
        'leads = ["carry_on"]',
        "bailout collapse, key jump_to: must be given when leads has jump, and only then",
    ),
    ('"decision", "signout"]', '"signout"]', 'no reason has the use "decision"'),
    ("max_cusps = 2", "max_cusps = 3", "key max_cusps: is more than the 2 cusps that are listed"),
]
"""A part that contradicts itself: old text, new text, part of the complaint."""

UNSOURCED: list[tuple[str, str, str]] = [
    (
        'energy = { mode = "cut", watts = 30, source = "practice" }',
        'energy = { mode = "cut", watts = 30 }',
        "stage traverse, attempts, energy",
    ),
    ('notice_after = 3\nsource = "practice"', "notice_after = 3", "stage traverse, attempts"),
    ('at_least = 250 }], source = "practice" }', "at_least = 250 }] }", "stage traverse, hold act"),
    ('high = 9, source = "practice"', "high = 9", "stage access, step depth"),
    ('sample = true\nsource = "practice"', "sample = true", "reading act"),
    ('high = 20000\nsource = "practice"', "high = 20000", "drug heparin"),
    ('text = "reached", source = "practice"', 'text = "reached"', "tally contrast, notice number 1"),
    (
        'end = { event = "sample", reading = "act" }\nsource = "practice"',
        'end = { event = "sample", reading = "act" }',
        "watch recheck",
    ),
]
"""A clinical number that loses its source: old text, new text, where the warning points."""
