"""The reference page: every column, key, check, limit, decision and criterion, from vocabulary and
rulebook.
"""

from __future__ import annotations

import math

from compare.judge.rules import AtLeast, AtMost, Own, Rule, Rulebook
from compare.topics import all_topics
from compare.vocabulary import (
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    DEFAULT_HALF_WIDTH,
    DIFFERING,
    LIKELY,
    LIKELY_SHARE,
    LIKELY_STANDING,
    OUTCOMES,
    PART_COLUMNS,
    UNDO_STEPS,
    Term,
)

__all__ = ["reference_page"]

KIND_WORDS = {
    "fit": "does it go together; decides the outcome",
    "road": "is it safe to drive; decides the outcome",
    "wish": "comfort, taste, money; moves the value only, unless listed under `[policy] musts`",
}


def reference_page() -> str:
    """The page as Markdown."""
    book = Rulebook.from_topics(all_topics())
    parts = (
        ["# Reference", "", "Made by `gearbox-compare reference`; do not edit by hand.", ""],
        _columns(), _keys(), _checks(book), _limits(book), _decisions(book), _likely(), _differing(), _words(book),
    )  # fmt: skip
    return "\n".join(line for part in parts for line in part) + "\n"


def _possible(term: Term) -> str:
    if term.choices:
        return ", ".join(term.choices) + (", or a name" if term.other_text else "")
    if math.isinf(term.low) and math.isinf(term.high):
        return "–"
    low = "" if math.isinf(term.low) else f"{term.low:g}"
    high = "" if math.isinf(term.high) else f"{term.high:g}"
    return f"{low} to {high}"


def _columns() -> list[str]:
    lines = ["## Catalogue columns", "", "| column | kind | unit | possible | what it is |"]
    lines.append("|---|---|---|---|---|")
    for t in CATALOGUE_COLUMNS:
        lines.append(f"| `{t.name}` | {t.kind} | {t.unit or '–'} | {_possible(t)} | {t.meaning} |")
    lines.append(
        "| `mark_NAME` | number | – | 0 to 10 | your own mark, any name; `[weights] NAME` weighs it |"
    )
    lines += ["", "## Columns of a parts file", "", "| column | what it is |", "|---|---|"]
    lines += [f"| `{t.name}` | {t.meaning} |" for t in PART_COLUMNS]
    lines.append("| any catalogue column | replaces the candidate's |")
    return [*lines, "| `car.SECTION.KEY` | replaces that key of the car |", ""]


def _keys() -> list[str]:
    lines = [
        "## Keys of a car profile",
        "",
        "| key | kind | unit | possible | default | what it is |",
    ]
    lines.append("|---|---|---|---|---|---|")
    for t in CAR_KEYS:
        default = "–" if t.default is None else str(t.default)
        name = f"{t.section}.{t.key}"
        lines.append(
            f"| `{name}` | {t.kind} | {t.unit or '–'} | {_possible(t)} | {default} | {t.meaning} |"
        )
    text = "`[gearbox]` takes the catalogue's columns, `[limits]` the limits below, `[weights]` the criteria."
    return [*lines, "", text, ""]


def _limit_words(rule: Rule) -> str:
    if isinstance(rule.limit, AtLeast):
        return f"clear ≥ {rule.limit.clear:g}, tight ≥ {rule.limit.tight:g}"
    if isinstance(rule.limit, AtMost):
        return f"clear ≤ {rule.limit.clear:g}, tight ≤ {rule.limit.tight:g}"
    assert isinstance(rule.limit, Own)
    return rule.limit.words


def _checks(book: Rulebook) -> list[str]:
    lines = ["## Checks", "", *(f"- {kind}: {words}" for kind, words in KIND_WORDS.items()), ""]
    for rule in book.checks:
        feeds = ", ".join(f"`{n}`" for n in sorted(book.feeds(rule.name)))
        through = sorted(book.through(rule.name))
        helped = [
            book.rules[n].meaning.lower()
            for n in through
            if n in book.rules and book.rules[n].settled
        ]
        lines += [
            f"### {rule.title}", "", f"{rule.question} {rule.reason}", "",
            f"- kind: {rule.kind}",
            f"- limit: {_limit_words(rule)}{' [' + rule.unit + ']' if rule.unit else ''}",
            f"- what is decided on the way: {', '.join(helped) or 'nothing'}",
            f"- fed by: {feeds}", "",
        ]  # fmt: skip
    return lines


def _limits(book: Rulebook) -> list[str]:
    lines = ["## Limits", "", "| limit | default | unit | why |", "|---|---|---|---|"]
    for limit in book.limits.values():
        lines.append(f"| `{limit.name}` | {limit.default:g} | {limit.unit or '–'} | {limit.why} |")
    return [*lines, ""]


def _decisions(book: Rulebook) -> list[str]:
    lines = ["## Decisions", "", "Hours and money are common practice, no source.", ""]
    lines += [
        "| decision | on | made | undo | tool | hours | material |",
        "|---|---|---|---|---|---|---|",
    ]
    for rule in book.decisions:
        made = "before the parts meet" if rule.blind else "with the part in hand"
        if rule.sort == "decision":
            hours = f"{rule.hours:g}" + (
                f" + {rule.hours_per_mm:g} per mm" if rule.hours_per_mm else ""
            )
            cells = (rule.meaning, rule.on, made, rule.undo, rule.tool, hours, f"{rule.cost:g}")
            lines.append("| " + " | ".join(cells) + " |")
            continue
        for o in rule.options[1:]:
            cells = (
                f"{rule.meaning}: {o.name}",
                rule.on,
                made,
                o.undo,
                o.tool,
                f"{o.hours:g}",
                f"{o.cost:g}",
            )
            lines.append("| " + " | ".join(cells) + " |")
    return [*lines, ""]


def _likely() -> list[str]:
    lines = [
        "## Likely ranges",
        "",
        f"Over these an unknown number is drawn ({LIKELY_STANDING}).",
        "",
    ]
    lines += ["| number | from | to |", "|---|---|---|"]
    lines += [f"| `{name}` | {low:g} | {high:g} |" for name, (low, high) in LIKELY.items()]
    lines += [
        f"| `{name}` | {100 * low:g} % of `{of}` | {100 * high:g} % |"
        for name, (of, low, high) in LIKELY_SHARE.items()
    ]
    return [*lines, ""]


def _differing() -> list[str]:
    lines = ["## Limits on which makers differ", "", "Ours can be set under `[limits]`.", ""]
    lines += ["| limit | what | figure | whose |", "|---|---|---|---|"]
    for name, what, figures in DIFFERING:
        lines += [f"| `{name}` | {what} | {figure} | {whose} |" for figure, whose in figures]
    return [*lines, ""]


def _words(book: Rulebook) -> list[str]:
    lines = [
        "## Words",
        "",
        f"- undo scale: {' · '.join(UNDO_STEPS)}",
        f"- outcomes: {' · '.join(OUTCOMES)}",
    ]
    for kind, halves in DEFAULT_HALF_WIDTH.items():
        unit = "°" if kind == "angle" else "mm"
        stated = ", ".join(f"{s} ±{h:g} {unit}" for s, h in halves.items())
        lines.append(f"- doubt of a {kind} that states none: {stated}")
    return [*lines, *(f"- `{c.name}` (weight {c.weight:g}): {c.meaning}" for c in book.criteria)]
