"""The workbook: values equal to Python's, formulas recalculated by LibreOffice, every page whole."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from libreoffice import convert

from compare.answer.report import Tables
from compare.answer.visits import dimensions, judged_over_range
from compare.judge.engine import compare
from compare.read.cells import Value
from compare.report.what_if_sheet import outcome_of_the_rest
from compare.report.workbook import SHEETS, write_workbook

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def book_path(demo, tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "demo.xlsx"
    write_workbook(path, Tables(demo), dimensions(demo), judged_over_range(demo))
    return path


@pytest.fixture(scope="module")
def book(book_path):
    return openpyxl.load_workbook(book_path)


def what_if(path):
    """The live ranking and the base table, as read from a recalculated book."""
    sheet = openpyxl.load_workbook(path, data_only=True)["What-if"]
    rows = list(sheet.iter_rows(values_only=True))
    live = next(i for i, r in enumerate(rows) if r[0] == "The ranking, live")
    ranking = []
    for r in rows[live + 2 :]:
        if r[0] is None or not isinstance(r[0], int | float):
            break
        ranking.append((r[1], r[2], r[3], r[4]))
    head = next(i for i, r in enumerate(rows) if r[1] == "candidate" and "key" in r)
    columns = {name: at for at, name in enumerate(rows[head]) if name}
    base = {r[1]: {n: r[at] for n, at in columns.items()} for r in rows[head + 1 : head + 1 + len(ranking)]}
    return ranking, base


def test_recalculated_values_equal_pythons(book_path, demo_tables, soffice, tmp_path):
    ranking, base = what_if(convert(soffice, book_path, "xlsx", tmp_path))
    assert len(ranking) == len(demo_tables.ranking)
    for (name, outcome, score, rpm), row in zip(ranking, demo_tables.ranking, strict=True):
        assert (name, outcome) == (row["candidate"], row["outcome"])
        assert score == pytest.approx(row["score"], abs=0.0501) and rpm == pytest.approx(row["cruise_rpm"], abs=0.51)
    for at, row in enumerate(demo_tables.ranking):
        mine = base[row["candidate"]]
        build = demo_tables.shown[at]
        assert mine["score"] == pytest.approx(float(demo_tables.assessment.score[build]), abs=1e-6)
        assert mine["rank"] == row["rank"] == mine["rank, computed"]
        assert mine["pull %"] == pytest.approx(mine["pull %, computed"], abs=1e-6)
        assert mine["start %"] == pytest.approx(mine["start %, computed"], abs=1e-6)
        for live in ("cruise", "pull", "cost"):
            assert mine[live] == pytest.approx(mine[f"{live}, computed"], abs=1e-9)


def changed_book(book_path, place, changes):
    """A copy of the book with some input cells changed, saved by openpyxl (which drops cached values, as wanted)."""
    copy = openpyxl.load_workbook(book_path)
    sheet = copy["What-if"]
    for label, value in changes.items():
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value == label:
                    below = label in ("cruise", "pull", "undo", "cost")
                    target = sheet.cell(cell.row - 1, cell.column) if below else sheet.cell(cell.row, cell.column + 1)
                    target.value = value
                    break
            else:
                continue
            break
    path = place / "changed.xlsx"
    copy.save(path)
    return path


@pytest.mark.parametrize("axle", [4.7, 3.9, 5.6])
def test_a_changed_weight_and_axle_give_what_rank_gives(book_path, demo, soffice, tmp_path, axle):
    """Weight of cost up to 9, another axle: the sheet's outcome, score and order are those of the program for that car."""
    path = changed_book(book_path, tmp_path, {"axle ratio": axle, "cost": 9})
    ranking, _ = what_if(convert(soffice, path, "xlsx", tmp_path))
    car = replace(demo.car, values=demo.car.values | {"axle_ratio": Value(axle)}, weights=dict(demo.car.weights) | {"cost": 9.0})
    expected = Tables(compare(demo.builds.catalogue, car, demo.builds.parts, draws=1)).ranking
    assert [(r[0], r[1]) for r in ranking] == [(r["candidate"], r["outcome"]) for r in expected]
    for (_, _, score, rpm), row in zip(ranking, expected, strict=True):
        assert score == pytest.approx(row["score"], abs=0.0501) and rpm == pytest.approx(row["cruise_rpm"], abs=0.51)
    assert [r[0] for r in ranking] != [demo.builds.candidate_name(b) for b in demo.order]


def test_a_faster_cruise_rules_out_what_cannot_pull(book_path, demo, soffice, tmp_path):
    """At 110 km/h the formulas judge the pull anew."""
    ranking, _base = what_if(convert(soffice, changed_book(book_path, tmp_path, {"cruising speed [km/h]": 110}), "xlsx", tmp_path))
    car = replace(demo.car, values=demo.car.values | {"cruise_speed": Value(110.0)})
    expected = {r["candidate"]: r["outcome"] for r in Tables(compare(demo.builds.catalogue, car, demo.builds.parts, draws=1)).ranking}
    assert {r[0]: r[1] for r in ranking} == expected
    assert sum(o == "ruled out" for o in expected.values()) > 5


