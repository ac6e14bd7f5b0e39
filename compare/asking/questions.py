"""What is asked: a question about one number, or about a few that one types in one line, and its
answer taken apart.

An answer is kept as it was typed: the files hold what a person wrote, and are read by the ledger's
rules.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from compare.answer.edited import toml_value
from compare.answer.stages import CAR, PRESENT, term_of
from compare.answer.visits import words_of
from compare.problems import CellError
from compare.read.cells import is_unknown, parse, parse_tyre, read_flag
from compare.vocabulary import (
    GEARS,
    STATION_SIDES,
    TOGETHER,
    VISIT_OF_GROUP,
    VISIT_OF_KEY,
    VISIT_OF_SECTION,
    Term,
    car_terms_by_name,
)

__all__ = ["NEW", "Question", "about", "typed_in"]

NEW = ""  # of no candidate yet: the question asks for a name
RATIOS = ("ratio_1", "ratio_2", "ratio_3", "ratio_4", "ratio_5", "ratio_6", "ratio_7", "ratio_8")
# What is typed in one line, and an example of it.
LINES = {
    "pair": "two numbers, as 760, 830",
    "curve": "speed and torque, two or more: 1000 80; 2500 105; 4500 80",
    "stations": "x left right top, a station after the other: 200 190 190 200; 900 95 95 118; or none",
    "pieces": "from, to, whether it unbolts: 200 900 yes; 900 1200 no",
    "flag": "yes or no",
    "words": "as lathe, drill press",
}
NOTHING = ("none", "nothing", "no")
MARKS = re.compile(r"^(?:\d+/\d+.*|[½¼¾⅛⅜⅝⅞].*|[a-zA-Z°\"'′″±+].*|-\d+/\d+.*)$")


@dataclass(frozen=True)
class Question:
    """names: columns of the candidate `of`, or names of the car's keys; `of` is NEW for a new
    candidate.
    """

    of: str
    names: tuple[str, ...]

    @property
    def key(self) -> tuple[str, str]:
        return self.of, self.names[0]

    @property
    def keys(self) -> set[tuple[str, str]]:
        """Whose and which, of each of its numbers."""
        return {(self.of, name) for name in self.names}

    @property
    def term(self) -> Term:
        """The term of its first name."""
        return term_of(self.of, self.names[0])

    @property
    def title(self) -> str:
        """What is asked for, in words."""
        if self.of == NEW:
            return "A gearbox that you could buy: what do you call it?"
        whose = "The car" if self.of == CAR else self.of
        if self.names[0].removeprefix(PRESENT) == RATIOS[0]:
            return f"Ratios of {'the gearbox in the car today' if self.of == CAR else self.of}, first gear first"
        if len(self.names) > 1:
            return f"{whose}: {', '.join(words_of(n) for n in self.names)}"
        unit = f" [{self.term.unit}]" if self.term.unit and self.term.kind != "tyre" else ""
        return f"{whose}: {words_of(self.names[0])}{unit}"

    @property
    def form(self) -> str:
        """How it is typed, where that is not plain."""
        if self.of == NEW:
            return "a name of your own"
        if self.names[0].removeprefix(PRESENT) == RATIOS[0]:
            return "all in one line, as 3.42 2.08 1.39 1 0.8"
        if len(self.names) > 1:
            return "them in this order, with commas between; ? for one that you do not know"
        if self.term.choices and self.term.kind == "choice":
            more = ", or another name" if self.term.other_text else ""
            return "one of: " + ", ".join(self.term.choices) + more
        if self.term.kind == "tyre":
            return "as on the side wall, or one turn on the road, as 1947 mm"
        return LINES.get(self.term.kind, "")

    @property
    def where(self) -> str:
        """With what it is measured, and on which occasion."""
        term = self.term
        if self.of == NEW or term.kind == "text":
            return ""
        of_car = term.section != ""
        visit = (
            VISIT_OF_KEY.get(term.name) or VISIT_OF_SECTION[term.section]
            if of_car
            else VISIT_OF_GROUP[term.group]
        )
        if self.names[0].startswith(PRESENT):
            visit = "on the gearbox that is in the car"
        return f"With: {term.tool}. Where: {visit}." if term.tool else f"Where: {visit}."


def about(of: str, name: str, known: Collection[str] = ()) -> Question:
    """The question that asks for a number, with those that one measures in the same breath and that
    are not known.

    >>> about("Keld 5", "tail_top", {"tail_left"}).names
    ('tail_right', 'tail_top', 'tail_bottom')
    """
    column = term_of(of, name).name
    if column in GEARS:
        lead = PRESENT if of == CAR else ""
        return Question(of, tuple(lead + r for r in RATIOS))
    if name.startswith(PRESENT):
        return Question(of, (name,))
    breath = next((b for b in TOGETHER if column in b), (column,))
    return Question(of, tuple(n for n in breath if n == column or n not in known))


# ---- answers -------------------------------------------------------------------------------------


def typed_in(question: Question, answer: str) -> dict[str, str]:
    """Name -> text for a cell, or for TOML, of each number that the answer holds. Raises CellError."""
    names = question.names
    if question.names[0].removeprefix(PRESENT) in GEARS:
        parts = _parts(answer)
        if not 1 <= len(parts) <= len(names):
            raise CellError(
                f"{len(parts)} ratios are too many.", "Type one for each gear, first gear first."
            )
        return dict(zip(names, parts, strict=False))
    if len(names) > 1:
        parts = _parts(answer)
        if len(parts) != len(names):
            section = _none_of(question.term)
            if section and answer.casefold() in NOTHING:
                return {section: "true"}
            fix = f"Type {', '.join(words_of(n) for n in names)}, with commas between; ? for one that you do not know."
            raise CellError(f"{_numbers(parts)} where {len(names)} are wanted.", fix)
        return {n: p for n, p in zip(names, parts, strict=True) if not is_unknown(p)}
    return _one(question, answer)


def _one(question: Question, answer: str) -> dict[str, str]:
    name, term = question.names[0], question.term
    section = _none_of(term)
    if section and answer.casefold() in NOTHING:
        return {section: "true"}
    if term.kind == "tyre":
        return {_tyre(answer): answer}
    if term.other_text and re.fullmatch(r"[\d.,/ ]+", answer):
        raise CellError(
            f'"{answer}" is no name of a {term.heading}.',
            f"Type {', '.join(term.choices)}, or a name.",
        )
    if term.section and not name.startswith(PRESENT):
        return {name: _for_toml(term, answer)}
    return {name: answer}


def _none_of(term: Term) -> str:
    """The key that says that nothing is in the way, for a section that has one."""
    return next(
        (
            t.name
            for t in car_terms_by_name().values()
            if t.section == term.section and t.key == "none"
        ),
        "",
    )


def _tyre(answer: str) -> str:
    """Whether the answer is a tyre's code or its circumference. Raises CellError where neither."""
    try:
        parse_tyre(answer)
        return "tyre_size"
    except CellError as error:
        try:
            parse(answer, car_terms_by_name()["tyre_rolling_circumference"])
        except CellError:
            raise error from None
        return "tyre_rolling_circumference"


