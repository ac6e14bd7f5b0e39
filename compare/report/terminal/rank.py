"""The first page: the decision, today's gearbox, the table, what rules out, what to measure,
cautions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.text import Text

from compare.answer.effects import Effect
from compare.answer.report import KEEP, Report, Row
from compare.answer.visits import CAR, words_of
from compare.figures import figure, safe
from compare.report.drawing.measuring import letter_of
from compare.report.terminal.page import STYLES, Page, points, whole
from compare.report.terminal.take_in import effect_lines
from compare.said import fill
from compare.vocabulary import OUTCOMES
from compare.words import CAUTIONS, NOT_JUDGED, chance_words, draws_words, money_words, ways_words

__all__ = ["decision_lines", "rank_report"]

NARROW, ROOMY, WIDE = 72, 92, 110
RULED_OUT, MEASURE = OUTCOMES[3], OUTCOMES[2]
APART = 0.02
MOST_TOLD = 5  # lines of what to measure
MOST_LINES, FEWEST_CHANGES, TERSEST = 60, 2, 2
MOST_LIKELY = 3
MOST_SUSPICIOUS = 2


def rank_report(
    report: Report,
    *,
    width: int = 80,
    color: bool = False,
    units: str = "metric",
    changes: Sequence[str] = (),
    kept: str = "",
    came_back: Sequence[Effect] = (),
) -> str:
    """The first page as text. kept: the file that holds all changes, where the page has no room for
    them; came_back: what a friend changed in the workbook that is ranked.
    """
    text = _with_changes(report, width, color, units, changes, kept)
    if not came_back:
        return text
    page = Page(width, color)
    page.head("Changed in the workbook, and what each change did by itself")
    effect_lines(page, came_back)
    return text.rstrip("\n") + "\n" + page.text()


def _with_changes(
    report: Report, width: int, color: bool, units: str, changes: Sequence[str], kept: str
) -> str:
    lines = list(changes)
    for terse in range(TERSEST if lines else 2):
        page = _page(report, width, color, units, lines, terse)
        if page.height <= MOST_LINES or width < NARROW:
            return page.text()
    if not lines:
        return page.text()
    bare = _page(report, width, color, units, [], TERSEST).height
    room = max(MOST_LINES - bare - 1, FEWEST_CHANGES)
    return _page(
        report, width, color, units, _fitting(lines, room, page.width, kept), TERSEST
    ).text()


def _fitting(lines: Sequence[str], room: int, width: int, kept: str) -> list[str]:
    """As many changes as fit into some lines of the page; the last says how many are left."""
    taken, used = 0, 0
    for line in lines:
        used += -(-len(line) // (width - 6))
        if used > room - (taken + 1 < len(lines)):
            break
        taken += 1
    if taken == len(lines):
        return list(lines)
    where = f": see {kept}" if kept else "; the workbook has the figures"
    return [*lines[:taken], f"and {len(lines) - taken} more{where}"]


def _page(
    report: Report, width: int, color: bool, units: str, changes: Sequence[str], terse: int = 0
) -> Page:
    """The page; terse 1: with fewer empty lines; 2: what is ruled out and what to measure in one
    line each.
    """
    page = Page(width, color, terse)
    car = report.car
    builds = f", {car['builds']} builds" if car["builds"] != car["candidates"] else ""
    number = car["candidates"]
    count = "1 candidate" if number == 1 else f"{number} candidates"
    draws = f", {draws_words(car)}"
    page.say(f"{safe(car['name'], 60)}: {count}{builds}{draws}", "bold")
    decision, today = decision_lines(report, units), _today(report, units)
    if len(today) == 1:
        decision[-1:] = [f"{decision[-1]} {today.pop()}"]
    for line in [*decision, *today]:
        page.say(line)
    for row in report.extra.get("suspicious", ())[:MOST_SUSPICIOUS]:
        page.say(f"Suspicious: {safe(row['candidate'], 34)}: {safe(row['found'], 200)}")
    page.say()
    if page.width < NARROW:
        _narrow(page, report, units)
    else:
        _table(page, report, units)
    _likely(page, report)
    _out(page, report, units)
    _measure(page, report, units)
    if changes:
        page.part("Changed since last time")
        for line in changes:
            page.item("·", line)
    _not_judged(page, report, units)
    page.say("Cautions", "bold")
    for line in CAUTIONS:
        page.item("!", line)
    return page


def _likely(page: Page, report: Report) -> None:
    """For whom numbers were drawn that nobody gave."""
    rows = [(name_of(r), r["likely"]) for r in report.ranking if r.get("likely")]
    told = [f"{name} ({_some(names, 1)})" for name, names in rows[:MOST_LIKELY]]
    more = f" and {len(rows) - MOST_LIKELY} more" if len(rows) > MOST_LIKELY else ""
    if told:
        page.say(f"Not known, so drawn as is likely: {'; '.join(told)}{more}.")


# ---- the decision --------------------------------------------------------------------------------


def decision_lines(report: Report, units: str = "metric") -> list[str]:
    """What to buy and why, what it takes, and what comes close; a report without that says who is
    first.
    """
    decision = report.extra.get("decision")
    if decision:
        return [safe(fill(decision["text"], units), 1200)]
    best = next(iter(report.ranking), None)
    if best is None:
        return ["No candidate is left to choose from."]
    return [f"First by expected value: {name_of(best)}, {best['outcome']}."]


def _percent(share: float | None) -> str:
    return chance_words({"chance_fitted": share})


def name_of(row: Row, most: int = 40) -> str:
    """A candidate with its parts, in words."""
    build = row.get("build", "")
    tail = f" with {safe(build, 60)}" if build and build != "as sold" else ""
    return safe(row["candidate"], most) + tail


def _today(report: Report, units: str) -> list[str]:
    """Today's gearbox: what it turns, and first of all whether it fits the numbers."""
    lines = []
    baseline = report.baseline
    if baseline and not baseline["passes"]:
        for name in baseline["failing"]:
            row = next(c for c in baseline["checks"] if c["check"] == name)
            value = (
                figure(row["value"], row["shown_unit"], units) if row["value"] is not None else "?"
            )
            fed = _some(row["fed_by"], 4)
            lines.append(
                f"Your own gearbox does not fit your numbers: {name.replace('_', ' ')} {value}. Check {fed}."
            )
    beyond = [c for c in baseline["checks"] if c["as_today"]] if baseline else []
    if beyond:
        shown = lambda c: (
            f"{c['check'].replace('_', ' ')} {figure(math.nan if c['value'] is None else c['value'], c['shown_unit'], units)}"
        )
        lines.append(
            f"By your numbers today's gearbox is beyond a limit itself ({_some([shown(c) for c in beyond], 3)}): "
            "others are judged against it. Check those numbers."
        )
    keep = next((r for r in report.ranking if r["candidate"] == KEEP), None)
    speed = report.car["cruise_speed_kmh"]
    if keep and keep["cruise_rpm"] is not None and speed:
        lines.append(
            f"Today's gearbox turns {whole(keep['cruise_rpm'])} rev/min at {figure(speed, 'km/h', units)}."
        )
    return lines


