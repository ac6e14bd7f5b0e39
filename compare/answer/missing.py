"""What `check` says is missing: named, stage by stage, with what each decides.

With a car beside it a catalogue is judged, nominally, and only what leaves a check open is named. A
file alone
is asked by the rulebook: what feeds which check.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from compare.answer.compare import compare
from compare.answer.stages import CAR, PRESENT, Missing, lacking
from compare.figures import safe
from compare.judge.rules import Rulebook
from compare.problems import InputError
from compare.read.car import Car
from compare.read.catalogue import Table
from compare.vocabulary import (
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    NOT_NEEDED,
    ONLY_SOME,
    STAGES,
    Term,
    car_terms_by_name,
)

__all__ = ["MOST_JUDGED", "judged", "of_car", "of_rows", "stage_lines"]

MOST_JUDGED = 40  # candidates; each takes a run of its own
ALL = "every candidate"
MOST_CHECKS = 2  # named for each number, the closest to it first
# A stage, then number -> titles of the checks that it decides.
ByStage = dict[int, dict[str, list[str]]]


def judged(
    table: Table, car: Car, parts: Table | None, book: Rulebook
) -> dict[str, ByStage] | None:
    """Owner (candidate or CAR) -> what is missing, from a nominal run; None where that cannot be."""
    try:
        a = compare(table, car, parts, draws=1)
    except InputError:
        return None
    found: dict[str, ByStage] = {CAR: {}}
    for build in [int(b) for b in a.order][:MOST_JUDGED]:
        mine = found.setdefault(a.builds.candidate_name(build), {})
        for one in lacking(a, build):
            place = found[CAR] if one.of == CAR else mine
            _add(place, one, book)
    return _once(found)


def _once(found: dict[str, ByStage]) -> dict[str, ByStage]:
    """What every candidate lacks, once for all of them."""
    rows = [found[name] for name in found if name != CAR]
    if len(rows) < 2:
        return found
    shared: ByStage = {}
    for stage, name in [(s, n) for s, some in rows[0].items() for n in some]:
        if all(name in row.get(stage, {}) for row in rows):
            shared.setdefault(stage, {})[name] = rows[0][stage][name]
            for row in rows:
                del row[stage][name]
    left = {name: {s: some for s, some in row.items() if some} for name, row in found.items()}
    return {ALL: shared} | left


def _add(place: ByStage, one: Missing, book: Rulebook) -> None:
    names = place.setdefault(one.stage, {}).setdefault(_name(one), [])
    questions = {r.question: r for r in book.checks}
    rules = sorted((questions[q] for q in one.decides), key=lambda r: len(book.feeds(r.name)))
    names += [r.title for r in rules if r.title not in names]


def _name(one: Missing) -> str:
    """How the file has it: a column, or section.key."""
    if one.of != CAR:
        return one.name
    if one.name.startswith(PRESENT):
        return f"gearbox.{one.name.removeprefix(PRESENT)}"
    term = car_terms_by_name()[one.name]
    return f"{term.section}.{term.key}"


def of_car(car: Car, book: Rulebook) -> ByStage:
    """What a profile alone lacks."""
    known = {f"{section}.{key}" for section, key, _ in car.shown}
    asked = [
        t for t in CAR_KEYS
        if t.default is None and t.name not in NOT_NEEDED and t.kind not in ("text", "words", "names", "flag", "tyre")
    ]  # fmt: skip
    terms = [(f"{t.section}.{t.key}", t) for t in asked if f"{t.section}.{t.key}" not in known]
    if car.tyre is None and "tyre_rolling_circumference" not in car.values:
        terms.append(("tyre.size", car_terms_by_name()["tyre_size"]))
    return _by_rules(terms, book)


def of_rows(table: Table, book: Rulebook) -> dict[str, ByStage]:
    """What each row of a catalogue alone lacks; what all of them lack stands once, under ALL."""
    asked = [
        t
        for t in CATALOGUE_COLUMNS
        if t.kind not in ("text", "money") and t.name not in (*ONLY_SOME, "source", "status")
    ]
    there = np.stack([~np.isnan(table.columns[t.name].nominal) if t.name in table.columns else np.zeros(len(table), dtype=bool)
                      for t in asked], axis=1)  # fmt: skip
    blanks = [
        [t for t, given in zip(asked, row, strict=True) if not given] for row in there.tolist()
    ]
    alike: dict[tuple[str, ...], ByStage] = {}  # rows with the same blanks lack the same
    found = {}
    for name, mine in zip(table.names, blanks, strict=True):
        key = tuple(t.name for t in mine)
        if key not in alike:
            alike[key] = _by_rules([(t.name, t) for t in mine], book)
        found[name] = {stage: dict(names) for stage, names in alike[key].items()}
    return _once(found)


def _by_rules(terms: Iterable[tuple[str, Term]], book: Rulebook) -> ByStage:
    found: ByStage = {}
    for name, term in terms:
        fed = [r for r in book.checks if term.name in book.feeds(r.name)]
        if fed:
            fed.sort(key=lambda r: len(book.feeds(r.name)))
            found.setdefault(term.stage, {})[name] = [r.title for r in fed]
    return dict(sorted(found.items()))


def stage_lines(missing: Mapping[str, ByStage], owners: Sequence[str]) -> list[str]:
    """The lines that tell it, an owner after the other, a line for each stage."""
    lines = []
    for owner in owners:
        stages = missing.get(owner, {})
        if stages:
            lines.append(f"  {safe(owner, 40)} lacks:")
        for stage, names in sorted(stages.items()):
            told = [
                f"{name} ({_checks(titles)})" if titles else name for name, titles in names.items()
            ]
            lines.append(f"    stage {stage}, {STAGES[stage - 1]}: {', '.join(told)}")
    return lines


def _checks(titles: Sequence[str]) -> str:
    more = f" and {len(titles) - MOST_CHECKS} more" if len(titles) > MOST_CHECKS else ""
    return ", ".join(t.replace("_", " ") for t in titles[:MOST_CHECKS]) + more
