"""Which place each candidate takes, values and weights drawn together, and for whom it would be
first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.report import known
from compare.answer.why import KEEP
from compare.judge.deciding import acceptability, central_weights, confidence, winning
from compare.judge.engine import MARK
from compare.judge.outcome import percent
from compare.judge.value import drawn_weights, weighed_values
from compare.said import Said

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["Place", "places"]

Array = np.ndarray
MOST_PLACES = 3  # places told
MOST_LEANS = 2  # criteria told for which it would be first
FEWEST_DRAWS = 30  # in which it comes first, for its weights to be told
LEANS = 1.05  # weight against the owner's from which it is told


@dataclass(frozen=True)
class Place:
    """Places of one candidate's best build, or of today's gearbox (build None).

    shares: of the draws, per place. over: share in which it is worth more than `other`, the first
    in
    the order (for the first, the second). weights: the mean weights of the draws in which it comes
    first, per criterion, NaN where it never does; then: its chance of first place under those.
    """

    candidate: str
    build: str | None
    shares: tuple[float, ...]
    other: str
    over: float
    weights: dict[str, float]
    leans: dict[str, float]
    then: float

    @property
    def said(self) -> Said:
        """One or two sentences."""
        words = ("first", "second", "third")
        told = [
            f"{word} in {percent(share)}"
            for word, share in zip(words, self.shares, strict=False)
            if word == "first" or share >= 0.005
        ]
        other = "keeping today's gearbox" if self.other == KEEP else self.other
        better = "worth more than {other} in " + percent(self.over)
        if len(self.shares) > 2:
            template = f"In the draws, with your weights halved to doubled, it comes {', '.join(told)}; {better}"
        else:
            template = (
                f"{better.capitalize()} of the draws, with your weights halved to doubled"
                if other
                else ""
            )
        most = sorted(self.leans, key=lambda n: -self.leans[n])[:MOST_LEANS]
        leans = [f"{n.removeprefix(MARK).replace('_', ' ')} (× {self.leans[n]:.1f})" for n in most]
        if leans and 0.005 <= self.shares[0] <= 0.995:
            template += ". First for one who cares more than you for " + " and ".join(leans)
            template += f": then in {percent(self.then)}"
        return Said(template, {"other": other})

    def row(self) -> dict[str, Any]:
        """As the JSON has it; what is not known is null."""
        return {
            "candidate": self.candidate, "build": self.build,
            "place_shares": [round(s, 4) for s in self.shares],
            "against": self.other or None, "better_than_it": known(self.over),
            "weights_when_first": {n: known(w) for n, w in self.weights.items()},
            "chance_first_with_those": known(self.then), "text": self.said,
        }  # fmt: skip


def places(a: Assessment, most: int = 60) -> list[Place]:
    """The best builds in their order, at most `most`, and today's gearbox where it is known.

    Source: SMAA with values and weights drawn together (Lahdelma and Salminen 2001); each weight
    log-uniform between half and twice the owner's. Nothing where nothing was drawn.
    """
    rows = a.order[:most]
    if not a.draws or not len(rows):
        return []
    weights = drawn_weights(a.engine.weights, a.draws, a.seed)
    drawn = weighed_values(a, rows, weights)
    names = [a.builds.candidate_name(int(b)) for b in rows]
    builds: list[str | None] = [a.builds.name(int(b)) for b in rows]
    if a.today is None:
        drawn = drawn[:-1]
    else:
        names, builds = [*names, KEEP], [*builds, None]
    shares = acceptability(drawn)
    central = central_weights(drawn, weights)
    central[shares[:, 0] * a.draws < FEWEST_DRAWS] = np.nan
    count = len(names)
    under = lambda w: weighed_values(a, rows, w[None])[:count]
    then = confidence(under, central)
    owner = a.engine.weights / a.engine.weights.sum()
    beats = winning(drawn)
    found = []
    for at in range(count):
        other = 0 if at else min(1, count - 1)
        found.append(
            Place(
                names[at],
                builds[at],
                tuple(float(s) for s in shares[at]),
                names[other] if other != at else "",
                float(beats[at, other]),
                dict(zip(a.engine.criteria, central[at].tolist(), strict=True)),
                _leans(a.engine.criteria, central[at], owner),
                float(then[at]),
            )
        )
    return found


def _leans(criteria: list[str], central: Array, owner: Array) -> dict[str, float]:
    """Criteria that weigh more than the owner's where it comes first, as multiples of the owner's."""
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = central / owner
    return {c: float(r) for c, r in zip(criteria, ratio, strict=True) if r >= LEANS}
