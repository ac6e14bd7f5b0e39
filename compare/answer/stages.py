"""How far the numbers reach: the stage that is answered, and the next numbers worth having.

A stage is answered for a build when no number of it, nor of the ones before it, leaves a check open
that
decides (in the first stage: any check of gearing). The next number is the one most worth measuring;
as long
as nothing can be judged, the first of those that bar every label, stage by stage.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from compare.answer.unknowns import asked_by_checks
from compare.answer.visits import CAR, Measures, car_term
from compare.judge.outcome import MEASURE, RULED_OUT
from compare.vocabulary import (
    ASKED_BEFORE,
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    NOT_NEEDED,
    STAGES,
    Term,
    car_terms_by_name,
    catalogue_terms,
)

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = [
    "PRESENT",
    "Missing",
    "Wanted",
    "in_order",
    "lacking",
    "leader",
    "next_numbers",
    "stage_row",
    "term_of",
]

PRESENT = "present_"  # in front of a column of the gearbox that is in the car today
MOST_NEXT = 5
ORDER = {t.name: at for at, t in enumerate((*CATALOGUE_COLUMNS, *CAR_KEYS))}


@dataclass(frozen=True)
class Missing:
    """A number that is not there. of: a gearbox, a part or CAR; decides: the questions left open.

    bars: whether it bars every label but "measure first".
    """

    of: str
    name: str
    decides: tuple[str, ...]
    bars: bool = False

    @property
    def stage(self) -> int:
        return term_of(self.of, self.name).stage

    @property
    def place(self) -> tuple[int, int]:
        """Where it stands in the order of stages."""
        return self.stage, ORDER[term_of(self.of, self.name).name]


@dataclass(frozen=True)
class Wanted:
    """A number worth having. worth: money or points, NaN where no worth can be told."""

    of: str
    name: str
    worth: float
    given: bool

    def row(self) -> dict[str, Any]:
        """As the JSON has it."""
        return {
            "of": self.of, "dimension": self.name, "stage": term_of(self.of, self.name).stage,
            "worth": None if math.isnan(self.worth) else round(self.worth, 2),
        }  # fmt: skip


def term_of(of: str, name: str) -> Term:
    """The column or key of a number; `present_length` of the car is the column `length`.

    >>> term_of(CAR, "car_mount_zone_start").name, term_of(CAR, "present_length").name
    ('car_mount_zone', 'length')
    """
    if of != CAR:
        return catalogue_terms()[name]
    if name.startswith(PRESENT):
        return catalogue_terms()[name.removeprefix(PRESENT)]
    return car_terms_by_name().get(name) or car_term(name)


def lacking(a: Assessment, build: int) -> list[Missing]:
    """The numbers whose want leaves something open in one build, stage by stage."""
    checks = a.engine.checks
    asked = asked_by_checks(a, build) if a.unmeasured[build].any() else {}
    found: dict[tuple[str, str], list[str]] = {}
    for number, rule in enumerate(checks):
        owed = [(CAR, name) for name in a.engine.owed(rule)] if rule.kind == "road" else []
        if not owed and not a.unmeasured[build, number]:
            continue
        if not (a.engine.decides[number] or _of_gearing(a, rule.name)):
            continue
        names = [*asked.get(rule.name, ()), *owed]
        # What only refines is not asked for, unless nothing else is wanting.
        names = [one for one in names if one[1] not in NOT_NEEDED] or names
        for one in dict.fromkeys(names):
            found.setdefault(one, []).append(rule.question)
    decide = set(a.deciding.get(build, []))
    for one in decide:
        found.setdefault(one, [])
    missing = [
        Missing(of, name, tuple(dict.fromkeys(questions)), (of, name) in decide)
        for (of, name), questions in found.items()
    ]
    return sorted(missing, key=lambda m: m.place)


def _of_gearing(a: Assessment, check: str) -> bool:
    terms = catalogue_terms() | car_terms_by_name()
    feeds = [terms[n] for n in a.engine.book.feeds(check) if n in terms]
    return bool(feeds) and all(t.stage == 1 for t in feeds)


def stage_row(a: Assessment, measures: Measures) -> dict[str, Any]:
    """Stage reached by what comes first, and the next numbers worth having, as the JSON has them."""
    lead = leader(a)
    missing = lacking(a, lead) if lead is not None else []
    reached = (
        min((m.stage for m in missing), default=len(STAGES) + 1) - 1 if lead is not None else 0
    )
    return {
        "reached": reached,
        "of": len(STAGES),
        "name": STAGES[reached - 1] if reached else None,
        "candidate": a.builds.candidate_name(lead) if lead is not None else None,
        "next": [w.row() for w in next_numbers(a, measures, missing)[:MOST_NEXT]],
    }


def leader(a: Assessment, last: str = "") -> int | None:
    """The build that comes first of those that are not ruled out.

    As long as nothing is judged, that of the candidate `last` that one is at, else the nearest to a
    label.
    """
    hopeful = [int(b) for b in a.order if a.outcome[b] != RULED_OUT]
    if _judged(a, hopeful):
        return hopeful[0]
    mine = [b for b in hopeful if a.builds.candidate_name(b) == last]
    return mine[0] if mine else min(hopeful, key=lambda b: len(a.deciding.get(b, [])), default=None)


def _judged(a: Assessment, hopeful: Sequence[int]) -> bool:
    """Whether any of some builds has a label that says more than to measure first."""
    return bool((a.outcome[list(hopeful)] != MEASURE).any()) if hopeful else False


def next_numbers(
    a: Assessment, measures: Measures, missing: Sequence[Missing] | None = None
) -> list[Wanted]:
    """Numbers worth having, the next first: by the worth of measuring, else by stage.

    missing: what the build that comes first lacks, where that is known already.
    """
    lead = leader(a)
    if lead is None:
        return []
    missing = lacking(a, lead) if missing is None else missing
    wanted = in_order(a, missing)
    hopeful = [int(b) for b in a.order if a.outcome[b] != RULED_OUT]
    for build in hopeful:
        deciding = [Missing(of, name, (), True) for of, name in a.deciding.get(build, [])]
        wanted += in_order(a, deciding)
    if a.draws and _judged(a, hopeful):
        wanted[:0] = [
            Wanted(m.dimension.of, m.dimension.column, m.knowing.worth, m.dimension.given)
            for m in measures.measuring
            if m.knowing.worth >= measures.enough
        ]
    found: dict[tuple[str, str], Wanted] = {}
    for one in wanted:
        found.setdefault((one.of, term_of(one.of, one.name).name), one)
    return list(found.values())


def in_order(a: Assessment, missing: Sequence[Missing]) -> list[Wanted]:
    """Missing numbers in the order in which they are asked for: those that bar a label first, by
    stage.
    """
    wanted = []
    for one in sorted(missing, key=lambda m: (not m.bars, m.place)):
        wanted += [Wanted(one.of, name, math.nan, False) for name in _blank_before(a, one)]
        wanted.append(Wanted(one.of, one.name, math.nan, False))
    return wanted


def _blank_before(a: Assessment, one: Missing) -> list[str]:
    """Columns of the same gearbox that settle whether a number is wanted, and are not known."""
    mine = [b for b in range(len(a.builds)) if a.builds.candidate_name(b) == one.of]
    blank = lambda n: n not in a.builds.columns or math.isnan(a.builds.columns[n].nominal[mine[0]])
    return [n for n in ASKED_BEFORE.get(one.name, ()) if mine and blank(n)]
