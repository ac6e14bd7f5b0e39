"""The sheets of a candidate's papers, each made from its rows alone; a sheet without rows is left
out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from compare.figures import safe
from compare.report.drawing.measuring import LETTERS, SHEETS, measuring_drawing
from compare.report.drawing.scene import Scene
from compare.report.papers.facts import NOT_KNOWN, Candidate, Row, chance, known, plain_name
from compare.report.papers.pages import Block, Boxes, Bullets, Cell, Picture, Sheet, Table, Words
from compare.report.papers.parts import LEGEND, order_sheet, view_picture
from compare.vocabulary import (
    MINUTES_OF_TOOL,
    MINUTES_OF_VISIT,
    UNDO_STEPS,
    VERDICTS,
    VISITS,
    WORK_STAGES,
    Term,
)

__all__ = ["SHEET_MAKERS", "guide_sheets", "sheets_of"]

Scenes = Mapping[str, Scene]
BOX = Boxes(("",))
TWO_READINGS = Boxes(("1", "2"))
QUESTIONS = (
    "Why is it sold, and what did it come out of?",
    "Which oil was in it, and does it drip?",
    "Is the input shaft the original one? Which clutch disc ran on it?",
    "Does it jump out of a gear, grind, or whine in one of them?",
    "Do bellhousing, mount, lever, speedometer drive and slip yoke come with it?",
)
KEEP = (
    "Today's gearbox with its bellhousing, lever, mount and release parts, drained and plugged.",
    "Today's propeller shaft and speedometer cable, with their bolts in a bag.",
    "Every shim, with the place it came from.",
    "Photographs of every side before the first bolt is turned.",
)
FIRST = (
    "Offer everything up dry first: nothing is cut before its gate has been passed.",
    "Within each part of the work what can be undone comes before what cannot.",
)
# Practice, no source.
AFTERWARDS = (
    "By hand, before the engine runs: turn it over with the clutch down and up; nothing binds.",
    "Every gear goes in, and lever and clutch arm touch nothing at either end of their way.",
    "Air all round the gearbox, with the engine rocked by hand as far as its mounts let it.",
    "The propeller shaft turns freely with the axle hanging and with the car on its wheels; its "
    "yoke neither bottoms nor comes out.",
    "Oil to its level; after the first drive every bolt again, and look for leaks.",
    "Each line above that says to measure again has been measured again.",
)

# Figures to make something to are written finer than those that only place it.
FINER = {"mm": "mm doubt", "rad": "rad doubt"}
# Of these kinds a number without a tool stands on paper only.
NUMBERS_OF_A_MAKER = ("length", "diameter", "angle", "torque", "mass")
# View, what it shows, how many times heights are enlarged, and its most height on paper [mm].
SEAT_VIEWS = (
    ("side", "Side, the car around it", 1.0, 132.0),
    ("plan", "From above, left side up", 1.0, 92.0),
    ("driveline", "Propeller shaft", 3.0, 70.0),
    ("shaft", "Input shaft in crankshaft and clutch", 1.0, 150.0),
)


def decision_sheet(papers: Candidate, scenes: Scenes) -> Sheet | None:
    """What to do, how sure that is, and what is not clear."""
    rank = papers.one("ranking")
    decision = papers.rows.get("decision") or {}
    blocks: list[Block] = []
    if rank:
        blocks.append(Words(_label(papers, rank), "strong"))
    if decision.get("buy") and safe(decision["buy"]) == papers.name:
        blocks.append(Words(safe(decision.get("text") or "Buy it.")))
    blocks += _baseline(papers.rows.get("baseline") or {}, papers)
    unclear = [r for r in papers.list("checks") if r.get("verdict") != VERDICTS[0]]
    if unclear:
        blocks += [Words("What is not clear", "heading"), _checks(papers, unclear)]
    elif papers.list("checks"):
        blocks.append(Words("Every check is clear with the plan's figures."))
    ways = papers.list("ways_out")
    if ways:
        blocks += [Words("The nearest ways out", "heading"), _ways(papers, ways)]
    return Sheet("decision", "Decision", tuple(blocks)) if blocks else None


def _label(papers: Candidate, rank: Row) -> str:
    parts = [safe(rank.get("outcome") or NOT_KNOWN)]
    fitted, these = rank.get("chance_fitted"), rank.get("chance_with_these_figures")
    parts.append(f"chance {chance(fitted)} fitted, with the parts in hand")
    if known(these) and known(fitted) and abs(float(these or 0) - float(fitted or 0)) > 0.02:
        parts.append(f"{chance(these)} if you order from these numbers today")
    if (
        known(rank.get("rank"))
        and isinstance(papers.rows["car"], dict)
        and papers.rows["car"].get("candidates", 2) > 1
    ):
        parts.append(f"rank {rank['rank']}")
    parts.append(f"cost {papers.money(rank.get('cost'))}")
    parts.append(f"{papers.figure(rank.get('hours'), 'h')} of work")
    parts.append(f"deepest step: {safe(rank.get('undo') or NOT_KNOWN)}")
    text = "; ".join(parts) + "."
    return text[:1].upper() + text[1:]


def _listed(value: Any) -> str:
    if not value:
        return "nothing"
    if isinstance(value, str):
        return safe(value).rstrip(".")
    return ", ".join(plain_name(str(v)) for v in value)


def _baseline(baseline: Row, papers: Candidate) -> list[Block]:
    if baseline.get("passes") is not False:
        return []
    failing = [c for c in baseline.get("checks") or () if c.get("verdict") == VERDICTS[2]]
    said = [
        f"{plain_name(c.get('check', ''))} {papers.figure(c.get('value'), c.get('unit'))} "
        f"(fed by {_listed(c.get('fed_by'))})"
        for c in failing
    ]
    lead = "Your own gearbox does not pass with your numbers, so a number or a limit is wrong"
    return [Words(f"{lead}: {'; '.join(said) or NOT_KNOWN}.", "strong")]


def _checks(papers: Candidate, rows: Iterable[Row]) -> Table:
    order = {verdict: i for i, verdict in enumerate(reversed(VERDICTS))}
    cells = []
    for row in sorted(rows, key=lambda r: order.get(r.get("verdict", ""), 9)):
        value = papers.figure(row.get("value"), row.get("unit"))
        cells.append(
            (
                plain_name(row.get("check", "")),
                safe(row.get("verdict") or NOT_KNOWN),
                value,
                safe(row.get("limit") or ""),
                safe(row.get("why") or ""),
            )
        )
    heads = ("check", "verdict", "value", "limit", "why")
    return Table(heads, (30.0, 23.0, 25.0, 40.0, 68.0), tuple(cells))


def _ways(papers: Candidate, rows: Iterable[Row]) -> Table:
    cells = []
    for row in rows:
        change = f"{plain_name(row.get('dimension', ''))} of {safe(row.get('of') or papers.name)}"
        cells.append(
            (
                papers.said(row) or change,
                " → ".join(papers.figure(row.get(end), row.get("unit")) for end in ("from", "to")),
                safe(row.get("undo") or ""),
                papers.money(row.get("cost")),
                chance(row.get("chance_then")),
            )
        )
    heads = ("change", "from → to", "undo", "cost", "chance then")
    return Table(heads, (74.0, 48.0, 22.0, 20.0, 22.0), tuple(cells))


# ---- at the seller's --------------------------------------------------------------------------


def seller_sheet(papers: Candidate, scenes: Scenes) -> Sheet | None:
    """What this gearbox still needs, by letter, with limits that come from this car and boxes to
    fill in.
    """
    accept = {row["dimension"]: row for row in papers.list("accept") if row.get("dimension")}
    asked = [
        row["dimension"]
        for row in papers.list("measuring")
        if row.get("visit") == VISITS[0]
        and safe(row.get("of") or "") == papers.name
        and _can_be_had(papers.term(row["dimension"]))
    ]
    names = sorted(
        {*accept, *asked},
        key=lambda n: (n not in LETTERS, list(LETTERS).index(n) if n in LETTERS else 0, n),
    )
    if not names:
        return None
    minutes = _minutes(papers, names)
    blocks: list[Block] = [
        Words(
            "Measure in this order and write two readings. Buy: pay if it lies there. "
            "Walk away: it does not go into this car. "
            "Between: write it down, pay nothing yet, and compare again with it." + minutes
        ),
        _seller_table(papers, names, accept),
    ]
    joint = [row for row in accept.values() if row.get("with")]
    if joint:
        blocks += [
            Words("These decide together", "heading"),
            Table(
                ("together", "what decides", "yours"),
                (40.0, 106.0, 40.0),
                tuple(
                    (_letters([r["dimension"], *r["with"]]), text, BOX)
                    for text, r in {safe(r.get("text") or ""): r for r in reversed(joint)}.items()
                )[::-1],
            ),
        ]
    blocks += [Words("Ask", "heading"), Bullets(QUESTIONS)]
    ways = [r for r in papers.list("ways_out") if r.get("of_kind") in ("gearbox", "part")]
    if ways:
        blocks += [Words("If a limit is missed", "heading"), _ways(papers, ways)]
    blocks += _lettered_pictures(names, "gearbox")
    return Sheet("seller", "Seller's sheet", tuple(blocks), alone=True)


def _can_be_had(term: Term | None) -> bool:
    """Whether it can be seen or measured there: a number that only its maker tells is not."""
    return term is None or bool(term.tool) or term.kind not in NUMBERS_OF_A_MAKER


def _minutes(papers: Candidate, names: Iterable[str]) -> str:
    """How long all that stands on the sheet takes, with taking the tools out."""
    terms = [papers.term(name) for name in names]
    each = sum(MINUTES_OF_TOOL[term.tool] for term in terms if term is not None)
    return f" This takes about {MINUTES_OF_VISIT[VISITS[0]] + each} minutes."


def _letters(names: Sequence[str]) -> str:
    return " and ".join(f"{LETTERS.get(n, '')} {plain_name(n)}".strip() for n in names)


def _seller_table(papers: Candidate, names: Iterable[str], accept: Mapping[str, Row]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for name in names:
        row = accept.get(name, {})
        term = papers.term(name)
        limits = safe(row.get("text") or "") if not row.get("with") else "see below"
        rows.append(
            (
                LETTERS.get(name, "–"),
                plain_name(name),
                _how(term),
                limits or _limits(papers, row),
                TWO_READINGS,
            )
        )
    heads = ("", "what", "how, and with what", "accept", "readings")
    return Table(heads, (9.0, 32.0, 62.0, 43.0, 40.0), tuple(rows))


def _limits(papers: Candidate, row: Row) -> str:
    if not row:
        return "write it down"
    unit = row.get("unit")
    said = []
    if known(row.get("buy_low")) or known(row.get("buy_high")):
        said.append(f"buy: {papers.span(row.get('buy_low'), row.get('buy_high'), unit)}")
    if known(row.get("walk_low")):
        said.append(f"walk away: under {papers.figure(row['walk_low'], unit)}")
    if known(row.get("walk_high")):
        said.append(f"walk away: over {papers.figure(row['walk_high'], unit)}")
    return "; ".join(said) or "write it down"


def _how(term: Term | None) -> str:
    if term is None:
        return ""
    tool = f" [{term.tool}]" if term.tool else ""
    return f"{term.meaning}. {term.measure}".strip() + tool


def _lettered_pictures(names: Iterable[str] | None, of: str) -> list[Block]:
    wanted = None if names is None else set(names)
    pictures: list[Block] = []
    shown = [
        sheet
        for sheet in SHEETS
        if sheet.of == of and (wanted is None or any(m.name in wanted for m in sheet.marks))
    ]
    for sheet in shown:
        drawing = measuring_drawing(sheet, wanted, tallest=60.0 if len(shown) > 2 else 94.0)
        caption = f"{sheet.title}; not to scale. {' '.join(sheet.signs)}".strip()
        pictures.append(Picture(drawing, f"measure-{sheet.name}", caption))
    return pictures


# ---- in the car -------------------------------------------------------------------------------


def seat_sheet(papers: Candidate, scenes: Scenes) -> Sheet | None:
    """Where it sits: the plan's figures, and the drawings with every cut and clearance.

    What is done or not, without a figure, stands in the order of work.
    """
    plan = [r for r in papers.list("plan") if known(r.get("figure")) and r.get("unit")]
    blocks: list[Block] = []
    if plan:
        blocks.append(_plan_table(papers, plan))
    seat = papers.one("seats")
    if known(seat.get("why")):
        blocks.append(Words(safe(seat["why"])))
    for view, title, stretch, tallest in SEAT_VIEWS:
        picture = view_picture(scenes.get(view), view, title, papers.system, stretch, tallest)
        if picture is not None:
            blocks.append(picture)
    if not blocks:
        return None
    if any(isinstance(b, Picture) for b in blocks):
        blocks.insert(0, Words(LEGEND, "note"))
    return Sheet("seat", "Where it sits", tuple(blocks), alone=True)


def _plan_table(papers: Candidate, plan: Iterable[Row]) -> Table:
    names = _operations(papers)
    rows = []
    for row in plan:
        unit = str(row.get("unit") or "")
        tolerance = ""
        if known(row.get("tolerance_low")) or known(row.get("tolerance_high")):
            tolerance = papers.span(row.get("tolerance_low"), row.get("tolerance_high"), unit)
        rows.append(
            (
                names.get(row.get("decision", ""), plain_name(row.get("decision", ""))),
                safe(row.get("on") or ""),
                papers.figure(row.get("figure"), FINER.get(unit, unit)),
                tolerance,
                papers.figure(row.get("nothing_done"), FINER.get(unit, unit)),
                "before the parts meet" if row.get("blind") else "with the part in hand",
            )
        )
    heads = ("decision", "on", "figure", "as good between", "today", "how it is settled")
    return Table(heads, (40.0, 30.0, 22.0, 36.0, 18.0, 40.0), tuple(rows))


def _operations(papers: Candidate) -> dict[str, str]:
    return {
        row["decision"]: safe(row.get("operation") or plain_name(row["decision"]))
        for row in papers.list("work")
        if row.get("decision")
    }


def _steps(papers: Candidate) -> list[Row]:
    """The pieces of work in their order, one that falls into halves as one step each.

    Hours and money of such a one stand at its last.
    """
    steps: list[Row] = []
    for row in papers.list("work"):
        halves = row.get("halves") or {}
        for stage, operation in halves.items():
            own = {"when": stage, "operation": operation}
            if stage != row["when"]:
                own |= {"hours": None, "why": f"hours: see {halves[row['when']].lower()}"}
            steps.append(dict(row) | own)
        if not halves:
            steps.append(row)
    stages, depth = list(WORK_STAGES), list(UNDO_STEPS)
    return sorted(
        steps, key=lambda r: (stages.index(r["when"]), depth.index(r["undo"]), r["sequence"])
    )


def work_sheet(papers: Candidate, scenes: Scenes) -> Sheet | None:
    """The order of work, stage by stage; in each reversible before irreversible, each cut behind
    its gate.
    """
    steps, gates = _steps(papers), list(papers.list("gates"))
    if not steps:
        return None
    figures = {r.get("decision"): r for r in papers.list("plan")}
    taken = {step["decision"] for step in steps}
    rows: list[tuple[Cell, ...]] = []
    marks: list[str] = []
    number = 0
    for stage, title in WORK_STAGES.items():
        here = [step for step in steps if step["when"] == stage]
        loose = [g for g in gates if g["before"] not in taken and g.get("when") == stage]
        lines: list[tuple[str, tuple[Cell, ...]]] = []
        if here or loose:
            lines.append(("stage", ("", title, "", "", "", "", "")))
        lines += [("gate", _gate(papers, g)) for g in loose]
        for step in here:
            number += 1
            mine = [g for g in gates if g["before"] == step["decision"]]
            lines += [("gate", _gate(papers, g)) for g in mine]
            line = _step(papers, number, step, figures.get(step["decision"], {}))
            lines.append(("", line))
        rows += [line for _, line in lines]
        marks += [mark for mark, _ in lines]
    table = Table(
        ("", "what", "how much", "who", "hours", "can be undone", "done or measured"),
        (12.0, 70.0, 26.0, 22.0, 13.0, 20.0, 23.0),
        tuple(rows),
        tuple(marks),
    )
    stop = (Words(papers.not_yet(), "strong"),) if papers.not_yet() else ()
    after = (Words("Check afterwards", "heading"), Bullets(AFTERWARDS, boxes=True))
    return Sheet("work", "Order of work", (*stop, Bullets(FIRST), table, *after), alone=True)


def _gate(papers: Candidate, gate: Row) -> tuple[Cell, ...]:
    said = papers.said(gate)
    return ("Gate", f"Stop: {said}.", "", "you", "", "", BOX)


def _step(papers: Candidate, number: int, step: Row, plan: Row) -> tuple[Cell, ...]:
    what = f"{safe(step.get('operation') or NOT_KNOWN)} ({safe(step.get('on') or '')})"
    if known(step.get("why")):
        what += f": {safe(step['why']).rstrip('.')}"
    if known(step.get("afterwards")):
        what += f". Afterwards measure again: {safe(step['afterwards']).rstrip('.')}"
    amount = step.get("extent_mm") if known(step.get("extent_mm")) else plan.get("figure")
    unit = "mm" if known(step.get("extent_mm")) else plan.get("unit", "mm")
    tool = safe(step.get("tool") or "")
    return (
        str(number),
        what + ".",
        papers.figure(amount, FINER.get(unit, unit)) if known(amount) and amount else "",
        "sent out" if "sent out" in tool else f"you, {tool}" if tool else "you",
        papers.figure(step.get("hours"), "") if known(step.get("hours")) else "",
        safe(step.get("undo") or ""),
        BOX,
    )


def money_sheet(papers: Candidate, scenes: Scenes) -> Sheet | None:
    """What is to be bought, what it costs, and what it came to."""
    rows: list[tuple[Cell, ...]] = []
    price = (papers.rows.get("facts") or {}).get("price")
    if known(price):
        rows.append((papers.name, "seller", papers.money(price), BOX))
    for row in papers.list("work") or papers.list("plan"):
        if known(row.get("cost")) and row["cost"]:
            item = row.get("operation") or plain_name(row.get("decision", ""))
            tool = safe(row.get("tool") or "")
            source = "machine shop" if "sent out" in tool else "material and parts"
            rows.append(
                (
                    f"{safe(item)} ({safe(row.get('on') or '')})",
                    source,
                    papers.money(row["cost"]),
                    BOX,
                )
            )
    rank = papers.one("ranking")
    if known(rank.get("cost")):
        low, high = rank.get("cost_low"), rank.get("cost_high")
        ends = [papers.money(end) for end in (low, high) if known(end)]
        between = f", likely {ends[0]} to {ends[1]}" if len(set(ends)) == 2 else ""
        rows.append(
            (
                "Together",
                "with your own hours where they count",
                papers.money(rank["cost"]) + between,
                BOX,
            )
        )
    if not rows:
        return None
    table = Table(("what", "from", "cost", "paid"), (86.0, 42.0, 34.0, 24.0), tuple(rows))
    return Sheet("money", "Shopping list and money", (table,))


def keep_sheet(papers: Candidate, scenes: Scenes) -> Sheet | None:
    """What to keep and label, so that the car can go back."""
    own = [
        safe(row.get("text") or f"{row.get('what', '')}: {row.get('label', '')}")
        for row in papers.list("keep")
    ]
    parts = {
        safe(r["on"])
        for r in papers.list("work")
        if r.get("undo") == UNDO_STEPS[0] and known(r.get("on")) and not r.get("fitting")
    }
    own += [f"What comes off for this: {part}." for part in sorted(parts)]
    return Sheet(
        "keep",
        "Keep and label, so that the car can go back",
        (Bullets((*KEEP, *own), boxes=True, columns=2),),
    )


def not_judged_sheet(papers: Candidate, scenes: Scenes) -> Sheet | None:
    """What no sum here knows, and what could not be judged for want of numbers."""
    general = papers.texts("not_judged")
    open_checks = [r for r in papers.list("checks") if r.get("verdict") == VERDICTS[3]]
    blocks: list[Block] = []
    if general:
        blocks.append(Bullets(general, boxes=True, columns=2))
    if open_checks:
        said = ", ".join(plain_name(r.get("check", "")) for r in open_checks)
        blocks.append(Words(f"For want of numbers also not judged: {said}."))
    return (
        Sheet("not-judged", "Not judged here: see to it yourself", tuple(blocks))
        if blocks
        else None
    )


def cautions_sheet(papers: Candidate, scenes: Scenes) -> Sheet | None:
    """What always stands there."""
    return Sheet("cautions", "Cautions", (Bullets(papers.texts("cautions")),))


SHEET_MAKERS = {
    "decision": decision_sheet,
    "seller": seller_sheet,
    "seat": seat_sheet,
    "order": order_sheet,
    "work": work_sheet,
    "money": money_sheet,
    "keep": keep_sheet,
    "not-judged": not_judged_sheet,
    "cautions": cautions_sheet,
}


def sheets_of(papers: Candidate, scenes: Scenes, only: Sequence[str] = ()) -> list[Sheet]:
    """The sheets for which there are rows, in the order in which they are used."""
    names = [n for n in SHEET_MAKERS if not only or n in only]
    made = [SHEET_MAKERS[name](papers, scenes) for name in names]
    return [sheet for sheet in made if sheet is not None]


# ---- the measuring guide ----------------------------------------------------------------------


def guide_sheets(terms: Mapping[str, Term]) -> list[Sheet]:
    """One sheet a drawing: the letters, what they mean, how to measure them, boxes to write in."""
    sheets = []
    for drawn in SHEETS:
        rows: list[tuple[Cell, ...]] = []
        for mark in drawn.marks:
            name = terms[mark.name].heading if mark.name in terms else plain_name(mark.name)
            rows.append((LETTERS[mark.name], name, _how(terms.get(mark.name)), BOX))
        heads = (
            "",
            "column" if drawn.of == "gearbox" else "key",
            "what, how, and with what",
            "reading",
        )
        caption = f"Not to scale. {' '.join(drawn.signs)}".strip()
        picture = Picture(measuring_drawing(drawn, tallest=118.0), f"guide-{drawn.name}", caption)
        table = Table(heads, (10.0, 46.0, 100.0, 30.0), tuple(rows))
        sheets.append(Sheet(drawn.name, drawn.title, (picture, table), alone=True))
    return sheets
