"""Papers of one candidate, and the measuring guide, as one self-contained HTML file each.

The templates escape by themselves; every text of a file is made safe before that. The page has no
script and asks for nothing from anywhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from compare.report.drawing.model import Drawing
from compare.report.drawing.scene import scene, views_of
from compare.report.drawing.svg import svg_of
from compare.report.papers.facts import Candidate
from compare.report.papers.pages import Page, pages_of
from compare.report.papers.sheets import guide_sheets, sheets_of
from compare.topics import views
from compare.vocabulary import car_terms_by_name, catalogue_terms

__all__ = ["write_guide", "write_papers"]


def write_papers(
    rows: Mapping[str, Any], only: Sequence[str] = (), topics: Sequence[ModuleType] = (views,)
) -> str:
    """The papers of `rows["candidate"]` for `rows["car"]` as HTML text.

    rows: the report's rows by kind, `facts` (quantity to number) for the drawings, `cautions`; rows
    of other candidates are passed over. only: names of sheets, all where empty. topics: modules
    with views. Raises ValueError where candidate, car or cautions are missing.
    """
    papers = Candidate.of(rows)
    facts = rows.get("facts") or {}
    scenes = (
        {name: scene(functions, facts) for name, functions in views_of(topics).items()}
        if facts
        else {}
    )
    title = f"{papers.name} for {papers.car}"
    return _page(title, papers.build, pages_of(sheets_of(papers, scenes, only)))


def write_guide() -> str:
    """The measuring guide as HTML text: every dimension with letter, drawing, tool and a box."""
    terms = catalogue_terms() | car_terms_by_name()
    return _page("Measuring guide", "", pages_of(guide_sheets(terms)))


@cache
def _environment() -> Environment:
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
    )
    environment.filters["svg"] = _svg
    environment.tests["instance"] = lambda thing, name: type(thing).__name__ == name
    return environment


def _svg(drawing: Drawing, name: str) -> Markup:
    """The drawing, whose texts are escaped by its writer."""
    return Markup(svg_of(drawing, name))


def _page(title: str, build: str, pages: Sequence[Page]) -> str:
    return _environment().get_template("papers.html").render(title=title, build=build, pages=pages)
