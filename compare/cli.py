"""The command line: options, wording, exit codes. The only place that catches InputError and prints.

Exit codes: 0 done, 1 done but every candidate is ruled out, 2 unusable input or place, 3 a fault of the program,
130 stopped. Heavy packages are imported inside the commands, so that help and usage errors come at once.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from compare.answer.compare import Assessment

COMMANDS = ("rank", "detail", "papers", "check", "what-if", "start", "add", "measure", "take-in", "reference")
DONE, ALL_RULED_OUT, UNUSABLE, FAULT, STOPPED = 0, 1, 2, 3, 130
PIPED_WIDTH = 100


class _Parser(argparse.ArgumentParser):
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
        self.exit(UNUSABLE, f"{self.prog}: {visible(message, 300)}. {hint}\nTry: {self.prog} --help\n")

    def print_help(self, file: Any = None) -> None:
        if file is None:
            _out(self.format_help())  # argparse itself would pass over a stream that cannot be written
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
    top = _Parser(prog="gearbox-compare", allow_abbrev=False, description="Compare gearboxes for a swap into an older car, before any money is spent.")
    top.add_argument("--version", action="store_true", help="print the version and stop")
    top.add_argument("--debug", action="store_true", help="show the trace of a fault of the program")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    def command(name: str, help_: str) -> argparse.ArgumentParser:
        return commands.add_parser(name, help=help_, description=help_[0].upper() + help_[1:] + ".", allow_abbrev=False)

    def inputs(one: argparse.ArgumentParser) -> None:
        one.add_argument("catalogue", metavar="CATALOGUE", help="catalogue of candidates (CSV or .xlsx), or a folder that start made")

    def common(one: argparse.ArgumentParser) -> None:
        one.add_argument("--car", metavar="CAR", help="car profile (TOML); in a folder its car.toml")
        one.add_argument("--parts", metavar="PARTS", help="interchangeable parts (CSV or .xlsx)")
        one.add_argument("--measured", metavar="LOG", help="log of what was measured or made since (CSV)")
        one.add_argument("--units", choices=("metric", "inch"), default="metric", help="units of the reports")
        one.add_argument("--draws", type=_whole(1, 100_000), metavar="N", help="random draws; left out, as many as the percentages need; 1 judges nominal values alone")
        one.add_argument("--seed", type=_whole(0, 2**31), default=1, metavar="N", help="seed of the draws (default 1)")

    rank = command("rank", "rank every candidate, on the terminal and in a workbook")
    rank.add_argument("catalogue", metavar="CATALOGUE", nargs="?", default=".", help="catalogue of candidates (CSV or .xlsx), or a folder that start made (default: here)")
    common(rank)
    book = rank.add_mutually_exclusive_group()
    book.add_argument("--workbook", metavar="FILE", help="where the workbook goes (default reports/<catalogue>.xlsx)")
    book.add_argument("--no-workbook", action="store_true", help="write no workbook")
    rank.add_argument("--json", metavar="FILE", help="write the report for scripts; - for standard output, and nothing else there")
    rank.add_argument("--top", type=_whole(1, 100_000), default=0, metavar="N", help="show the best N only")
    rank.add_argument("--only", nargs="+", default=[], metavar="NAME", help="only these candidates")
    rank.add_argument("--compare-with", metavar="OLD.json", help="say what changed since an earlier --json report")

    detail = command("detail", "show one candidate in depth, with drawings")
    inputs(detail)
    detail.add_argument("name", metavar="NAME", help="the candidate's name")
    common(detail)

    papers = command("papers", "write what to take along for one candidate: an HTML page that prints")
    inputs(papers)
    papers.add_argument("name", metavar="NAME", nargs="?", help="the candidate's name; with --seller left out: all not yet bought")
    common(papers)
    papers.add_argument("--folder", metavar="F", default=".", help="folder for the page (default: here)")
    papers.add_argument("--seller", action="store_true", help="the seller's sheet only")

    check = command("check", "read files and say what is wrong, missing or suspicious in them")
    check.add_argument("files", nargs="+", metavar="FILE", help="catalogues, parts files, car profiles, measured logs")
    check.add_argument("--json", metavar="OUT", help="write problems and readings for scripts; - for standard output, and nothing else there")
    check.add_argument("--fix", action="store_true", help="type into tables what alone can be meant; the file as it was is kept")

    what_if = command("what-if", "try other axles, tyres and cruising speeds")
    inputs(what_if)
    common(what_if)
    what_if.add_argument("--axle", nargs="+", default=[], metavar="RATIO", help="axle ratios to try")
    what_if.add_argument("--tyre", nargs="+", default=[], metavar="SIZE", help="tyre sizes or rolling circumferences to try")
    what_if.add_argument("--cruise", nargs="+", default=[], metavar="SPEED", help="cruising speeds to try")
    what_if.add_argument("--top", type=_whole(1, 100_000), default=5, metavar="N", help="candidates per combination (default 5)")

    what_if.add_argument("--workbook", metavar="FILE", help="write the table as a workbook too")
    what_if.add_argument("--json", metavar="FILE", help="write the table for scripts; - for standard output, and nothing else there")

    start = command("start", "make a folder with a blank catalogue, parts file, car profile and measuring guide")
    start.add_argument("directory", metavar="FOLDER", help="folder to fill; nothing in it is overwritten")

    add = command("add", "add a candidate to a catalogue, in the file's own style")
    inputs(add)
    add.add_argument("name", metavar="NAME", help="the new candidate's name")
    add.add_argument("--set", nargs="+", action="extend", default=[], metavar="COLUMN=VALUE", help='values, such as length="24 1/8 in"')

    measure = command("measure", "note what was measured, or made, in a log; the files stay as they are")
    measure.add_argument("log", metavar="LOG", help="the log (CSV); begun where it is not there")
    measure.add_argument("of", metavar="OF", help="a gearbox, a part, or car")
    measure.add_argument("dimension", metavar="DIMENSION", help="a column, section.key of the car, or a decision")
    measure.add_argument("value", metavar="VALUE", help='what it is, such as "24 1/8 in"')
    for name, about in (("by", "who"), ("on", "when (today)"), ("with", "the tool"), ("note", "a remark")):
        measure.add_argument(f"--{name}", dest=f"note_{name}", metavar=name.upper(), default="", help=about)

    take_in = command("take-in", "say what a friend changed in a workbook, and write it into the files that are named")
    take_in.add_argument("workbook", metavar="BOOK", help="a workbook of rank that came back")
    for name, about in (("catalogue", "the catalogue"), ("car", "the car profile"), ("parts", "the parts file")):
        take_in.add_argument(f"--{name}", metavar=name.upper(), help=f"write the changes into {about}; the file as it was is kept")
    take_in.add_argument("--measured", metavar="LOG", help="append what was measured to this log")

    reference = command("reference", "print every column, key, check, limit and operation")
    reference.add_argument("--write", metavar="FILE", help="write the page to a file")
    return top


def _whole(low: int, high: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not (text.isascii() and text.isdigit() and low <= int(text) <= high):
            raise argparse.ArgumentTypeError(f'"{text[:40]}" is not a whole number from {low} to {high}')
        return int(text)

    return read


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code. Whatever happens is a sentence; only --debug shows a trace."""
    arguments = sys.argv[1:] if argv is None else list(argv)
    if argv is None:
        _prepare_process()
    debug = "--debug" in arguments[:2]
    try:
        code = _run(arguments)
        _flush()
        return code
    except (KeyboardInterrupt, BrokenPipeError, Exception) as error:
        return _explain(error, debug)


