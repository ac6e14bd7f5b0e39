"""What is not clear: numbers that nobody knows, labels that hardly hold, what is not judged."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from compare.answer.report import plain_name
from compare.report.workbook.book import LINE, Book, Head, Page, lines_of, words
from compare.report.workbook.labels import chance
from compare.vocabulary import OUTCOMES
from compare.words import ways_words

__all__ = ["write"]

HEADS = (Head("whose", 26), Head("what is not clear", 70), Head("what follows", 50))
ROOM = 510.0
LONG_NAME = 60
MOST_NAMES = 6
APART = 0.02  # the two chances are told apart beyond this

Line = tuple[str, Any, Any]


def write(book: Book) -> None:
    """Write the sheet."""
    page = Page(book, "What is not clear", [h.width for h in HEADS], one_page=True)
    page.title(
        "What is not clear",
        "The numbers that hold something back come first. Whatever is not known is never taken "
        "as passed.",
    )
    used, shown, rows = 62.0, [], _together(_lines(book), book.units)
    for line in rows:
        high = max(
            lines_of(words(c, book.units), h.width) for h, c in zip(HEADS, line, strict=True)
        )
        used += high * LINE + 2.0
        if used > ROOM:
            break
        shown.append(line)
    if rows:
        page.table(HEADS, shown)
    else:
        page.wide("Nothing: every number that decides is known.", "wrap")
    page.left_out(
        len(rows) - len(shown),
        "lines",
        "the sheets Measuring list, Ranking and Method hold the rest",
    )


def _together(lines: Iterable[Line], units: str) -> list[Line]:
    """Lines that say the same of several candidates as one."""
    said: dict[tuple[str, str], list[str]] = {}
    for who, what, follows in lines:
        said.setdefault((words(what, units), words(follows, units)), []).append(
            words(who, units, LONG_NAME)
        )
    return [(_names(who), what, follows) for (what, follows), who in said.items()]


def _names(who: list[str]) -> str:
    """A few names, and how many more.

    >>> _names(["a", "b"]), _names(["a", "b", "c", "d"])
    ('a, b', 'a, b and 2 more')
    """
    return ", ".join(who) if len(who) <= 3 else f"{', '.join(who[:2])} and {len(who) - 2} more"


def _lines(book: Book) -> Iterator[Line]:
    yield from _today(book)
    for row in book.report.extra.get("suspicious") or ():
        yield row["candidate"], row["found"], "suspicious: measure it again, or correct it"
    yield from _deciding(book)
    yield from _chances(book)
    yield from _out(book)
    yield from _not_judged(book)
    yield from _unmeasured(book)
    for said in book.report.assumed:
        yield "assumed", said, "put it into the car's file where it is not so"
    for text in book.report.warnings:
        yield "files", text, "as read"


def _today(book: Book) -> Iterator[Line]:
    baseline = book.report.baseline
    for check in (baseline or {}).get("checks", []):
        if baseline and check["check"] in baseline["failing"]:
            yield (
                "today's gearbox",
                f"{plain_name(check['check'])} fails, though the car drives",
                f"check: {words(check['fed_by'], book.units)}",
            )


def _deciding(book: Book) -> Iterator[Line]:
    report = book.report
    for row in report.waiting:
        who = (
            "every candidate waits"
            if row["all"]
            else f"{row['candidates']} candidates wait"
            if row["candidates"] != 1
            else "one candidate waits"
        )
        yield "the car", f"{plain_name(row['name'])} is not known", f"{who} for it"
    for candidate, names in report.deciding.items():
        mine = list(dict.fromkeys(plain_name(n) for owner, n in names if owner != "car"))
        if mine:
            verb = "is" if len(mine) == 1 else "are"
            yield (
                candidate,
                f"{words(mine, book.units)} {verb} not known",
                "decides whether it goes in: measure first",
            )


def _chances(book: Book) -> Iterator[Line]:
    for row in book.report.ranking:
        fitted, plan = row["chance_fitted"], row["chance_with_these_figures"]
        if fitted is not None and plan is not None and fitted - plan > APART:
            yield (
                row["candidate"],
                "parts ordered from these numbers may not fit",
                f"{chance(row)} with the parts in hand, "
                f"{chance(row, 'chance_with_these_figures')} if you order from these numbers",
            )
        if not row["firm"]:
            yield (
                row["candidate"],
                f"just {row['outcome']}",
                f"chance {chance(row)}: the label may turn with one better number",
            )
        elif row["outcome"] == OUTCOMES[2] and row["candidate"] not in book.report.deciding:
            yield row["candidate"], row["why"], f"chance {chance(row) or 'not known'}"


def _out(book: Book) -> Iterator[Line]:
    for row in book.report.ranking:
        if row["outcome"] == OUTCOMES[3]:
            extra = book.report.extra
            ways = ways_words(extra.get("ways_out"), row["candidate"], book.units)
            sought = row["candidate"] in (extra.get("ways_sought") or ())
            none = "no change of two numbers lets it in" if sought else "see detail for ways out"
            yield (
                row["candidate"],
                row["why"],
                f"ruled out; {f'way out: {ways[0]}' if ways else none}",
            )


def _not_judged(book: Book) -> Iterator[Line]:
    for row in book.report.not_judged:
        yield (
            "the car",
            f"{plain_name(row['check'])} is not judged",
            f"not known: {words(row['lacking'], book.units)}",
        )


def _unmeasured(book: Book) -> Iterator[Line]:
    for row in book.report.ranking:
        for lacking in row["lacking"]:
            names, checks = lacking["names"], [plain_name(c) for c in lacking["checks"]]
            more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
            verb = "is" if len(names) == 1 else "are"
            yield (
                row["candidate"],
                f"{words(names[:MOST_NAMES], book.units)}{more} {verb} not known",
                f"{words(checks, book.units)}: not measured, whatever is drawn for it",
            )
