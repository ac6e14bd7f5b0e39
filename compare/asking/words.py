"""What the conversation says: its pages, made from facts last of all."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from compare.answer.report import KEEP, Report, Row
from compare.answer.stages import term_of
from compare.asking.questions import NEW, Question
from compare.figures import figure, safe
from compare.read.tyres import TyreSize
from compare.read.units import short_name
from compare.report.drawing.asked import asked_drawing
from compare.report.drawing.measuring import Sheet, letter_of, sheet_of
from compare.report.terminal.page import Page, whole
from compare.said import fill
from compare.vocabulary import OUTCOMES
from compare.words import chance_words

__all__ = [
    "drawing_of",
    "explained",
    "first_ranking",
    "introduced",
    "question_text",
    "ranking_lines",
    "ratios_read",
    "told",
    "tyre_read",
]

WIDEST_DRAWING = 78
MOST_TOLD, MOST_CHECKS, MOST_ROWS, MOST_DECIDED = 5, 3, 8, 3
LENGTHS = ("length", "diameter", "position")
RULED_OUT = OUTCOMES[3]
HELP = "Type ? for more about a question, skip, back, rank (how things stand), add (one more gearbox), stop."


def introduced(page: Page, folder: str, made: bool) -> None:
    """What this is, and what may be typed."""
    if made:
        page.say(f"Blank forms are in {folder} now. What you answer is written into them at once.")
    else:
        page.say(f"What you answer is written into {folder} at once.")
    page.say("Write as at the bench: 612, 24 1/8 in, 61,2 cm, 612 ±3. " + HELP)


def question_text(
    page: Page, question: Question, number: int, stage: str, now: str, drawing: Sequence[str]
) -> None:
    """The question: title, drawing where it is not on the screen yet, what it is, how it is typed
    and taken.
    """
    page.say()
    page.say(f"{number}. {question.title}  ({stage})", "bold")
    page.raw(drawing)
    if question.of == NEW:
        return
    letter = letter_of(question.of, question.names[0]) if _sheet(question) is not None else ""
    term = question.term
    if len(question.names) == 1:
        meaning = re.sub(
            r"^\[.*\][,:]? ", "", term.meaning
        )  # how TOML has it is of no interest here
        page.say(("" if not letter else f"({letter}) ") + safe(meaning, 200) + ".")
        if term.measure:
            page.say(f"How: {term.measure}")
    if question.where:
        page.say(question.where)
    if len(question.names) > 1 and letter and sheet_of(question.names[0]) is not None:
        for name in question.names:
            one = term_of(question.of, name)
            unit = f" [{one.unit}]" if one.unit else ""
            mark = letter_of(question.of, name)
            page.item(
                f"({mark})" if mark else "–",
                f"{safe(one.meaning, 120)}{unit}. {one.measure}".strip(),
            )
    if question.form:
        page.say(f"Type {question.form}.")
    if now:
        page.say(f"Now: {safe(now, 120)}. skip leaves it.")


def drawing_of(question: Question, width: int) -> list[str]:
    """The drawing with the letters of a question, no wider than `width`; [] where no sheet shows it."""
    sheet = _sheet(question)
    names = [n.removeprefix("present_") for n in question.names]
    return asked_drawing(sheet, names, min(width - 2, WIDEST_DRAWING)) if sheet is not None else []


def _sheet(question: Question) -> Sheet | None:
    if question.of == NEW:
        return None
    return sheet_of(question.names[0].removeprefix("present_"))


# What more there is to say of questions that are about no dimension.
MORE_OF_A_NAME = (
    "Any words by which you know it again, such as its type, or where it stands. Reports, papers and the log call it "
    "that. One gearbox with two sorts of case, say, is two names. Its ratios come next, then what it costs."
)
MORE_OF_A_TYRE = (
    "165/80R13 is 165 mm wide, 80 % of that high, radial, for a rim of 13 in; 5.60-15 is an older, cross-ply one. From it "
    "follows how far one turn takes the car, and so how fast the engine turns. More exact: mark tyre and ground, "
    "roll the loaded car by one turn, type the distance."
)
MORE_OF_RATIOS = (
    "Turns of the input shaft for one of the output, for each forward gear, without reverse. They stand in the "
    "workshop manual; or put it in gear, turn the input by hand, count for ten turns of the output, divide by ten. "
    "Direct drive is 1. Teeth will do too: 41/11."
)


def ratios_read(ratios: Sequence[float]) -> str:
    """How a line of ratios was read.

    >>> ratios_read([3.42, 1.0])
    'Read: gear 1 is 3.42, gear 2 is 1.'
    """
    gears = ", ".join(f"gear {at} is {ratio:.5g}" for at, ratio in enumerate(ratios, 1))
    return f"Read: {gears}."


def tyre_read(tyre: TyreSize) -> str:
    """How a tyre's code was read."""
    sort = "radial" if tyre.radial else "cross-ply"
    high = f"{tyre.aspect * 100:.0f} % of that high"
    return f"Read: {tyre.width:.0f} mm wide, {high}, for a rim of {tyre.rim / 25.4:g} in, {sort}."


