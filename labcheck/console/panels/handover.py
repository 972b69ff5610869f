"""Handover: the open items are read back, then the next person's tag is typed."""

from __future__ import annotations

import re

from labcheck.caselog.handover import open_items
from labcheck.caselog.intents import HandOver
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record

TAG = re.compile(r"[A-Za-z0-9]{1,8}")


def open_panel(desk: Desk) -> Panel | None:
    """One screen of open items, one field."""

    def done(text: str, press: Press) -> str:
        if not TAG.fullmatch(text):
            return "a tag of 1 to 8 letters or digits (N2, or initials): never a name"
        record(desk, press, HandOver, incoming=text)
        return ""

    lead = list(open_items(desk.case, desk.now()))
    title = f"HANDOVER from {desk.case.recorder}: read these back"
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
    return Ask(desk, title, "next recorder's tag", done, panel_id="handover", lead=lead, limit=8, allowed=letters)
