"""The conversation: one question at a time, each answer written at once, and what it changed said.

`Talk` reads no stream and prints nothing: `begin`, `prompt` and `answer` give texts, `over` says
when it is done.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import Any

from compare.answer.compare import Assessment, compare
from compare.answer.inspection import as_it_stands, read_as
from compare.answer.log import read_log
from compare.answer.report import Report, Row, make_report
from compare.answer.stages import (
    CAR,
    PRESENT,
    Missing,
    Wanted,
    in_order,
    lacking,
    leader,
    next_numbers,
    term_of,
)
from compare.answer.suspicious import FASTEST, cruise_rpm_of
from compare.answer.visits import soonest, words_of
from compare.asking.questions import NEW, Question, about, typed_in
from compare.asking.words import (
    drawing_of,
    explained,
    first_ranking,
    introduced,
    question_text,
    ranking_lines,
    ratios_read,
    told,
    tyre_read,
)
from compare.figures import safe
from compare.filling import set_cells, set_keys
from compare.forms import add, start
from compare.judge.outcome import MEASURE
from compare.problems import CellError, InputError, Problem, visible
from compare.read.car import Car, load_car
from compare.read.catalogue import RESERVED, Table, load_catalogue, load_parts
from compare.read.cells import is_unknown, parse
from compare.read.sheet import has_rows
from compare.report.terminal.page import Page
from compare.vocabulary import STAGES, car_terms_by_name, catalogue_terms

__all__ = ["Talk"]

DRAWS = 64  # enough to tell what decides; rank draws until percentages stand
MOST_ECHOED = 4  # readings shown after one answer
CANDIDATES = 2  # asked for before numbers are
# What is asked before anything can be ranked, of the car and of each candidate.
FIRST = ("car_name", "tyre_size", "axle_ratio", "cruise_speed", f"{PRESENT}ratio_1")
LENGTHS = ("length", "diameter", "position", "angle")
COMMANDS = ("?", "skip", "back", "rank", "add", "stop")


class Talk:
    """A conversation about one folder. Raises InputError where its files cannot be used."""

    def __init__(self, folder: str | Path, width: int = 80, color: bool = False) -> None:
        self.folder, self.width, self.color = Path(folder), width, color
        self.catalogue, self.car_file = self.folder / "catalogue.csv", self.folder / "car.toml"
        self.over = False
        self.now: Question | None = None
        self.asked = 0
        self._trail: list[Question] = []
        self._passed: set[tuple[str, str]] = set()
        self._given: set[tuple[str, str]] = set()
        self._pending = ""
        self._doubted = ""  # an answer that was asked about; typed again it is meant
        self._shown: tuple[str, ...] = ()  # the drawing that stands last on the screen
        self._kept: set[Path] = (
            set()
        )  # files whose state before this conversation is kept, or that it made
        self._assessment: Assessment | None = None
        self._report: Report | None = None
        self._missing: list[Missing] = []

    @property
    def standing(self) -> Sequence[Row]:
        """The ranking as it stands: its rows, none before anything can be ranked."""
        return self._report.ranking if self._report is not None else ()

    # ---- what is said ----------------------------------------------------------------------------

    def begin(self) -> str:
        """The first words; makes the forms where the folder has none."""
        if self.folder.is_dir() and not os.access(self.folder, os.W_OK):
            fix = "Name another folder, or allow that it is written to: each answer goes into it at once."
            raise InputError([Problem(str(self.folder), "cannot be written to.", fix)])
        made = not self.catalogue.exists() and not self.car_file.exists()
        if made:
            start(str(self.folder))
            self._kept |= {self.catalogue, self.car_file}
        self._judge()
        page = self._page()
        introduced(page, visible(self.folder, 200), made)
        if self._report is not None:
            ranking_lines(page, self._report)
        self._next()
        return page.text() + self._ending()

    def prompt(self) -> str:
        """The question, with its drawing."""
        assert self.now is not None
        page = self._page()
        reached = STAGES[self.now.term.stage - 1]
        drawing = drawing_of(self.now, page.width)
        if drawing and tuple(drawing) != self._shown:
            self._shown, told = tuple(drawing), drawing
        else:
            told = []
        question_text(page, self.now, self.asked + 1, f"stage {self.now.term.stage} of {len(STAGES)}, {reached}",
                      self._value_of(self.now), told)  # fmt: skip
        return page.text() + "> "

    def answer(self, line: str) -> str:
        """What follows from one line that was typed."""
        question, text = self.now, " ".join(line.split())
        assert question is not None
        page = self._page()
        word = text.casefold()
        if word in ("stop", "quit", "exit"):
            return self.end()
        if word == "?":
            explained(page, question, self._decided_by(question))
        elif word == "rank":
            if self._report is None:
                page.say("Nothing can be ranked yet: a gearbox with its ratios is wanted first.")
            else:
                ranking_lines(page, self._report)
        elif word == "back":
            self._back(page)
        elif word == "add":
            self.now = Question(NEW, ("name",))
        elif word == "skip" or not text or self._not_known(question, text):
            self._skip(page, question)
        else:
            self._take(page, question, text)
        return page.text() + self._ending()

    def end(self) -> str:
        """The last words."""
        self.over = True
        page = self._page()
        at = visible(self.folder, 200)
        count = "1 answer. It is" if self.asked == 1 else f"{self.asked} answers. All of them are"
        page.say(f"Stopped after {count} in {at}." if self.asked else "Stopped before any answer.")
        page.say(f"Go on: gearbox-compare ask {at}")
        if self._report is not None:
            page.say(f"See it all: gearbox-compare rank {at}")
        return page.text()

    def _ending(self) -> str:
        """Nothing, as long as there is a question; else the last words."""
        if self.now is not None or self.over:
            return ""
        page = self._page()
        page.say("No number is left that is likely to change what you buy.")
        left = [m for m in self._missing if (m.of, m.name) in self._passed and m.bars]
        if left:
            names = ", ".join(dict.fromkeys(f"{safe(m.of, 40)} {words_of(m.name)}" for m in left))
            page.say(f'Passed over, and wanted for more than "measure first": {names}.')
        return page.text() + self.end()

    def _page(self) -> Page:
        return Page(self.width, self.color)

    # ---- what is done ----------------------------------------------------------------------------

    def _not_known(self, question: Question, text: str) -> bool:
        return is_unknown(text) and text.casefold() not in (*question.term.choices, "none")

    def _skip(self, page: Page, question: Question) -> None:
        if question.of == NEW and self._assessment is None:
            page.say("Nothing can be ranked without a gearbox. Type a name for one, or stop.")
            return
        if question.of == self._pending:
            page.say("Without a ratio it cannot be ranked; it is left out.")
            self._pending = ""
        self._passed |= question.keys
        self._trail.append(question)
        self._next()

    def _back(self, page: Page) -> None:
        if not self._trail:
            page.say("This is the first question.")
            return
        self.now = self._trail.pop()
        self._passed -= self.now.keys
        self._given -= self.now.keys
        if self.now.of == NEW:
            self._pending = ""

    def _take(self, page: Page, question: Question, text: str) -> None:
        """Write an answer, and say how it was read and what it changed; or why it cannot be read."""
        try:
            if question.of == NEW:
                self._name(text)
            else:
                texts = typed_in(question, text)
                self._doubt(question, texts)
                self._write(question, texts)
        except CellError as error:
            page.say(f"{error.found} {error.fix}")
            return
        except InputError as error:
            for problem in error.problems[:2]:
                page.say(f"{problem.found} {problem.fix}")
            return
        self.asked += 1
        self._trail.append(question)
        self._given |= question.keys
        before = self._report
        if question.of != NEW:
            for line in self._echo(question):
                page.say(line)
            self._judge()
        self._next()
        if self._report is None or question.of == NEW:
            return
        if before is None:
            first_ranking(page, self._report)
        else:
            for line in told(before, self._report):
                page.item("*", line)

    def _doubt(self, question: Question, texts: dict[str, str]) -> None:
        """Ask about a single ratio of today's gearbox with which no engine cruises: the top gear is
        missing. Raises CellError, once for the same answer.
        """
        name = f"{PRESENT}ratio_1"
        if question.of != CAR or list(texts) != [name]:
            return
        ratio = parse(texts[name], term_of(CAR, name))
        if ratio is None or texts[name] == self._doubted:
            return
        car = load_car(self.car_file)
        redline = car.values.get("engine_redline")
        most = min(FASTEST, redline.nominal if redline is not None else FASTEST)
        rpm = cruise_rpm_of(car, ratio.nominal)
        if rpm > most:
            self._doubted = texts[name]
            raise CellError(
                f"With {texts[name]} alone, which is then its top gear, the engine turns {rpm:.0f} rev/min at your speed.",
                "Type the ratios of all gears in one line; or the same again, if that is so.",
            )

    def _name(self, text: str) -> None:
        names = self._table().names if has_rows(self.catalogue) else []
        if (
            any(" ".join(n.casefold().split()) == text.casefold() for n in names)
            or text.casefold() in RESERVED
        ):
            raise CellError(f'"{visible(text, 60)}" is a name already.', "Type another name.")
        self._pending = text

    def _write(self, question: Question, texts: dict[str, str]) -> None:
        """Raises InputError, CellError; then nothing is written."""
        if question.of == CAR:
            terms = car_terms_by_name()
            keys = {
                ("gearbox", name.removeprefix(PRESENT)) if name.startswith(PRESENT)
                else (terms[name].section, terms[name].key): text
                for name, text in texts.items()
            }  # fmt: skip
            set_keys(self.car_file, keys, self._keep(self.car_file))
            self._kept.add(self.car_file)
            return
        if question.of == self._pending:
            settings = [f"{column}={text}" for column, text in texts.items()]
            add(str(self.catalogue), question.of, settings, self._keep(self.catalogue))
            self._pending = ""
            self._trail = [q for q in self._trail if q.of != NEW]
        else:
            set_cells(self.catalogue, question.of, texts, self._keep(self.catalogue))
        self._kept.add(self.catalogue)

    def _keep(self, file: Path) -> bool:
        """Whether the file as it is must be kept before it is written: once a conversation."""
        return file not in self._kept

    # ---- what is known ---------------------------------------------------------------------------

    def _table(self) -> Table:
        return load_catalogue(self.catalogue)

    def _judge(self) -> None:
        """Judge what the files hold now, with few draws: this is to be quick."""
        self._assessment = self._report = None
        self._missing = []
        if not has_rows(self.catalogue):
            return
        parts, log = self.folder / "parts.csv", self.folder / "measured.csv"
        self._assessment = compare(
            self._table(), load_car(self.car_file), load_parts(parts) if has_rows(parts) else None, draws=DRAWS,
            measured=read_log(str(log)) if has_rows(log) else (),
        )  # fmt: skip
        if len(self._assessment.order):
            self._report = make_report(self._assessment)

    def _next(self) -> None:
        """The next question: what is needed to rank at all, then what is most worth knowing."""
        self.now = self._needed() or self._wanted()

    def _needed(self) -> Question | None:
        if self._pending:
            return about(self._pending, "ratio_1")
        known = _known(load_car(self.car_file))
        for name in FIRST:
            question = about(CAR, name, known)
            if not question.keys & self._passed and not known & {name, *question.names}:
                return question
        table = self._table() if has_rows(self.catalogue) else None
        for at, candidate in enumerate(table.names if table else ()):
            price = Question(candidate, ("price",))
            if table is not None and price.key not in self._passed and _blank(table, "price", at):
                return price
        new = Question(NEW, ("name",))
        if (0 if table is None else len(table)) < CANDIDATES and (
            table is None or new.key not in self._passed
        ):
            return new
        return None

    def _wanted(self) -> Question | None:
        """The number most worth knowing that was neither passed over nor given in this
        conversation.
        """
        a = self._assessment
        if a is None or not len(a.order):
            return None
        measures = soonest(a)
        lead = leader(a, next((q.of for q in reversed(self._trail) if q.of not in (CAR, NEW)), ""))
        self._missing = lacking(a, lead) if lead is not None else []
        for wanted in chain(next_numbers(a, measures, self._missing), self._of_the_others(a, lead)):
            if (wanted.of, term_of(wanted.of, wanted.name).name) in self._passed | self._given:
                continue
            question = self._about(wanted.of, wanted.name)
            if question.keys & (self._passed | self._given):
                continue
            source = Question(question.of, ("source",))
            if self._wants_source(question) and source.key not in self._passed:
                return source
            return question
        return None

    def _of_the_others(self, a: Assessment, lead: int | None) -> Iterator[Wanted]:
        """What the other candidates lack, once nothing of the first is left to ask for."""
        for build in a.order.tolist():
            if build != lead and a.outcome[build] == MEASURE:
                missing = lacking(a, build)
                self._missing += missing
                yield from in_order(a, missing)

    def _about(self, of: str, name: str) -> Question:
        """The question about a number, with its neighbours that are neither known nor passed over."""
        done = {n for o, n in self._passed | self._given if o == of}
        if of == CAR:
            return about(of, name, _known(load_car(self.car_file)) | done)
        table = self._table()
        if of not in table.names:
            return Question(of, (name,))
        at = table.names.index(of)
        known = {n for n in catalogue_terms() if not _blank(table, n, at)}
        return about(of, name, known | done)

    def _wants_source(self, question: Question) -> bool:
        """Whether how a candidate's dimensions were had is not known when the first of them is
        asked for.
        """
        if question.of == CAR or question.term.kind not in LENGTHS:
            return False
        table = self._table()
        at = table.names.index(question.of) if question.of in table.names else -1
        heads = [h.split(" [")[0] for h in table.head]
        return at >= 0 and (
            "source" not in heads or not table.rows[at][heads.index("source")].strip()
        )

    def _decided_by(self, question: Question) -> Sequence[str]:
        """The questions of the checks that wait for a number."""
        found = [q for m in self._missing if (m.of, m.name) in question.keys for q in m.decides]
        return list(dict.fromkeys(found))

    def _value_of(self, question: Question) -> str:
        """What the files hold for it now, as typed."""
        return ", ".join(r["typed"] for r in self._readings(question))

    def _echo(self, question: Question) -> list[str]:
        """How an answer was read, where that is not as it stands."""
        if question.of != NEW and question.names[0].removeprefix(PRESENT) == "ratio_1":
            read = [r["value"] for r in self._readings(question) if r["value"] is not None]
            return [ratios_read(read)] if read else []
        if question.term.kind == "tyre":
            tyre = load_car(self.car_file).tyre
            if tyre is not None and "tyre.size" in {r["column"] for r in self._readings(question)}:
                return [tyre_read(tyre)]
        told = [r for r in self._readings(question) if not as_it_stands(r)]
        lines = [f"{r['typed']} → {read_as(_rounded(r))}" for r in told[:MOST_ECHOED]]
        more = len(told) - MOST_ECHOED
        return [*lines, f"and {more} more; check lists all of them."] if more > 0 else lines

    def _readings(self, question: Question) -> list[dict[str, Any]]:
        """The ledger's rows of a question's numbers."""
        if question.of in (NEW, self._pending):
            return []
        if question.of == CAR:
            names = {_place(name) for name in question.names}
            if question.term.kind == "tyre":
                names.add("tyre.rolling_circumference")
            return [
                r for r in load_car(self.car_file).readings if r["column"].split("[")[0] in names
            ]
        return [
            r for r in self._table().readings
            if r["owner"] == question.of and r["column"].split(" [")[0] in question.names
        ]  # fmt: skip


def _rounded(reading: dict[str, Any]) -> dict[str, Any]:
    """A reading as one says it: hundredths of the unit in which it is kept."""
    value = reading["value"]
    digits = 4 if reading["unit"] in ("rad", "") else 2
    return reading | {"value": round(value, digits) if isinstance(value, float) else value}


def _place(name: str) -> str:
    """`section.key` of a name of the car."""
    if name.startswith(PRESENT):
        return f"gearbox.{name.removeprefix(PRESENT)}"
    term = car_terms_by_name()[name]
    return f"{term.section}.{term.key}"


def _known(car: Car) -> set[str]:
    """Names of the car's numbers that the profile gives."""
    found = {f"{PRESENT}{key}" if section == "gearbox" else key for section, key, _ in car.shown}
    terms = {(t.section, t.key): t.name for t in car_terms_by_name().values()}
    found |= {terms[section, key] for section, key, _ in car.shown if (section, key) in terms}
    if "tyre_rolling_circumference" in found:
        found.add("tyre_size")
    return found


def _blank(table: Table, column: str, at: int) -> bool:
    heads = [h.split(" [")[0] for h in table.head]
    return column not in heads or not table.rows[at][heads.index(column)].strip()
