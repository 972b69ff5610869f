"""The command line: which words it takes, and which file of ``labcheck.commands`` does each.

A command's own imports happen when it is chosen, so that the console starts without what only exports need.
Exit status: 0 done, 1 found a fault in what it was asked to judge, 2 wrong use or bad input, 70 a fault of ours.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from labcheck.commands.output import CommandError, complain

DONE = 0
CRASHED = 70


class _Parser(argparse.ArgumentParser):
    """argparse prints a block of usage; a complaint here is one line."""

    def error(self, message: str) -> NoReturn:
        raise CommandError(f"{message}; see: {self.prog} --help")


def parser() -> argparse.ArgumentParser:
    """Every command with its arguments. ``command`` names the file of ``labcheck.commands`` that does it."""
    shared = _Parser(add_help=False)
    shared.add_argument(
        "--ledger",
        type=Path,
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder of the ledger (default: the platform's user data folder)",
    )
    main = _Parser(
        prog="labcheck",
        parents=[shared],
        allow_abbrev=False,
        description="Checklist and timing logger for transcatheter leaflet modification cases. "
        "It records and prompts; local protocol and the physician decide.",
    )
    main.set_defaults(command="console")
    words = main.add_subparsers(metavar="COMMAND")

    def command(name: str, help_: str) -> argparse.ArgumentParser:
        word = words.add_parser(name, help=help_, description=help_, parents=[shared], allow_abbrev=False)
        word.set_defaults(command=name)
        return word

    rehearse = command("rehearse", "the console driven by a script, on a case that is not real")
    rehearse.add_argument("script", nargs="?", type=Path, metavar="SCRIPT")
    rehearse.add_argument("--pace", type=_pace, default=None, metavar="N", help="times faster than life")
    transcribe = command("transcribe", "put a script of timed entries (a paper record) into a case")
    transcribe.add_argument("script", type=Path, metavar="SCRIPT")
    command("cases", "list the cases of the ledger")
    check = command("check", "check checklist or script files")
    check.add_argument("files", nargs="+", type=Path, metavar="FILE")
    check.add_argument("--explain", action="store_true", help="say what the checklist comes to")
    command("keys", "print the key card")
    command("doctor", "say what could go wrong on this machine")
    _export(command("export", "write cases out in one or more formats, or check files that were"))
    events = command("events", "write every entry as it is stored to one CSV, proved on the way")
    events.add_argument("--to", type=Path, required=True, metavar="DIR")
    events.add_argument(
        "--profile",
        choices=("hospital",),
        required=True,
        help="always to be named: the rows hold times, free text and case keys",
    )
    events.add_argument("--rehearsals", action="store_true", help="the rehearsals instead of the real cases")
    _debrief(command("debrief", "look back on a case, or on a series of cases"))
    actions = command("actions", "what the debriefs agreed to change: the open ones, by role")
    actions.add_argument("--all", action="store_true", help="the closed ones too")
    actions.add_argument("--done", type=int, default=None, metavar="N", help="action N is done; with --say")
    actions.add_argument("--give-up", type=int, default=None, metavar="N", help="given up; with --say")
    actions.add_argument("--say", default=None, metavar="TEXT", help="what was done, or why not")
    verify = command("verify", "prove the ledger: chain, seals and heads")
    verify.add_argument("cases", nargs="*", metavar="CASE")
    verify.add_argument(
        "--head", default=None, metavar="HEAD", help="the head of one case as it stands on paper"
    )
    verify.add_argument(
        "--file", type=Path, default=None, metavar="FILE", help="an archive instead of the ledger"
    )
    archive = command("archive", "write a case out on its own")
    archive.add_argument("case", metavar="CASE")
    archive.add_argument("--to", type=Path, required=True, metavar="FILE")
    rebuild = command("rebuild", "make a new ledger out of what a damaged one still proves")
    rebuild.add_argument("--to", type=Path, required=True, metavar="DIR")
    rebuild.add_argument(
        "--checklist", type=Path, action="append", default=[], metavar="FILE", help="a lost checklist's text"
    )
    return main


def _debrief(debrief: argparse.ArgumentParser) -> None:
    add = debrief.add_argument
    add("cases", nargs="*", metavar="CASE")
    add("--html", type=Path, default=None, metavar="FILE", help="one self-contained page")
    add("--against", nargs="+", default=[], metavar="CASE", help="exactly these earlier cases as its history")
    add(
        "--agreed",
        type=Path,
        default=None,
        metavar="FILE",
        help="joined revisions and agreed failure rates (default: debrief.toml beside the ledger)",
    )
    add("--rehearsals", action="store_true", help="a rehearsal beside earlier rehearsals")
    add("--series", action="store_true", help="all sealed cases, or those named, as series")
    add(
        "--apart-by",
        default=None,
        metavar="WHAT",
        help="with --series: two sets beside each other, by revision, technique or a day (2031-03-01)",
    )
    add("--learned", default=None, metavar="TEXT", help="write down a learning point beside the case")
    add("--action", default=None, metavar="TEXT", help="write down an action; with --owner and perhaps --by")
    add("--owner", default=None, metavar="ROLE", help="whose role the action is; never a name")
    add("--by", default=None, metavar="DATE", help="by which day, as 2031-04-30")


def _export(export: argparse.ArgumentParser) -> None:
    add = export.add_argument
    add("cases", nargs="*", metavar="CASE")
    add(
        "--as",
        dest="formats",
        action="append",
        default=[],
        metavar="FORMAT",
        help="json, jsonl, csv, fhir, xes or dicom; may be given more than once",
    )
    add("--to", type=Path, default=None, metavar="DIR")
    add(
        "--profile",
        default=None,
        metavar="NAME",
        help="always to be named: hospital (times, text, case keys), registry or shifted (pseudonyms)",
    )
    add("--excel", action="store_true", help="CSV with a byte order mark, for spreadsheets")
    add(
        "--key",
        type=Path,
        default=None,
        metavar="FILE",
        help="key of the pseudonyms, kept outside the ledger",
    )
    add("--make-key", type=Path, default=None, metavar="FILE", help="make such a key, and nothing else")
    add("--identifiers", type=Path, default=None, metavar="FILE", help="patient, order and study ids by case")
    add("--snomed", action="store_true", help="SNOMED CT codes in FHIR too (may need a licence)")
    add("--all", action="store_true", help="every real case, as one batch with a manifest")
    add("--rehearsals", action="store_true", help="with --all: every rehearsal instead")
    add("--new", action="store_true", help="with --all: only what the folder's manifests do not have yet")
    add("--check", type=Path, nargs="+", default=[], metavar="FILE", help="check exported files, ours or not")


def _pace(text: str) -> float:
    try:
        pace = float(text)
    except ValueError:
        pace = 0.0
    if not 0.1 <= pace <= 1000:
        raise argparse.ArgumentTypeError(f"{text} is not a pace between 0.1 and 1000")
    return pace


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status. Every foreseen fault is one line on stderr."""
    os.umask(0o077)
    with contextlib.suppress(AttributeError, ValueError):
        # A name from a file may hold any letter; a terminal that cannot show it must not end the command.
        sys.stdout.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]
    try:
        chosen = parser().parse_args(arguments)
        module = importlib.import_module(f"labcheck.commands.{chosen.command}")
        status: int = module.run(chosen)
        sys.stdout.flush()
        return status
    except CommandError as fault:
        complain(str(fault))
        return fault.status
    except BrokenPipeError:
        # The reader of our output (head, less) has gone, which is no fault: Python must stay quiet at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as fault:
        complain(_crash(fault))
        return CRASHED
    except KeyboardInterrupt:
        complain("stopped by the keyboard; nothing half-written stays")
        return 130


def _crash(fault: Exception) -> str:
    """A fault of ours in one line: where it happened, so that it can be mended."""
    trace = fault.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    place = f" in {Path(trace.tb_frame.f_code.co_filename).name}, line {trace.tb_lineno}" if trace else ""
    return f"fault in the program ({type(fault).__name__}: {fault}){place}; please report it with this line"


def run() -> NoReturn:
    """The entry point of the installed ``labcheck``."""
    sys.exit(main())