def explained(page: Page, question: Question, decides: Sequence[str]) -> None:
    """What a number decides, and how it may be typed."""
    term, sheet = question.term, _sheet(question)
    if question.of == NEW:
        page.say(MORE_OF_A_NAME)
    elif term.kind == "tyre":
        page.say(MORE_OF_A_TYRE)
    elif question.names[0].removeprefix("present_") == "ratio_1":
        page.say(MORE_OF_RATIOS)
    elif term.kind == "text" and question.of == "car":
        page.say("Any words: reports and papers are headed with them.")
    if sheet is not None:
        page.say(f"{sheet.title}.")
        for sign in sheet.signs:
            page.say(sign)
    for line in decides[:MOST_DECIDED]:
        page.item("·", line)
    if len(decides) > MOST_DECIDED:
        page.say(f"  and {len(decides) - MOST_DECIDED} more checks hang on it.")
    if term.kind in LENGTHS:
        page.say(
            'In mm, or with its unit: 24 1/8 in, 1.5", 61,2 cm. How sure: 612 ±3. A range: 600..610.'
        )
    if question.of != NEW and math.isfinite(term.low + term.high) and len(question.names) == 1:
        unit = f" {short_name(term.kind, '') or term.unit}" if term.unit else ""
        page.say(f"Possible: {term.low:g} to {term.high:g}{unit}.")
    page.say(HELP)


# ---- how things stand ----------------------------------------------------------------------------


def ranking_lines(page: Page, report: Report) -> None:
    """The ranking in a line each, the first few."""
    for row in report.ranking[:MOST_ROWS]:
        page.say(_ranked(row))
    if len(report.ranking) > MOST_ROWS:
        page.say(f"and {len(report.ranking) - MOST_ROWS} more: rank shows all of them.")


def _ranked(row: Row) -> str:
    rpm = "" if row["cruise_rpm"] is None else f", {whole(row['cruise_rpm'])} rev/min"
    if row["candidate"] == KEEP:
        return f"{row['rank']}. {KEEP}{rpm}"
    chance = f", goes in {chance_words(row)}" if row["chance_fitted"] is not None else ""
    cost = "" if row["cost"] is None else f", {whole(row['cost'])} in all"
    return f"{row['rank']}. {safe(row['candidate'], 40)}: {row['outcome']}{chance}{rpm}{cost}"


def first_ranking(page: Page, report: Report) -> None:
    """The first time that there is one."""
    page.say("This can be ranked so far:")
    ranking_lines(page, report)


def told(before: Report, after: Report) -> list[str]:
    """What an answer changed, in sentences: labels first, then money, cuts, engine speed, checks,
    the order.
    """
    was = {row["candidate"]: row for row in before.ranking}
    labels, figures = [], []
    for row in after.ranking:
        old, name = was.get(row["candidate"]), safe(row["candidate"], 40)
        if old is None:
            labels.append(f"{name} is in: {row['outcome']}, place {row['rank']}.")
            continue
        if old["outcome"] != row["outcome"]:
            labels.append(_label(name, old, row))
        figures += _figures(name, old, row)
    lines = labels + figures + _checks(before, after)
    first = [report.ranking[0]["candidate"] for report in (before, after)]
    if first[0] != first[1]:
        lines.append(f"First now: {safe(first[1], 40)} (before: {safe(first[0], 40)}).")
    if len(lines) > MOST_TOLD:
        lines = [*lines[:MOST_TOLD], f"and {len(lines) - MOST_TOLD} more changes."]
    return lines or ["Nothing else changed by that."]


def _label(name: str, old: Row, row: Row) -> str:
    if row["outcome"] == RULED_OUT:
        return f"{name} is out: {fill(row['why'])}."
    chance = f" ({chance_words(row)} of the draws)" if row["chance_fitted"] is not None else ""
    return f"{name}: {row['outcome']}{chance}, was {old['outcome']}."


def _figures(name: str, old: Row, row: Row) -> list[str]:
    lines = []
    if whole(old["cruise_rpm"]) != whole(row["cruise_rpm"]):
        lines.append(f"{name} turns {whole(row['cruise_rpm'])} rev/min at your speed.")
    if whole(old["cost"]) != whole(row["cost"]):
        lines.append(f"{name} costs {whole(row['cost'])} in all (was {whole(old['cost'])}).")
    cuts = [figure(r["cut_mm"], "mm") if r["cut_mm"] else "nothing" for r in (old, row)]
    if cuts[0] != cuts[1]:
        lines.append(f"{name}: cut {cuts[1]} (was {cuts[0]}).")
    return lines


def _checks(before: Report, after: Report) -> list[str]:
    """Checks whose verdict changed, a line for each candidate."""
    was = {(c["candidate"], c["check"]): c["verdict"] for c in before.checks}
    found: dict[str, list[str]] = {}
    for row in after.checks:
        old = was.get((row["candidate"], row["check"]), row["verdict"])
        if old != row["verdict"]:
            found.setdefault(row["candidate"], []).append(
                f"{row['check'].replace('_', ' ')} {row['verdict']}"
            )
    lines = []
    for name, changed in found.items():
        more = f" and {len(changed) - MOST_CHECKS} more" if len(changed) > MOST_CHECKS else ""
        lines.append(f"{safe(name, 40)}: {', '.join(changed[:MOST_CHECKS])}{more}.")
    return lines