def _run(arguments: Sequence[str]) -> int:
    top = parser()
    options = top.parse_args(arguments)
    if options.version:
        from compare import __version__

        _out(f"gearbox-compare {__version__}\n")
        return DONE
    if options.command is None:
        _out(top.format_help())
        return UNUSABLE
    if "units" in options:
        _resolve(options)
    return int(globals()[f"_{options.command.replace('-', '_')}"](options))


def _resolve(options: argparse.Namespace) -> None:
    """A folder stands for the files in it. Raises InputError where no car is known."""
    from pathlib import Path

    from compare.problems import InputError, Problem

    place = Path(options.catalogue)
    options.project = None
    if place.is_dir():
        options.project = place
        options.catalogue = str(place / "catalogue.csv")
        options.car = options.car or str(place / "car.toml")
        for name, file in (("parts", "parts.csv"), ("measured", "measured.csv")):
            if getattr(options, name) is None and _has_rows(place / file):
                setattr(options, name, str(place / file))
        if not Path(options.catalogue).exists() and not Path(options.car).exists():
            fix = "Name a catalogue and --car CAR, or a folder that holds them; start FOLDER makes one."
            raise InputError([Problem(str(place), "holds no catalogue.csv and no car.toml.", fix)])
    if options.car is None:
        fix = "Add --car CAR, or name a folder that holds catalogue.csv and car.toml."
        raise InputError([Problem(options.catalogue, "is a catalogue, and no car is named.", fix)])


