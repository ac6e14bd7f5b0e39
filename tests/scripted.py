"""A session of `ask` whose answers are the demo's numbers: from an empty folder to a first ranking and on to a label."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from compare.answer.report import KEEP
from compare.asking.questions import NEW, Question
from compare.asking.talk import Talk
from compare.read.sheet import split_head
from compare.vocabulary import OUTCOMES, car_terms_by_name

CATALOGS = Path(__file__).resolve().parent.parent / "catalogs"
CANDIDATES = ("Tarn 5A", "Garth 5")
WIDTH = 60


class Owner:
    """Who knows the demo's numbers and nothing else."""

    def __init__(self, candidates: tuple[str, ...] = CANDIDATES) -> None:
        lines = (CATALOGS / "demo.csv").read_text(encoding="utf-8").splitlines()
        rows = csv.DictReader(line for line in lines if not line.startswith("#"))
        self.rows = {r["name"]: {split_head(k)[0]: v for k, v in r.items() if k} for r in rows}
        self.car = tomllib.loads((CATALOGS / "pellow-van.toml").read_text(encoding="utf-8"))
        self.left = list(candidates)

    def answer(self, question: Question) -> str:
        """What the owner types; skip for what he does not know."""
        if question.of == NEW:
            return self.left.pop(0) if self.left else "skip"
        texts = [self._of(question.of, name) for name in question.names]
        if not any(texts):
            return "skip"
        if question.names[0].endswith("ratio_1"):
            return " ".join(t for t in texts if t)
        return "; ".join(t or "?" for t in texts)

    def _of(self, of: str, name: str) -> str:
        if of != "car":
            return self.rows[of].get(name, "")
        if name.startswith("present_"):
            return _shown(self.car["gearbox"].get(name.removeprefix("present_")))
        term = car_terms_by_name()[name]
        return _shown(self.car.get(term.section, {}).get(term.key))


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        rows = [list(v.values()) if isinstance(v, dict) else v for v in value]
        nested = any(isinstance(r, list) for r in rows)
        return "; ".join(" ".join(map(str, r)) for r in rows) if nested else ", ".join(map(str, rows))
    return str(value)


@dataclass
class Session:
    """What was typed, what the screen showed, and after how many answers what was reached."""

    typed: list[str] = field(default_factory=list)
    screen: str = ""
    ranking_of_two: int = 0
    label: int = 0


def session(folder: Path, most: int) -> Session:
    """Answer until a candidate has a label other than measure first, then stop; at most so many answers."""
    talk, owner, found = Talk(folder, WIDTH), Owner(), Session()
    found.screen = talk.begin()
    while not talk.over and len(found.typed) < most and not found.label:
        assert talk.now is not None
        found.screen += talk.prompt()
        text = owner.answer(talk.now)
        found.typed.append(text)
        found.screen += f"{text}\n{talk.answer(text)}"
        labels = [r["outcome"] for r in talk.standing if r["candidate"] != KEEP]
        if len(labels) >= 2 and not found.ranking_of_two:
            found.ranking_of_two = len(found.typed)
        if any(label != OUTCOMES[2] for label in labels):
            found.label = len(found.typed)
    if not talk.over:
        found.screen += f"{talk.prompt()}stop\n{talk.answer('stop')}"
        found.typed.append("stop")
    return found
