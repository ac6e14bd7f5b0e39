"""What each change of a workbook that came back did, by itself: judged as sent, and with it alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from compare.answer.brought import Inputs, Step, inputs_of
from compare.answer.changes import followed
from compare.answer.compare import compare
from compare.answer.report import Row, make_report
from compare.answer.take_in import Changes
from compare.problems import InputError

__all__ = ["DRAWS", "Effect", "altogether", "effects"]

DRAWS = 256  # of each comparison, unless told otherwise; the same draws, so that they compare
FEW, MANY = 4, 12  # sentences told of one change; of all of them together

KEYS = ("ranking", "checks", "seats")

Judged = Mapping[str, Any]


@dataclass(frozen=True)
class Effect:
    """A change and what it did, in sentences."""

    text: str
    did: tuple[str, ...] = ()


def effects(
    back: Changes,
    steps: Sequence[Step],
    draws: int = DRAWS,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> list[Effect]:
    """Each change by itself against what was sent. progress: (changes judged, in all).

    Raises InputError where what was sent cannot be read.
    """
    if not steps:
        return []
    before = _judged(inputs_of(back, ()), draws, seed)
    found = []
    for at, step in enumerate(steps, start=1):
        try:
            did = _alone(back, step, before, draws, seed)
        except InputError as error:
            did = [f"By itself it cannot be judged: {error.problems[0].found}"]
        found.append(Effect(step.text, _few(did, FEW)))
        if progress:
            progress(at, len(steps))
    return found


def altogether(back: Changes, steps: Sequence[Step], draws: int = DRAWS, seed: int = 1) -> Effect:
    """What all changes did together. Raises InputError with every problem."""
    before, after = (_judged(inputs_of(back, some), draws, seed) for some in ((), steps))
    return Effect("All together", _few(followed(before, after), MANY))


def _few(did: Sequence[str], most: int) -> tuple[str, ...]:
    """Some sentences, and how many more there are; that nothing moved where there is none."""
    if len(did) <= most + 1:
        return tuple(did) or ("No label, place or cost moves.",)
    return (*did[:most], f"And {len(did) - most} more.")


def _alone(back: Changes, step: Step, before: Judged, draws: int, seed: int) -> list[str]:
    """Sentences; where one row is touched, only that candidate is judged anew."""
    inputs = inputs_of(back, (step,))
    if not step.of:
        return followed(before, _judged(inputs, draws, seed))
    old, name = step.of, step.now_called
    kept = lambda key: [r for r in before[key] if r["candidate"] not in (old, name)]
    new = _judged(inputs, draws, seed, [name]) if name else dict.fromkeys(KEYS, ())
    mine = lambda key: [r for r in new[key] if r["candidate"] == name]
    every = lambda key: [*kept(key), *mine(key)]
    after = {"ranking": _ranked(every("ranking"))} | {k: every(k) for k in ("checks", "seats")}
    return followed(before, after)


def _judged(inputs: Inputs, draws: int, seed: int, only: Sequence[str] = ()) -> Judged:
    found = compare(
        inputs.catalogue, inputs.car, inputs.parts, draws=draws, seed=seed, only=only,
        measured=inputs.measured,
    )  # fmt: skip
    report = make_report(found)
    return {"ranking": _ranked(report.ranking), "checks": report.checks, "seats": report.seats}


def _ranked(rows: Sequence[Row]) -> list[Row]:
    value = lambda row: -1e9 if row["value"] is None else row["value"]
    best_first = sorted(rows, key=value, reverse=True)
    return [row | {"rank": at} for at, row in enumerate(best_first, start=1)]