def _has_rows(path: Any) -> bool:
    """Whether a table holds more than its head: a blank form does not count."""
    try:
        lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return False
    return sum(1 for line in lines if line.strip(" ,;") and not line.lstrip().startswith("#")) > 1


class _StreamFault(Exception):
    """Standard output cannot be written."""


def _explain(error: BaseException, debug: bool) -> int:
    """Say what went wrong, each fault with its own exit code."""
    from compare.problems import InputError, visible

    if isinstance(error, InputError):
        _err(error.text())
        return UNUSABLE
    if isinstance(error, KeyboardInterrupt):
        _err("Stopped. Nothing was left half written." + _written())
        return STOPPED
    if isinstance(error, BrokenPipeError):
        _silence(sys.stdout)
        return DONE
    if isinstance(error, _StreamFault):
        _silence(sys.stdout)
        _err(f"Standard output cannot be written: {visible(error, 200)}. Make room, or send it elsewhere.{_written()}")
        return UNUSABLE
    if debug:
        import traceback

        _err("".join(traceback.format_exception(error)))
    if isinstance(error, MemoryError):
        _err(f"This is too much for the memory of this machine. Try fewer rows or --draws.{_written()}")
        return UNUSABLE
    if isinstance(error, OSError):
        about = f"{visible(error.filename, 200)}: " if error.filename else ""
        _err(f"{about}{visible(error.strerror or error, 200)}. Check the place and the room on the disk, then try again.{_written()}")
        return UNUSABLE
    _err(
        f"A fault of the program, not of your files: {type(error).__name__}: {visible(error, 300)}{_place_of(error)}.{_written()}\n"
        "Please report it to whoever gave you the program, with the command that you typed; gearbox-compare --debug COMMAND ... shows more."
    )
    return FAULT


def _place_of(error: BaseException) -> str:
    import traceback

    frames = traceback.extract_tb(error.__traceback__)
    return f" ({os.path.basename(frames[-1].filename)}, line {frames[-1].lineno})" if frames else ""


# Files that this run has finished, so that a later fault can say truly what was written.
_finished: list[str] = []


def _written() -> str:
    from compare.problems import visible

    return f" Written before that: {', '.join(visible(f, 200) for f in _finished)}." if _finished else ""


def _save_all(outputs: Sequence[Any], inputs: Sequence[Any]) -> None:
    """Write all files of a run or none, and say where a workbook went that somebody had changed."""
    from compare import saving

    kept = saving.save_all(outputs, inputs)
    _finished.extend(str(o.path) for o in outputs)
    for backup in kept:
        _err(f"The workbook that was there had been changed by hand; it is kept as {backup}")


def _prepare_process() -> None:
    """Make closed standard streams harmless, and a request to end an orderly stop."""
    import signal

    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number: no file of ours becomes standard output

    def stop(*_: Any) -> None:
        raise KeyboardInterrupt

    if hasattr(signal, "SIGTERM"):
        signal.signal(signal.SIGTERM, stop)