def test_only_plain_functions(book):
    known = {"IFERROR", "IF", "INDEX", "MATCH", "MAX", "MIN", "TAN", "ASIN", "ATAN", "SQRT", "PI", "OR", "AND", "ISNUMBER", "SUMPRODUCT", "SUM", "ROUND", "RANK", "COUNTIF", "CHOOSE"}
    for row in book["What-if"].iter_rows():
        for cell in row:
            if cell.data_type == "f":
                assert set(re.findall(r"([A-Z][A-Z.]+)\(", cell.value)) <= known and ";" not in cell.value, cell.value


def test_formulas_stand_on_what_if_only(book):
    for sheet in book.worksheets:
        formulas = sum(cell.data_type == "f" for row in sheet.iter_rows() for cell in row)
        assert (formulas > 0) == (sheet.title == "What-if"), sheet.title


def test_result_sheets_hold_the_values(book, demo_tables):
    sheet = book["Ranking"]
    head = next(r for r in sheet.iter_rows() if r[0].value == "rank")
    names = [c.value for c in head][:16]
    for row, expected in zip(sheet.iter_rows(min_row=head[0].row + 1, values_only=True), demo_tables.ranking, strict=False):
        got = dict(zip(names, row, strict=False))
        assert (got["rank"], got["candidate"], got["outcome"], got["why"]) == (expected["rank"], expected["candidate"], expected["outcome"], expected["why"])
        assert got["score"] == expected["score"] and got["cost"] == expected["cost"]
    checks = book["Checks"]
    assert any(c.value == "clash*" for row in checks.iter_rows() for c in row)
    assert any(r[0].value == "present gearbox" for r in checks.iter_rows())


def test_shaft_work_reads_as_an_order(book):
    rows = [[c.value for c in row] for row in book["Shaft work"].iter_rows()]
    keld = [r for r in rows if r[0] == "Keld 5"]
    turn = next(r for r in keld if r[1].startswith("turn or grind"))
    # Ø 17 f7: −34 and −16 µm; 0.6 off each side, inside the case of 0.8.
    assert turn[4] == "Ø 17 f7: 16.966 to 16.984 mm" and "0.6 mm off each side, inside the case (0.8 mm)" in turn[6]
    bush = next(r for r in keld if "outside" in r[1])
    # A bore of 21 takes a press fit s6 (bush wall thin) or r6: over 18 to 30, s6 is +48/+35.
    assert bush[4] == "Ø 21 s6: 21.035 to 21.048 mm" and "21 H7: 21.000 to 21.021 mm" in bush[6]
    # A journal left as it is, 15.00: RBC Bearings, 'Running clearance', about 0.0015 in per inch of bore: 0.0225 mm.
    hawes = next(r for r in rows if r[0] == "Hawes 5" and "inside" in r[1])
    assert hawes[4] == "15.023 mm: the journal as measured and 0.022 mm"
    assert any(r[1] == "check before cutting" for r in keld)
    assert not any(r[0] == "Wray 5 iron case" for r in rows)


def test_the_story_in_order_with_links(book):
    assert book.sheetnames == ["Contents", *(name for name, _ in SHEETS)]
    links = [c.hyperlink for row in book["Contents"].iter_rows() for c in row if c.hyperlink]
    assert [link.location for link in links] == [f"'{name}'!A1" for name, _ in SHEETS]
    assert all(link.target is None for link in links)


def test_every_sheet_prints_on_landscape_pages_with_heads_and_numbers(book):
    for sheet in book.worksheets:
        assert sheet.page_setup.orientation == "landscape" and sheet.sheet_properties.pageSetUpPr.fitToPage, sheet.title
        assert "&P" in sheet.oddFooter.right.text and sheet.print_area, sheet.title
        if sheet.title in ("Ranking", "Checks", "Cuts", "Gears", "Catalogue", "Measure next", "Shaft work", "Reasons"):
            assert sheet.print_title_rows and sheet.freeze_panes and sheet.auto_filter.ref, sheet.title


def test_comments_come_from_the_vocabulary(book):
    comments = {c.value: c.comment.text for row in book["Catalogue"].iter_rows() for c in row if c.comment}
    assert "gearbox front face to the tip of the input shaft" in comments["shaft_stickout [mm]"]
    assert "depth gauge" in comments["shaft_stickout [mm]"]


def test_properties_tell_where_it_came_from(book, demo):
    assert "Pellow" in book.properties.title
    assert demo.builds.catalogue.digest in book.properties.description and demo.car.digest in book.properties.description


def test_charts_are_there_and_filled(book):
    counts = {s.title: len(s._charts) for s in book.worksheets}
    assert counts["Ranking"] == 2 and counts["Gears"] == 1 and counts["Layout"] == 8
    for sheet in book.worksheets:
        for chart in sheet._charts:
            assert chart.series, sheet.title
            assert not chart.x_axis.delete and not chart.y_axis.delete


