"""Broken files: a corpus made by hand, and noise. Never a traceback, never a wrong number in silence, always what to do."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compare.cli import main
from compare.problems import InputError, Problem
from compare.read.car import read_car
from compare.read.catalogue import load_catalogue, load_parts, mark_term, split_head
from compare.vocabulary import catalogue_terms

BROKEN = Path(__file__).parent / "broken"
EXPECTED = json.loads((BROKEN / "expected.json").read_text(encoding="utf-8"))


def test_the_corpus_is_large_and_whole():
    assert len(EXPECTED) >= 60
    assert {name for name, _ in EXPECTED} == {p.name for p in BROKEN.iterdir()} - {"expected.json"}


@pytest.mark.parametrize(("name", "words"), EXPECTED, ids=[name for name, _ in EXPECTED])
def test_a_broken_file_says_what_to_do(name, words, capsys):
    code = main(["check", str(BROKEN / name)])
    said = capsys.readouterr()
    assert code == 2, said.out
    assert "Traceback" not in said.out + said.err
    assert name in said.out
    for word in words:
        assert word in said.out, said.out
    for line in said.out.splitlines():
        assert "{" not in line or "x = 200" in line or "start = 200" in line, line
    fixes = [line for line in said.out.splitlines() if line.startswith("      ")]
    assert fixes and all(len(line.strip()) > 8 for line in fixes)


def test_all_problems_of_a_file_at_once_in_the_agreed_shape(tmp_path, capsys):
    path = tmp_path / "shed.csv"
    path.write_text('name,ratio_4,shifter_position,torque_rating\nKeld 5,1,"1,250",150\nGood,1,700,150\nOstrel M4,1,700,105 lb\n', encoding="utf-8")
    assert main(["check", str(path)]) == 2
    said = capsys.readouterr().out
    assert said == (
        f"{path}: 2 problems.\n"
        '  line 2, Keld 5, column shifter_position: "1,250" can be read two ways.\n'
        "      Type 1250 mm for the larger number, 1.25 mm for the smaller one.\n"
        '  line 4, Ostrel M4, column torque_rating: "105 lb" is a mass, a torque is expected here.\n'
        "      Type 105 lb ft, or 142 N·m. Leave it empty or type ? if you do not know it.\n"
        "  you typed → I read (10 cells are read as they stand, 0 are not known):\n"
    )


def test_rank_names_the_problems_of_all_files_and_writes_nothing(tmp_path, capsys):
    target = tmp_path / "out.xlsx"
    code = main(["rank", str(BROKEN / "teeth_decimal.csv"), "--car", str(BROKEN / "key_unknown.toml"), "--parts", str(BROKEN / "part_without_kind.csv"), "--workbook", str(target)])
    said = capsys.readouterr()
    assert code == 2 and said.out == ""
    for word in ("teeth_decimal.csv", "key_unknown.toml", "part_without_kind.csv", "Nothing was written"):
        assert word in said.err
    assert not target.exists() and not list(tmp_path.iterdir())


@given(st.binary(max_size=400))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_a_table_or_clean_problems(tmp_path, data):
    path = tmp_path / "noise.csv"
    path.write_bytes(data)
    for load in (load_catalogue, load_parts):
        try:
            load(path)
        except InputError as error:
            assert error.problems and all(p.found and p.fix for p in error.problems)


CELL = st.one_of(st.text(max_size=12), st.sampled_from(["600", "24 1/8 in", "?", "1,250", "½", '23.5"', "own", "fork", "3.73:1", "16..23", "12..25", "8-May", "=1+1", "600 ±3"]))
HEADS = ["name", "ratio_1", "ratio_4", "length", "pilot_diameter", "adapter_thickness", "bellhousing", "speedo_driven_teeth", "mount_tilt", "price", "odd"]


@given(st.lists(st.lists(CELL, min_size=len(HEADS), max_size=len(HEADS)), min_size=1, max_size=4))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_cells_are_a_table_or_clean_problems_and_never_a_silent_wrong_number(tmp_path, rows):
    import csv
    import io

    out = io.StringIO()
    csv.writer(out).writerows([HEADS, *rows])
    path = tmp_path / "cells.csv"
    path.write_bytes(out.getvalue().encode("utf-8", "surrogatepass"))
    try:
        table = load_catalogue(path)
    except InputError as error:
        assert all(p.found and p.fix for p in error.problems)
        return
    for row, name in enumerate(table.names):
        typed = next(r for r in rows if r[0].strip() == name)
        for at, head in enumerate(HEADS):
            if head in table.columns and head not in ("bellhousing",):
                known = table.columns[head].nominal[row] == table.columns[head].nominal[row]
                assert not known or re.search(r"[0-9½]", typed[at])


@given(st.text(max_size=200))
@settings(max_examples=150, deadline=None)
def test_any_text_is_a_profile_or_clean_problems(text):
    try:
        read_car(text)
    except InputError as error:
        assert all(p.found and p.fix for p in error.problems)


def test_files_in_each_other_s_place_are_recognised(demo_files, capsys):
    catalogue, car, parts = map(str, demo_files)
    report = str(Path(catalogue).parent.parent / "reports" / "demo.xlsx")
    for words, said in (
        (["rank", car, "--car", car], "is a car profile, not a table"),
        (["rank", catalogue, "--car", catalogue], "is a table, not a car profile"),
        (["rank", parts, "--car", car], "looks like a parts file"),
        (["rank", catalogue, "--car", car, "--parts", catalogue], "looks like a catalogue"),
        (["rank", report, "--car", car], "a workbook that rank wrote and brings its own"),
    ):
        assert main([*words, "--no-workbook"]) == 2
        error = capsys.readouterr().err
        assert said in error and "1 problem" in error, error


def test_a_missing_file_offers_its_neighbour(tmp_path, capsys):
    (tmp_path / "shed.csv").write_text("name,ratio_4\nA,1\n", encoding="utf-8")
    assert main(["check", str(tmp_path / "shde.csv")]) == 2
    assert "Did you mean" in capsys.readouterr().out
    assert main(["check", str(tmp_path)]) == 2
    assert "folder" in capsys.readouterr().out


def test_a_problem_s_text_holds_no_control_codes():
    text = InputError([Problem("f\x1b[31m.csv", "x", "y", 3, "row\u202e\x07", "col\x00")]).text()
    assert "\x1b" not in text and "\x07" not in text and "\x00" not in text


# ---- what messages offer is accepted --------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name, _ in EXPECTED])
def test_every_fix_that_a_broken_file_is_offered_is_accepted_when_typed(name):
    from compare.answer.inspection import inspection
    from compare.read.cells import parse, parse_tyre, read_choice
    from compare.vocabulary import CAR_KEYS

    keys = {f"{t.section}.{t.key}": t for t in CAR_KEYS}
    terms = catalogue_terms()
    for problem in inspection([str(BROKEN / name)]).problems:
        term = keys.get(problem.key) or terms.get(split_head(problem.column)[0]) or mark_term(problem.column)
        for option in problem.options:
            assert option in problem.fix
            if term is None:
                continue
            if term.kind == "choice":
                assert read_choice(option, term) >= 0
            elif term.kind == "tyre":
                assert parse_tyre(option).width
            else:
                assert parse(option, term) is not None, option


def test_twenty_problems_of_a_kind_are_printed_then_their_count(tmp_path, capsys):
    path = tmp_path / "many.csv"
    rows = "".join(f"G{n},1,9{n}x,450 ±{n}\n" for n in range(10_000))
    path.write_text("name,ratio_4,length,price\n" + rows, encoding="utf-8")
    assert main(["check", str(path)]) == 2
    said = capsys.readouterr().out
    assert len(said) < 100_000 and said.count("is not a length") == 20 and said.count("is not an amount") == 20
    assert "and 19960 more of the same kinds" in said and "20000 problems" in said


def test_check_gives_scripts_the_problems_and_every_cell(tmp_path, capsys):
    path = tmp_path / "c.csv"
    path.write_text(
        "name,ratio_4,length,mount_tilt,price,release_type,colour\nA,1,24 1/8 in ±1/16,2.5,?,fork,green\nB,1,24 1/8,,£20,,\n",
        encoding="utf-8",
    )
    assert main(["check", str(path), "--json", "-"]) == 2
    found = json.loads(capsys.readouterr().out)
    assert set(found) == {"problems", "readings"} and len(found["problems"]) == 1
    rows = {(r["owner"], r["column"]): r for r in found["readings"]}
    assert len(rows) == 11
    length = rows["A", "length"]
    assert list(length) == ["file", "line", "owner", "column", "typed", "value", "unit", "half_width", "high", "state"]
    assert [length[k] for k in ("value", "half_width", "unit", "state", "line")] == [612.775, 1.5875, "mm", "read", 2]
    assert rows["A", "mount_tilt"]["value"] == pytest.approx(0.0436332) and rows["A", "mount_tilt"]["unit"] == "rad"
    assert rows["A", "price"]["state"] == "unknown" and rows["A", "price"]["value"] is None
    assert rows["B", "length"]["state"] == "asked" and rows["B", "length"]["value"] is None
    assert (rows["B", "price"]["value"], rows["B", "price"]["unit"]) == (20, "money")
    assert rows["A", "release_type"]["value"] == "fork" and rows["A", "colour"]["value"] == "green"
    target = tmp_path / "out.json"
    assert main(["check", str(path), "--json", str(target)]) == 2
    assert json.loads(target.read_text(encoding="utf-8")) == found
    assert main(["check", str(path), "--json", str(path)]) == 2
    assert "is an input of this run" in capsys.readouterr().err and path.read_text(encoding="utf-8").startswith("name,")


def test_check_fix_types_what_alone_can_be_meant_and_keeps_all_else(tmp_path, capsys):
    path = tmp_path / "c.csv"
    head = "name;ratio_4;length;release_type;speedo_driven_teeth;shifter_position"
    text = f"# mine\r\n{head}\r\nA;1;24 1/8;frok;23-16;1,250\r\n# end"
    path.write_bytes(text.encode("cp1252"))
    assert main(["check", str(path), "--fix"]) == 2  # 1,250 can be read two ways: nobody else can say
    said = capsys.readouterr().out
    assert "3 cells mended" in said and "c.csv.1.bak" in said and "can be read two ways" in said
    assert path.read_bytes().decode() == text.replace("24 1/8", "24 1/8 in").replace("frok", "fork").replace("23-16", "16..23")
    assert (tmp_path / "c.csv.1.bak").read_bytes().decode() == text