def _silence(stream: Any) -> None:
    """Let what is still held for a stream go nowhere, so that Python's own end is quiet."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
    except (OSError, ValueError, AttributeError):
        pass


def _flush() -> None:
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        raise
    except (OSError, ValueError) as error:
        raise _StreamFault(getattr(error, "strerror", None) or str(error)) from None


def _out(text: str) -> None:
    try:
        _write(sys.stdout, text)
    except BrokenPipeError:
        raise
    except (OSError, ValueError) as error:
        raise _StreamFault(getattr(error, "strerror", None) or str(error)) from None


def _out_json(text: str) -> None:
    """JSON on standard output: where that knows only some letters, the others are escaped, not replaced."""
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        import json

        text = re.sub(r"[^\x00-\x7f]", lambda m: json.dumps(m[0])[1:-1], text)
    _out(text)


def _err(text: str) -> None:
    try:
        _write(sys.stderr, text + "\n")
    except (OSError, ValueError):
        _silence(sys.stderr)  # there is nowhere left to say it


def _write(stream: Any, text: str) -> None:
    if stream is None:
        return
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        if encoding.casefold().replace("-", "") == "utf8":
            text = text.encode("utf-8", "backslashreplace").decode("utf-8")
        else:
            from compare.report.terminal import plain_characters

            text = plain_characters(text.replace("→", "->"))
    stream.write(text)
    stream.flush()


def _screen() -> tuple[int, bool]:
    """(width, whether to use colours) of standard output."""
    columns = os.environ.get("COLUMNS", "")
    terminal = sys.stdout is not None and sys.stdout.isatty()
    if columns.isdigit() and int(columns) > 0:
        width = int(columns)
    elif terminal:
        try:
            width = os.get_terminal_size(sys.stdout.fileno()).columns
        except OSError:
            width = 80
    else:
        width = PIPED_WIDTH
    return min(max(width, 40), 160), terminal and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _progress() -> Callable[[int, int], None] | None:
    """A bar on standard error, only where that is a terminal and only for long runs."""
    if sys.stderr is None or not sys.stderr.isatty():
        return None
    import time

    began = time.monotonic()
    shown = [False]

    def tell(done: int, whole: int) -> None:
        if time.monotonic() - began < 1.0 and not shown[0]:
            return
        shown[0] = True
        filled = 30 * done // max(whole, 1)
        end = "\r\x1b[K" if done >= whole else ""
        sys.stderr.write(f"\r[{'#' * filled}{'.' * (30 - filled)}] {done} of {whole} builds{end}")
        sys.stderr.flush()

    return tell


def _assess(options: argparse.Namespace, only: Sequence[str] = ()) -> Assessment:
    from compare.answer.compare import compare
    from compare.answer.log import read_log
    from compare.problems import InputError, Problem
    from compare.read.car import load_car
    from compare.read.catalogue import load_catalogue, load_parts

    problems: list[Problem] = []
    loaded: list[Any] = []
    readers: tuple[tuple[Any, str | None], ...] = (
        (load_catalogue, options.catalogue), (load_car, options.car), (load_parts, options.parts),
        (read_log, options.measured),
    )  # fmt: skip
    for read, path in readers:
        try:
            loaded.append(read(path) if path else None)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    catalogue, car, parts, measured = loaded
    assessment = compare(
        catalogue, car, parts, draws=options.draws, seed=options.seed, only=only, measured=measured or (),
        progress=_progress(),
    )  # fmt: skip
    from compare.figures import safe

    for warning in assessment.warnings:
        _err(f"Note: {safe(warning)}")
    return assessment


def _inputs(options: argparse.Namespace) -> list[str]:
    """The files that a comparison reads."""
    return [i for i in (options.catalogue, options.car, options.parts, options.measured) if i]


def _rank(options: argparse.Namespace) -> int:
    from pathlib import Path

    from compare import saving

    usual = options.project / "report.xlsx" if options.project else Path("reports") / (Path(options.catalogue).stem + ".xlsx")
    target = None if options.no_workbook else _xlsx(options.workbook or usual)
    last = None if options.project is None or options.only else options.project / "last-report.json"
    as_file = options.json if options.json and options.json != "-" else None
    inputs = [*_inputs(options), *([options.compare_with] if options.compare_with else [])]
    saving.refuse([o for o in (target, as_file, last) if o], inputs)
    before = options.compare_with or (last if last is not None and last.exists() else None)
    old = _old_report(str(before)) if before else None
    from compare.answer.complete import first_page, in_depth
    from compare.report.as_json import as_json, document
    from compare.report.terminal import rank_report

    assessment = _assess(options, options.only)
    report = in_depth(assessment, options.top) if options.json else first_page(assessment, options.top)
    content = document(report) if options.json or old is not None or last is not None else {}
    changes: list[str] = []
    if old is not None:
        from compare.answer.changes import changes_between

        changes = changes_between(old, content)
    outputs = []
    if target is not None:
        from compare.report.workbook import write_workbook

        outputs.append(saving.Output(target, lambda path: write_workbook(path, report, units=options.units)))
    if as_file:
        outputs.append(saving.Output(Path(as_file), saving.text_writer(as_json(content))))
    if last is not None:
        outputs.append(saving.Output(last, saving.text_writer(as_json(content))))
    _save_all(outputs, inputs)
    if options.json == "-":
        _out_json(as_json(content))
    else:
        width, color = _screen()
        _out(rank_report(report, width=width, color=color, units=options.units, changes=changes))
    if target is not None:
        _err(f"Workbook: {target}")
    return _code(report)


def _code(report: Any) -> int:
    from compare.answer.report import KEEP

    rows = [row for row in report.ranking if row["candidate"] != KEEP]
    return ALL_RULED_OUT if all(row["outcome"] == "ruled out" for row in rows) else DONE


def _xlsx(name: Any) -> Any:
    """The path of a workbook to write. Raises InputError when it is not called one."""
    from pathlib import Path

    from compare.problems import InputError, Problem

    target = Path(name)
    if target.suffix.lower() != ".xlsx":
        raise InputError([Problem(str(target), "a workbook's name ends in .xlsx.", f"Type --workbook {target.with_suffix('.xlsx')}.")])
    return target


def _old_report(path: str) -> dict[str, Any]:
    import json
    from pathlib import Path

    from compare.problems import InputError, Problem

    try:
        found = json.loads(Path(path).read_text(encoding="utf-8-sig"))
        if not (isinstance(found, dict) and isinstance(found.get("ranking"), list) and isinstance(found.get("checks"), list)):
            raise ValueError("no report")
    except OSError as error:
        raise InputError([Problem(path, f"cannot be read: {error.strerror}.", "Name a report written earlier with --json.")]) from None
    except (ValueError, RecursionError):
        raise InputError([Problem(path, "is not a report of this program.", "Name a report written earlier with --json.")]) from None
    return found


def _detail(options: argparse.Namespace) -> int:
    from compare.answer.complete import in_depth
    from compare.answer.report import KEEP
    from compare.report.terminal import detail_report

    report = in_depth(_assess(options, [options.name]))
    name = next(row["candidate"] for row in report.ranking if row["candidate"] != KEEP)
    width, color = _screen()
    _out(detail_report(report, name, width=width, color=color, units=options.units))
    return _code(report)


def _papers(options: argparse.Namespace) -> int:
    from pathlib import Path

    from compare import saving
    from compare.answer.complete import in_depth
    from compare.answer.report import KEEP
    from compare.problems import InputError, Problem
    from compare.report.papers.papers import write_papers
    from compare.report.papers.rows import rows_of

    if options.name is None and not options.seller:
        fix = "Name one, or ask for --seller to have a seller's sheet for every candidate."
        raise InputError([Problem("papers", "no candidate is named.", fix)])
    report = in_depth(_assess(options, [options.name] if options.name else []))
    names = [r["candidate"] for r in report.ranking if r["candidate"] != KEEP]
    outputs = []
    for name in names:
        only = ("seller", "cautions") if options.seller else ()
        text = write_papers(rows_of(report, name, options.units), only)
        path = Path(options.folder) / f"{_file_name(name)}{'-seller' if options.seller else ''}.html"
        outputs.append(saving.Output(path, saving.text_writer(text)))
    inputs = _inputs(options)
    saving.refuse([o.path for o in outputs], inputs)
    _save_all(outputs, inputs)
    _out("".join(f"Papers: {o.path}\n" for o in outputs))
    return DONE


def _file_name(name: str) -> str:
    """A candidate's name as the name of a file: letters and digits only, never empty, not too long."""
    import re

    plain = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")
    return plain[:60] or "candidate"