def test_layout_charts_lock_the_aspect(book):
    """Axis spans stand in the ratio of the plot: 15 by 6."""
    for chart in book["Layout"]._charts:
        x, y = chart.x_axis.scaling, chart.y_axis.scaling
        assert (x.max - x.min) / (y.max - y.min) == pytest.approx(15 / 6)


def test_every_page_of_the_pdf_is_whole(book_path, soffice, tmp_path):
    """No ### and no error value on any page; every sheet has its pages."""
    pdf = convert(soffice, book_path, "pdf", tmp_path)
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not on the path: install poppler-utils to read the pages")
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
    assert "###" not in text and "#N/A" not in text and "#VALUE" not in text and "Err:" not in text and "#NAME" not in text
    for name in book_sheet_names(book_path):
        assert f"{name}, page" in text, name


def book_sheet_names(path):
    return openpyxl.load_workbook(path, read_only=True).sheetnames


def test_edited_and_saved_again_by_libreoffice_formulas_and_charts_remain(book_path, soffice, tmp_path):
    again = openpyxl.load_workbook(convert(soffice, book_path, "xlsx", tmp_path))
    formulas = lambda b: sum(c.data_type == "f" for row in b["What-if"].iter_rows() for c in row)
    assert formulas(again) == formulas(openpyxl.load_workbook(book_path))
    assert len(again["Layout"]._charts) == 8 and len(again["Ranking"]._charts) == 2


def test_outcome_of_the_rest_leaves_the_live_checks_out(demo_tables):
    at = next(i for i, r in enumerate(demo_tables.ranking) if r["candidate"] == "Marrick Six")
    assert demo_tables.ranking[at]["outcome"] == "ruled out" and outcome_of_the_rest(demo_tables, demo_tables.result)[at] == 1


def test_a_profile_without_an_engine_makes_a_whole_book(demo, demo_files, soffice, tmp_path):
    from compare.read.car import read_car

    text = re.sub(r"(?ms)^\[(engine|tyre)\]\n.*?(?=^\[)", "", demo_files[1].read_text(encoding="utf-8"))
    tables = Tables(compare(demo.builds.catalogue, read_car(text), draws=5))
    path = tmp_path / "bare.xlsx"
    write_workbook(path, tables, [], [])
    ranking, _ = what_if(convert(soffice, path, "xlsx", tmp_path))
    assert [(r[0], r[1]) for r in ranking] == [(r["candidate"], r["outcome"]) for r in tables.ranking]
    assert all(s == pytest.approx(r["score"], abs=0.051) for (_, _, s, _), r in zip(ranking, tables.ranking, strict=True))


def test_the_workbook_in_inches(demo, tmp_path):
    path = tmp_path / "inch.xlsx"
    write_workbook(path, Tables(demo, "inch"), dimensions(demo), [])
    sheet = openpyxl.load_workbook(path)["Ranking"]
    heads = [c.value for row in sheet.iter_rows() for c in row if c.value]
    assert "cut [in]" in heads


NUMBER = re.compile(r"(?<![A-Za-z$])\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


def _figures_apart(value):
    """(what is words, the numbers in it): the last digits of a number differ between processors, words do not."""
    if isinstance(value, str):
        return NUMBER.sub("#", value), [float(n) for n in NUMBER.findall(value)]
    return (None, [float(value)]) if isinstance(value, int | float) else (value, [])


def test_the_kept_workbook_is_current(demo_tables, tmp_path):
    """Content, not bytes: reports/demo.xlsx holds what the program makes today."""
    path = tmp_path / "now.xlsx"
    write_workbook(path, demo_tables, dimensions(demo_tables.assessment), judged_over_range(demo_tables.assessment))
    kept, now = openpyxl.load_workbook(ROOT / "reports" / "demo.xlsx"), openpyxl.load_workbook(path)
    assert kept.sheetnames == now.sheetnames
    for sheet in now.worksheets:
        if sheet.title in ("Contents", "Car", "Catalogue", "Method"):
            continue  # dates, paths and digests
        mine = [_figures_apart(c.value) for row in sheet.iter_rows() for c in row]
        theirs = [_figures_apart(c.value) for row in kept[sheet.title].iter_rows() for c in row]
        assert [words for words, _ in mine] == [words for words, _ in theirs], sheet.title
        numbers = [[n for _, found in cells for n in found] for cells in (mine, theirs)]
        assert numbers[0] == pytest.approx(numbers[1], rel=1e-6, abs=1e-6), f"{sheet.title}: run python tests/make_pages.py"


def test_json_and_workbook_agree(book_path, demo_tables):
    from compare.report.as_json import as_json, document

    content = json.loads(as_json(document(demo_tables, [], [])))
    rows = [r for r in openpyxl.load_workbook(book_path)["Cuts"].iter_rows(values_only=True) if r[0] in {x["candidate"] for x in content["ranking"]}]
    assert len(rows) == len(content["work"])
    assert [(r[0], r[2], r[4]) for r in rows] == [(w["candidate"], w["operation"], w["undo"]) for w in content["work"]]


