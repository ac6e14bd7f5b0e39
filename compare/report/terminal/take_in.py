"""What came back in a workbook: each change with what it did, and what was written."""

from __future__ import annotations

from collections.abc import Sequence

from compare.answer.effects import Effect
from compare.report.terminal.page import Page

__all__ = ["effect_lines", "take_in_report"]


def effect_lines(page: Page, found: Sequence[Effect]) -> None:
    """Each change, and below it what it did."""
    for effect in found:
        page.item("·", effect.text)
        for sentence in effect.did:
            page.item("→", sentence, indent=2)


def take_in_report(
    found: Sequence[Effect], written: Sequence[str], *, width: int = 80, color: bool = False
) -> str:
    """The changes and what each did by itself, then a line for each file."""
    page = Page(width, color)
    effect_lines(page, found)
    if written:
        page.say()
    for line in written:
        page.say(line)
    return page.text()
