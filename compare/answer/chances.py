"""Chances fitted of builds with some of their numbers changed, as the files judged anew give them.

Each changed build is one more build along the builds' axis, over the same draws; only what hangs on
the
change is worked out anew. The draws are those that a comparison makes, those in which today's
gearbox
speaks against the changed car left out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np

from compare.answer.bench import Bench
from compare.answer.dimensions import Dimension
from compare.judge.baseline import has_gearbox
from compare.judge.draws import Draw, car_arrays, present_arrays, typed_arrays
from compare.judge.picked import Before
from compare.judge.rules import CLASH, UNMEASURED
from compare.judge.settle import Found

__all__ = ["Chances"]

Array = np.ndarray
AT_ONCE = 40_000  # changed builds × draws in one run
MOST_DRAWN = 4.0  # times as many draws as are wanted, where today's gearbox speaks against most
LEAST_LEFT = 16  # draws; fewer than that and today's gearbox is no gauge


class Chances:
    """Draws of some builds, to be judged with some of their dimensions moved.

    nominal: the same builds as they stand; count: draws that are to be left of those drawn.
    """

    def __init__(self, nominal: Bench, count: int) -> None:
        a = nominal.a
        self.nominal, self.a = nominal, a
        more = min(1.0 / max(a.gauge_kept, 1e-9), MOST_DRAWN)
        self.how = Draw(math.ceil(count * more), a.seed)
        car = car_arrays(a.car, self.how)
        typed = typed_arrays(a.builds, nominal.builds, self.how)
        self.bench = Bench(a, nominal.builds, typed, car, points=1 + self.how.count)

    def of(self, at: Sequence[int], moved: Sequence[Mapping[Dimension, float]]) -> Array:
        """Chance fitted `(changes,)` of the bench's rows `at`, each with its dimensions moved."""
        step = max(1, AT_ONCE // (1 + self.how.count))
        found = [
            self._some(np.asarray(at[i : i + step]), moved[i : i + step])
            for i in range(0, len(at), step)
        ]
        return np.concatenate(found) if found else np.zeros(0)

    def _some(self, at: Array, moved: Sequence[Mapping[Dimension, float]]) -> Array:
        plain = [{d.name: np.array([to]) for d, to in one.items()} for one in moved]
        today = self.nominal.today(plain, 1)
        drawn = [
            {d.name: self._drawn(d, to, row) for d, to in one.items()}
            for row, one in zip(at.tolist(), moved, strict=True)
        ]
        today = self.a.engine.today if today is None else today
        judged = self.bench.swept(at, drawn, self.bench.points, today=today)
        good, fine = judged.good[:, 1:], self._sound(drawn)
        return np.asarray((good & fine).sum(axis=1) / fine.sum(axis=1))

    def _drawn(self, dim: Dimension, to: float, row: int) -> Array:
        """The draws of a number that stands elsewhere, with the doubt that it has."""
        array = self.bench.array(dim)
        off = array[row if array.shape[0] > 1 else 0] - dim.stands
        return np.broadcast_to(np.clip(to + off, dim.low, dim.high), (self.bench.points,))

    # ---- today's gearbox as the gauge ------------------------------------------------------------

    def _sound(self, drawn: Sequence[Mapping[str, Array]]) -> Array:
        """Draws in which today's gearbox does what it does in the car so changed `(changes,
        draws)`.
        """
        shape = len(drawn), self.bench.points
        fine = np.ones(shape, dtype=bool)
        if has_gearbox(self.a.car):
            fine &= self._fits_today(self._judged_today.verdicts)
            mine = [{n: v for n, v in one.items() if self.bench.of_car(n)} for one in drawn]
            rows = np.array([i for i, one in enumerate(mine) if one], dtype=int)
            if len(rows):
                fine[rows] = self._fits_today(self._today_again([mine[i] for i in rows]))
        few = fine[:, 1:].sum(axis=1) < LEAST_LEFT
        return np.where(few[:, None], True, fine)[:, 1:]

    def _fits_today(self, verdicts: Array) -> Array:
        """From verdicts `(checks that decide, changes, draws)`; what it fails nominally says
        nothing.
        """
        fit = np.array([r.kind != "wish" for r in self.bench.deciding])
        says = ~np.isin(verdicts[:, :, :1], (CLASH, UNMEASURED)) & fit[:, None, None]
        return np.asarray(~((verdicts == CLASH) & says).any(axis=0))

    @cached_property
    def _of_today(self) -> dict[str, Any]:
        return self.bench.car | present_arrays(self.a.car, self.how)

    @cached_property
    def _judged_today(self) -> Any:
        names = dict(self._of_today)
        shape = 1, self.bench.points
        verdicts = self.a.engine.verdicts(names, shape, Found())[1]
        return _Today(names, verdicts)

    def _today_again(self, mine: Sequence[Mapping[str, Array]]) -> Array:
        shape, at = (len(mine), self.bench.points), np.zeros(len(mine), dtype=int)
        names, changed = self.bench.placed(mine, dict(self._of_today), shape)
        before = Before(self._judged_today.names, at, 1)
        return self.a.engine.again(names, before, shape, Found(), changed).verdicts


class _Today:
    """What a run of today's gearbox gave over the draws."""

    def __init__(self, names: dict[str, Any], verdicts: Array) -> None:
        self.names, self.verdicts = names, verdicts
