"""Every sentence of every report over random builds: terminal, detail, JSON, papers, in both systems of units.

CI reads some sixty builds; `SENTENCES=2000 python -m pytest tests/test_sentences.py` reads as many. A fault is told
with the car's number: `one_car(number)` makes the same pages again.
"""

from __future__ import annotations

import os
import random
import re
from collections import defaultdict
from dataclasses import replace
from html.parser import HTMLParser
from math import isnan

import pytest
import random_cars

from compare.answer.compare import compare
from compare.answer.complete import in_depth
from compare.answer.gates import gates
from compare.answer.money import money_rows
from compare.answer.orders import order_rows
from compare.answer.report import KEEP, make_report
from compare.answer.ways_out import ways_out
from compare.answer.windows import windows
from compare.figures import SYSTEMS, figure
from compare.judge.outcome import RULED_OUT
from compare.read.car import read_car
from compare.read.catalogue import load_catalogue
from compare.report.as_json import document
from compare.report.papers.papers import write_papers
from compare.report.papers.rows import rows_of
from compare.report.terminal import detail_report, rank_report
from compare.said import Said, Told

BUILDS = int(os.environ.get("SENTENCES", "60"))
EACH = 4
NAN = float("nan")
WHOLE = 15  # every so manieth car has its decision, visits and limits to accept worked out too: they cost ten times the rest
UNITS = r"(?:mm|in|kg|lb|N·m|lb ft|km/h|mph|rev/min|rad/s²|turns/km|turns/mile|%|°|h|min)"
# What reads wrongly anywhere, and what it is called.
WRONG = {
    "a number that is none": r"(?<![\w-])(?:nan|NaN|None|inf|Infinity)(?![\w-])",
    "two units": rf"\d ?({UNITS}) \1(?![\w/])|(?<=\d ){UNITS} (?:diameter|doubt|order)\b",
    "a brace that nothing fills": r"[{}]",
    "bare code": r"<[\w.]+ object at|\bnp\.|array\(|dtype|\bSaid\(",
    "a space too many or a mark alone": r" [,;.](?:\s|$)|\(\)|\[\]|,,|;;",
    "minus nothing": r"(?<![\w.])-0(?![.\d])",
}
# One of several: `1 builds`; what ends in s and is one all the same.
ONE = re.compile(r"(?<![\w.,:/×±–-])(?<!± )1 ([a-z]{3,}s)\b")
SINGULAR = {"less", "as", "is", "has", "was", "this", "gas", "across", "press", "its", "clears", "pass", "plus", "minus", "counts", "bits", "thickness"}
COMPARED = re.compile(
    rf"(-?\d[\d ]*(?:\.\d+)?) ?({UNITS})?[ ,](?:\w+ ){{0,4}}?(?:more|less|larger|smaller|longer|shorter|higher|lower|wider|thicker|thinner|greater)"
    rf" than (?:the |its )?(-?\d[\d ]*(?:\.\d+)?) ?({UNITS})?"
)


def one_car(number: int, draws: int = 16):
    """The Report of four random builds in a random car, some numbers of both blanked out."""
    r = random.Random(number)
    rows = [random_cars.HEAD.split(","), *([str(c) for c in random_cars.row(r, n)] for n in range(EACH))]
    needed = {"name", "ratio_1", "ratio_4", "adapter", "bellhousing"}
    for row in rows[1:]:
        for at, head in enumerate(rows[0]):
            if head not in needed and r.random() < 0.04:
                row[at] = r.choice(["", "?"])
    text = random_cars.car_text(number)
    lines = [line for line in text.splitlines() if not (line.startswith(("bush_", "fan_", "finger", "drop_")) and r.random() < 0.08)]
    return "\n".join(",".join(row) for row in rows) + "\n", "\n".join(lines) + "\n", draws


def judged(number: int, place):
    rows, car, draws = one_car(number)
    path = place / f"sentences{number}.csv"
    path.write_text(rows, encoding="utf-8")
    a = compare(load_catalogue(path), read_car(car), draws=draws)
    if number % WHOLE == 0:
        return in_depth(a)
    shown = [int(b) for b in a.order]
    extra = {
        "ways_out": ways_out(a, [b for b in shown if a.outcome[b] == RULED_OUT], most=1),
        "windows": windows(a, shown), "gates": gates(a, shown), "orders": order_rows(a, shown), "money": money_rows(a, shown),
    }  # fmt: skip
    return replace(make_report(a), extra=extra)