def _check(options: argparse.Namespace) -> int:
    from compare import saving
    from compare.answer.inspection import inspection

    if options.json and options.json != "-":
        saving.refuse([options.json], options.files)
    done: list[str] = []
    if options.fix:
        from compare.forms import mend

        for file in options.files:
            if not file.lower().endswith(".toml"):
                done += mend(file)
    found = inspection(options.files, keep_readings=bool(options.json))
    if options.json:
        from compare.report.as_json import as_json

        text = as_json(found.document())
        if options.json == "-":
            _out_json(text)
            return DONE if found.sound else UNUSABLE
        saving.save_text(options.json, text)
    _out("\n".join([*done, found.text()]) if done else found.text())
    return DONE if found.sound else UNUSABLE


def _what_if(options: argparse.Namespace) -> int:
    from pathlib import Path

    from compare import saving
    from compare.answer.what_if import combinations
    from compare.report.as_json import as_json
    from compare.report.terminal import what_if_report

    target = _xlsx(options.workbook) if options.workbook else None
    as_file = options.json if options.json and options.json != "-" else None
    inputs = _inputs(options)
    saving.refuse([o for o in (target, as_file) if o], inputs)
    assessment = _assess(options)
    rows = combinations(assessment, options.axle, options.tyre, options.cruise, top=options.top)
    text = as_json({"what_if": [{k: None if v != v else v for k, v in row.items()} for row in rows]}) if options.json else ""
    outputs = []
    if target is not None:
        from compare.report.workbook import write_combinations

        outputs.append(saving.Output(target, lambda path: write_combinations(path, rows, assessment.car.name, options.units)))
    if as_file:
        outputs.append(saving.Output(Path(as_file), saving.text_writer(text)))
    _save_all(outputs, inputs)
    if options.json == "-":
        _out_json(text)
        return DONE
    width, color = _screen()
    _out(what_if_report(rows, width=width, color=color, units=options.units))
    return DONE