def _some(names: Sequence[str], most: int) -> str:
    """A few names, and how many more.

    >>> _some(["a", "b"], 2), _some(["a", "b", "c"], 2)
    ('a, b', 'a, b and 1 more')
    """
    rest = len(names) - most
    return ", ".join(names[:most]) + (f" and {rest} more" if rest > 0 else "")


# ---- the table -----------------------------------------------------------------------------------


def _apart(report: Report) -> bool:
    """Whether any candidate's two chances differ."""
    pairs = [(r["chance_fitted"], r["chance_with_these_figures"]) for r in report.ranking]
    return any(a is not None and b is not None and abs(a - b) > APART for a, b in pairs)


def _table(page: Page, report: Report, units: str) -> None:
    apart, roomy, wide = _apart(report), page.width >= ROOMY, page.width >= WIDE
    columns = [("#", "right"), ("candidate", "left"), ("outcome", "left"), ("goes in", "right")]
    columns += [("planned", "right")] if apart and roomy else []
    columns += [("rpm", "right"), ("cut", "left"), ("cost", "right")]
    columns += [("hours", "right")] if roomy else []
    columns += [("first", "right"), ("value", "right")] if wide else []
    body: list[list[Text | str]] = []
    for row in report.ranking:
        keep = row["candidate"] == KEEP
        outcome = row["outcome"] if row["firm"] else f"just {row['outcome']}"
        line: list[Text | str] = [
            str(row["rank"]),
            Text(_short_name(row), style="dim" if keep else ""),
        ]
        line += ["as it is" if keep else Text(outcome, style=STYLES[row["outcome"]])]
        line += ["" if keep else chance_words(row)]
        line += ([""] if keep else [_planned(row)]) if apart and roomy else []
        line += [whole(row["cruise_rpm"]), _cut(row, units), whole(row["cost"])]
        line += [whole(row["hours"])] if roomy else []
        line += [_percent(row["chance_first"]), points(row["value"])] if wide else []
        body.append(line)
    page.table(columns, body, cut="candidate")
    if apart and not roomy:
        _apart_line(page, report)
    if report.left_out:
        count = "1 more candidate" if report.left_out == 1 else f"{report.left_out} more candidates"
        page.say(f"{count}; leave out --top to see all.")


def _apart_line(page: Page, report: Report) -> None:
    """Who goes in less surely when everything is made before the parts are there."""
    told = [f"{safe(r['candidate'], 34)} {_planned(r)}" for r in report.ranking if _planned(r)]
    page.say(f"Goes in if made from today's numbers: {_some(told, 6)}.")