class Texts(HTMLParser):
    """What one reads of a page, a paragraph or cell at a time."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.silent = 0
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.silent += tag in ("style", "script")

    def handle_endtag(self, tag):
        self.silent -= tag in ("style", "script")

    def handle_data(self, data):
        if not self.silent and data.strip():
            self.found.append(" ".join(data.split()))


def leaves(thing):
    """Every text in plain data."""
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, dict):
        for key, value in thing.items():
            if key != "typed":
                yield from leaves(value)
    elif isinstance(thing, list | tuple):
        for value in thing:
            yield from leaves(value)


def paragraphs(page: str):
    """Lines of a terminal page, those that go on put together; drawings and tables apart."""
    held = ""
    for line in page.splitlines():
        if line.startswith("  ") and held:
            held += " " + line.strip()
        else:
            if held:
                yield held
            held = line.strip()
    if held:
        yield held


TYPED = ("readings", "inputs", "car")  # of the JSON: what a person typed, lists and tables as TOML has them
DRAWN = re.compile(r"[#^X]{2,}|- - |^[ .:#X^m'|-]+$|^(x )?in (mm|inches);|^x in (mm|inches)")


def pages(report):
    """(name of the page, its texts) of every report that there is of it."""
    whole = document(report)
    yield "JSON", list(leaves({k: v for k, v in whole.items() if k not in TYPED}))
    names = [r["candidate"] for r in report.ranking if r["candidate"] != KEEP]
    for units in SYSTEMS:
        yield f"rank {units}", [p for p in paragraphs(rank_report(report, width=100, units=units)) if not DRAWN.search(p)]
        for name in names:
            shown = detail_report(report, name, width=100, units=units)
            yield f"detail {name} {units}", [p for p in paragraphs(shown) if not DRAWN.search(p)]
            yield f"papers {name} {units}", Texts(write_papers(rows_of(report, name, units))).found


def wrong_in(text: str):
    """What is wrong with one sentence, if anything."""
    for what, pattern in WRONG.items():
        if found := re.search(pattern, text):
            yield what, found[0]
    for word in ONE.findall(text):
        if word not in SINGULAR:
            yield "one of several", f"1 {word}"
    for found in COMPARED.finditer(text):
        if found[1] == found[3] and (found[2] or "") == (found[4] or ""):
            yield "a number that differs from itself", found[0]


def unknown_though_known(report):
    """Names in a sentence that stand for nothing, or for `?` where the report knows the number."""
    for table in (report.checks, report.work, report.plan, report.seats, *report.extra.values()):
        for row, said in sentences(table):
            facts = report.facts.get(row.get("candidate"), {})
            for name in re.findall(r"{(\w+)}", said.template):
                value = said.values.get(name)
                plain = re.sub(r"_\d+$", "", name)
                if value is None:
                    yield f"{said.template}: {name} has no value"
                elif isinstance(value, tuple) and isnan(value[0]) and f"[{{{name}" not in said.template:
                    known = facts.get(plain, NAN)
                    if isinstance(known, float) and not isnan(known) and row.get("build") == best_of(report, row):
                        yield f"{said.template}: {plain} is ?, and the report has {known}"


def best_of(report, row):
    """The build that a candidate's facts are of."""
    return next((r["build"] for r in report.ranking if r["candidate"] == row["candidate"]), None)


def sentences(thing):
    """Every Said in a report, with the row that holds it."""
    if isinstance(thing, dict):
        for value in thing.values():
            if isinstance(value, Said) and not isinstance(value, Told):
                yield thing, value
            else:
                yield from sentences(value)
    elif isinstance(thing, list | tuple):
        for value in thing:
            yield from sentences(value)


def contradictions(report):
    """Figures of one quantity of one build that differ among the sentences of its checks and jobs as planned."""
    figures = defaultdict(set)
    for row in (*report.checks, *report.work):
        said = row.get("why")
        if isinstance(said, Said) and not isinstance(said, Told):
            for name, value in said.values.items():
                if isinstance(value, tuple) and not isnan(value[0]) and f"{{{name}}}" in said.template:
                    plain = re.sub(r"_\d+$", "", name)
                    if plain not in ("figure", "short"):
                        figures[row["candidate"], row["build"], plain, value[1]].add(figure(*value))
    return [f"{key}: {sorted(shown)}" for key, shown in figures.items() if len(shown) > 1]


def money_that_differs(report):
    """The cost of a build, its jobs and its price added up; hours likewise."""
    for row in report.ranking:
        work = [w for w in report.work if (w["candidate"], w["build"]) == (row["candidate"], row["build"])]
        if work and row["hours"] is not None and all(w["hours"] is not None for w in work):
            hours = sum(w["hours"] for w in work)
            if abs(hours - row["hours"]) > 0.051 * len(work) + 0.051:
                yield f"{row['candidate']}: {row['hours']} h in the ranking, {hours} h of jobs"


NUMBERS = range((BUILDS + EACH - 1) // EACH)


@pytest.mark.parametrize("number", NUMBERS)
def test_every_sentence_reads(number, tmp_path):
    report = judged(number, tmp_path)
    found = [
        f"{page}: {what}: {piece!r} in {text!r}"
        for page, texts in pages(report)
        for text in texts
        for what, piece in wrong_in(text)
    ]
    found += [f"? though known: {text}" for text in unknown_though_known(report)]
    found += [f"two figures for one quantity: {text}" for text in contradictions(report)]
    found += [f"does not add up: {text}" for text in money_that_differs(report)]
    assert not found, f"car {number}: {len(found)} faults\n" + "\n".join(dict.fromkeys(found))