def _start(options: argparse.Namespace) -> int:
    from compare.forms import start

    _out(start(options.directory))
    return DONE


def _add(options: argparse.Namespace) -> int:
    from compare.forms import add

    _out(add(options.catalogue, options.name, options.set))
    return DONE


def _measure(options: argparse.Namespace) -> int:
    import datetime

    from compare.answer.log import decision_units
    from compare.problems import visible
    from compare.read.measured import append

    row = {
        "on": options.note_on or datetime.date.today().isoformat(), "by": options.note_by, "of": options.of,
        "dimension": options.dimension, "value": options.value, "with": options.note_with, "note": options.note_note,
    }  # fmt: skip
    append(options.log, [row], decision_units())
    _out(f"{visible(options.log, 200)}: {visible(options.of, 60)}, {visible(options.dimension, 40)} = {visible(options.value, 60)}\n")
    return DONE


def _take_in(options: argparse.Namespace) -> int:
    from compare.answer.returned import Files, told, write

    files = Files(options.catalogue, options.car, options.parts, options.measured)
    lines, changes = told(options.workbook)
    kept = write(options.workbook, changes, files)
    _out("\n".join([*lines, *kept]) + "\n")
    return DONE


def _reference(options: argparse.Namespace) -> int:
    from compare import saving
    from compare.reference import reference_page

    page = reference_page()
    if options.write:
        saving.save_text(options.write, page)
    else:
        _out(page)
    return DONE