def _short_name(row: Row) -> str:
    name = safe(row["candidate"], 34)
    parts = row["build"] if row["build"] != "as sold" else ""
    return f"{name} + {safe(parts, 40)}" if parts else name


def _planned(row: Row) -> str:
    fitted, planned = row["chance_fitted"], row["chance_with_these_figures"]
    if fitted is None or planned is None or abs(fitted - planned) <= APART:
        return ""
    return chance_words(row, "chance_with_these_figures")


def _cut(row: Row, units: str) -> str:
    """`donor 10.6`: the deepest step that is cut, and how much of it."""
    if not row["cut_mm"]:
        return "–"
    return f"{row['undo'].removesuffix(' cut')} {figure(row['cut_mm'], row['shown_unit'], units)}"


def _narrow(page: Page, report: Report, units: str) -> None:
    for row in report.ranking:
        page.say(f"{row['rank']}. {name_of(row, 34)}", "bold")
        if row["candidate"] == KEEP:
            page.say(f"{whole(row['cruise_rpm'])} rev/min", "", 3)
            continue
        planned = f"; {_planned(row)} if made from today's numbers" if _planned(row) else ""
        page.say(f"{row['outcome']} ({chance_words(row)}{planned})", STYLES[row["outcome"]], 3)
        cut = f"cut {_cut(row, units)}" if row["cut_mm"] else "no cut"
        page.say(
            f"{whole(row['cruise_rpm'])} rev/min, {cut}, {money_words(row['cost'])} in all", "", 3
        )


# ---- the rest ------------------------------------------------------------------------------------


def _out(page: Page, report: Report, units: str) -> None:
    """One line each for what is ruled out, with its nearest way out."""
    out = [r for r in report.ranking if r["outcome"] == RULED_OUT]
    if not out:
        return
    page.say()
    for row in out[:20]:
        text = f"{safe(row['candidate'], 34)} is out: {fill(row['why'], units)}"
        ways = ways_words(report.extra.get("ways_out"), row["candidate"], units)
        if ways:
            text += f". Way out: {ways[0]}"
        page.line("×", text)
    if len(out) > 20:
        count = "1 more is out" if len(out) == 21 else f"{len(out) - 20} more are out"
        page.say(f"  {count}; see detail or the workbook.")


def _measure(page: Page, report: Report, units: str) -> None:
    visits = report.extra.get("visits")
    waiting = [w for w in report.waiting if w["all"]]
    first = [r for r in report.ranking if r["outcome"] == MEASURE]
    page.head(_stage(page, report))
    if waiting:
        names = [w["name"].removeprefix("car_").replace("_", " ") for w in waiting]
        page.item("·", f"every candidate waits for the car's {_some(names, 6)}")
    lines = [fill(row["text"], units) for row in visits or ()]
    if not lines:
        lines = [f"{safe(row['candidate'], 34)}: {fill(row['why'], units)}" for row in first]
    for line in lines[:MOST_TOLD]:
        page.line("·", line)
    if len(lines) > MOST_TOLD:
        page.line(
            "·", f"and {len(lines) - MOST_TOLD} more: see the workbook's sheet What is not clear"
        )


def _stage(page: Page, report: Report) -> str:
    """One line: how far the numbers reach, and the next ones with their letters on the drawings."""
    stage = report.extra.get("stage")
    if not stage or stage["candidate"] is None:
        return "Measure"
    reached, of = stage["reached"], stage["of"]
    text = f"Stage {reached} of {of} reached"
    text += f" ({stage['name']})" if 0 < reached < of else ""
    numbers = next_words(stage["next"], room=page.width - len(text) - 8)
    if numbers:
        return f"{text}. Next: {numbers}"
    return f"{text}: no number is wanting" if reached == of else text


def next_words(rows: Sequence[Row], room: int) -> str:
    """The next numbers worth having, as many as there is room for, at least one."""
    text = ""
    for row in rows:
        letter = letter_of(row["of"], row["dimension"])
        of = CAR if row["of"] == CAR else safe(row["of"], 24)
        one = f"{of} {words_of(row['dimension'])}" + (f" ({letter})" if letter else "")
        if text and len(text) + 2 + len(one) > room:
            break
        text = f"{text}; {one}" if text else one
    return text


def _not_judged(page: Page, report: Report, units: str) -> None:
    if not page.terse:
        page.say()
    if report.not_judged:
        checks = ", ".join(r["check"].replace("_", " ") for r in report.not_judged)
        lacking = sorted({n for r in report.not_judged for n in r["lacking"]})
        page.say(f"Not judged yet for want of the car's {_some(lacking, 4)}: {checks}.")
    page.say(f"Not judged here: {NOT_JUDGED}.")
    if report.assumed:
        page.say("Assumed: " + "; ".join(fill(s, units) for s in report.assumed) + ".")
