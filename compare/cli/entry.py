"""Parser, dispatch, and the only catcher of InputError.

Exit codes: 0 done, 1 done but every candidate is ruled out, 2 unusable input or place, 3 a fault of
the program,
130 stopped. Heavy packages are imported inside the commands, so that help and usage errors come at
once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

from compare.cli import (
    add,
    ask,
    check,
    detail,
    measure,
    papers,
    rank,
    reference,
    start,
    status,
    take_in,
    what_if,
)
from compare.cli.common import DONE, FAULT, STOPPED, UNUSABLE, resolve, written
from compare.cli.streams import StreamFault, err, flush, out, prepare_process, silence

__all__ = ["COMMANDS", "main", "parser"]

# In the order of the help.
COMMANDS = {
    "rank": rank, "detail": detail, "papers": papers, "check": check, "what-if": what_if, "start": start, "ask": ask,
    "add": add, "measure": measure, "status": status, "take-in": take_in, "reference": reference,
}  # fmt: skip


class _Parser(argparse.ArgumentParser):
    _mixing = False

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Words and options in any order: argparse itself takes all optional words at the first.

        Where -- stands, what follows it are words, which only the plain way keeps apart.
        """
        plain = self._subparsers is not None or self._mixing or "--" in (args or ())
        if plain:
            return super().parse_known_args(args, namespace)
        self._mixing = True
        try:
            return self.parse_known_intermixed_args(args, namespace)
        finally:
            self._mixing = False

    def error(self, message: str) -> NoReturn:
        from compare.problems import did_you_mean, visible

        hint = ""
        words = [w for w in sys.argv[1:] if not w.startswith("-")]
        if "invalid choice" in message and words and words[0] not in COMMANDS:
            near = did_you_mean(words[0], COMMANDS)
            message = f'"{visible(words[0], 40)}" is no command'
            hint = f"Did you mean {near}?" if near else f"Commands: {', '.join(COMMANDS)}."
        elif message.startswith("unrecognized arguments"):
            word = message.split(": ", 1)[1].split(" ")[0]
            options = [s for action in self._all_actions() for s in action.option_strings]
            near = did_you_mean(word, options) if word.startswith("-") else ""
            hint = f"Did you mean {near}?" if near else ""
        self.exit(
            UNUSABLE, f"{self.prog}: {visible(message, 300)}. {hint}\nTry: {self.prog} --help\n"
        )

    def print_help(self, file: Any = None) -> None:
        if file is None:
            out(
                self.format_help()
            )  # argparse itself would pass over a stream that cannot be written
        else:
            super().print_help(file)

    def _all_actions(self) -> list[argparse.Action]:
        found = list(self._actions)
        for action in self._actions:
            if isinstance(action, argparse._SubParsersAction):
                for parser in action.choices.values():
                    found += parser._actions
        return found


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    about = "Compare gearboxes for a swap into an older car, before any money is spent."
    top = _Parser(prog="gearbox-compare", allow_abbrev=False, description=about)
    top.add_argument("--version", action="store_true", help="print the version and stop")
    top.add_argument(
        "--debug", action="store_true", help="show the trace of a fault of the program"
    )
    commands = top.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)
    for name, module in COMMANDS.items():
        text = module.HELP
        described = text[0].upper() + text[1:] + "."
        module.arguments(
            commands.add_parser(name, help=text, description=described, allow_abbrev=False)
        )
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code. Whatever happens is a sentence; only --debug shows a
    trace.
    """
    arguments = sys.argv[1:] if argv is None else list(argv)
    if argv is None:
        prepare_process()
    debug = "--debug" in arguments[:2]
    try:
        code = _run(arguments)
        flush()
        return code
    except (KeyboardInterrupt, BrokenPipeError, Exception) as error:
        return _explain(error, debug, _may_write(arguments))


def _may_write(arguments: Sequence[str]) -> bool:
    """Whether the command that was typed could have written a file."""
    words = {w.partition("=")[0] for w in arguments}
    if "what-if" in words:
        return bool(words & {"--workbook", "--json"})
    return "detail" not in words and ("check" not in words or bool(words & {"--fix", "--json"}))


def _run(arguments: Sequence[str]) -> int:
    top = parser()
    options = top.parse_args(arguments)
    if options.version:
        from compare import __version__

        out(f"gearbox-compare {__version__}\n")
        return DONE
    if options.command is None:
        out(top.format_help())
        return UNUSABLE
    if "units" in options:
        resolve(options)
    return int(COMMANDS[options.command].run(options))


def _explain(error: BaseException, debug: bool, writes: bool) -> int:
    """Say what went wrong, each fault with its own exit code."""
    from compare.problems import InputError, visible

    if isinstance(error, InputError):
        err(error.text() if writes else error.text(""))
        return UNUSABLE
    if isinstance(error, KeyboardInterrupt):
        err("Stopped. Nothing was left half written." + written())
        return STOPPED
    if isinstance(error, BrokenPipeError):
        silence(sys.stdout)
        return DONE
    if isinstance(error, StreamFault):
        silence(sys.stdout)
        err(
            f"Standard output cannot be written: {visible(error, 200)}. Make room, or send it elsewhere.{written()}"
        )
        return UNUSABLE
    if debug:
        import traceback

        err("".join(traceback.format_exception(error)))
    if isinstance(error, MemoryError):
        err(
            f"This is too much for the memory of this machine. Try fewer rows or --draws.{written()}"
        )
        return UNUSABLE
    if isinstance(error, OSError):
        about = f"{visible(error.filename, 200)}: " if error.filename else ""
        err(
            f"{about}{visible(error.strerror or error, 200)}. Check the place and the room on the disk, then try again.{written()}"
        )
        return UNUSABLE
    err(
        f"A fault of the program, not of your files: {type(error).__name__}: {visible(error, 300)}{_place_of(error)}.{written()}\n"
        "Please report it to whoever gave you the program, with the command that you typed; gearbox-compare --debug COMMAND ... shows more."
    )
    return FAULT


def _place_of(error: BaseException) -> str:
    import traceback

    frames = traceback.extract_tb(error.__traceback__)
    return f" ({os.path.basename(frames[-1].filename)}, line {frames[-1].lineno})" if frames else ""