def _for_toml(term: Term, answer: str) -> str:
    """An answer as the text of a TOML value, where its kind is no plain number."""
    if term.kind == "flag":
        flag = read_flag(answer, term)
        return "true" if flag == 1 else "false"
    if term.kind == "pair":
        return _list(_parts(answer), 2, "two numbers")
    if term.kind == "curve":
        rows = [_list(_parts(row), 2, "a speed and a torque in each part") for row in _rows(answer)]
        return "[" + ", ".join(rows) + "]"
    if term.kind == "stations":
        return "[" + ", ".join(_station(row) for row in _rows(answer)) + "]"
    if term.kind == "pieces":
        return "[" + ", ".join(_piece(row) for row in _rows(answer)) + "]"
    if term.kind in ("words", "names"):
        words = [w.strip() for w in answer.split(",") if w.strip()]
        return "[" + ", ".join(toml_value(w) for w in words) + "]"
    return answer


def _rows(answer: str) -> list[str]:
    """The parts between semicolons; without any, between commas."""
    rows = [r.strip() for r in answer.split(";" if ";" in answer else ",")]
    return [r for r in rows if r]


def _list(parts: list[str], count: int, what: str) -> str:
    if len(parts) != count:
        raise CellError(f"{_numbers(parts)} where {count} are wanted.", f"Type {what}.")
    return "[" + ", ".join(toml_value(p) for p in parts) + "]"


def _numbers(parts: Sequence[str]) -> str:
    return "1 number" if len(parts) == 1 else f"{len(parts)} numbers"


def _station(row: str) -> str:
    parts = _parts(row)
    if not 3 <= len(parts) <= 5:
        raise CellError(
            f'"{row}" is no station.', "Type x left right top, or x left right top bottom."
        )
    sides = ("x", *STATION_SIDES)
    pairs = [
        f"{s} = {toml_value(p)}" for s, p in zip(sides, parts, strict=False) if not is_unknown(p)
    ]
    return "{" + ", ".join(pairs) + "}"


def _piece(row: str) -> str:
    parts = _parts(row.casefold())
    if len(parts) != 3 or parts[2] not in ("yes", "no", "y", "n", "true", "false"):
        raise CellError(f'"{row}" is no piece of a tunnel.', "Type from, to, yes or no.")
    unbolts = "true" if parts[2][0] in "yt" else "false"
    return (
        f"{{start = {toml_value(parts[0])}, end = {toml_value(parts[1])}, removable = {unbolts}}}"
    )


def _parts(answer: str) -> list[str]:
    """Several numbers in one line: between semicolons, or commas with a space behind, or spaces.

    >>> _parts("7 1/2 in 8 in 190"), _parts("7 1/2, 8 1/4"), _parts("3.42 2.08 1")
    (['7 1/2 in', '8 in', '190'], ['7 1/2', '8 1/4'], ['3.42', '2.08', '1'])
    """
    if ";" in answer or re.search(r",\s", answer):
        return [p.strip() for p in re.split(r";|,\s", answer) if p.strip()]
    parts: list[str] = []
    for word in answer.split():
        joins = MARKS.match(word) and word.casefold() not in (
            "yes",
            "no",
            "y",
            "n",
            "true",
            "false",
            "direct",
        )
        if parts and joins:
            parts[-1] += " " + word
        else:
            parts.append(word)
    return parts
