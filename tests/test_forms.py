"""Blank forms, adding a row, the reference page: made from the vocabulary, and usable as they come."""

from __future__ import annotations

import re

import openpyxl
import pytest

from compare import forms
from compare.cli import main
from compare.judge.rules import Rulebook
from compare.problems import InputError
from compare.read.car import load_car, read_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.topics import all_topics
from compare.vocabulary import CAR_KEYS, CATALOGUE_COLUMNS


def test_from_start_to_a_ranking_following_only_what_is_printed(tmp_path, capsys, monkeypatch):
    """start, then add two candidates as the text says, uncomment a few keys, check, rank."""
    monkeypatch.chdir(tmp_path)
    assert main(["start", "shed"]) == 0
    said = capsys.readouterr().out
    command = next(line.strip() for line in said.splitlines() if line.strip().startswith("gearbox-compare add"))
    assert command.startswith("gearbox-compare add shed/catalogue.csv")
    assert main(["add", "shed/catalogue.csv", "My first box", "--set", "ratio_1=3.5", "ratio_4=1", "ratio_5=0.8", "length=24 1/8 in"]) == 0
    assert main(["add", "shed/catalogue.csv", "Second; with, marks", "--set", 'length=23½"', "ratio_1=3,4", "ratio_4=1", "--set", "bellhousing=own", "pilot_diameter=11/16 in ±0.01 in", "notes=says \"fine\", maybe"]) == 0
    text = (tmp_path / "shed" / "car.toml").read_text(encoding="utf-8")
    for key, value in (("speed", "95"), ("rpm_low", "2600"), ("rpm_high", "3300"), ("rolling_circumference", "1900"), ("ratio", "4.1")):
        text = re.sub(rf"(?m)^# {key} = \S+ +#", f"{key} = {value} #", text, count=1)
    (tmp_path / "shed" / "car.toml").write_text(text, encoding="utf-8")
    assert main(["check", "shed/catalogue.csv", "shed/car.toml"]) == 0
    said = capsys.readouterr().out
    assert "the car lacks:" in said and "crank.bore_depth (end gap, shoulder gap and " in said
    assert "every candidate lacks:" in said and "    stage 3, seat: " in said and "mount_position (mount reach" in said
    assert "My first box lacks:\n    stage 2, shaft and clutch: " in said and said.count("mount_position") == 1
    assert main(["rank", "shed/catalogue.csv", "--car", "shed/car.toml"]) == 0
    said = capsys.readouterr().out
    assert "My first box" in said and "Second; with, marks" in said and "2733" in said  # 95 km/h, 1.9 m round, 4.1, 0.8
    assert (tmp_path / "reports" / "catalogue.xlsx").exists()


def test_start_never_overwrites(tmp_path):
    (tmp_path / "car.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="is there already"):
        forms.start(str(tmp_path))
    assert [p.name for p in tmp_path.iterdir()] == ["car.toml"] and (tmp_path / "car.toml").read_text() == "mine"
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="is a file"):
        forms.start(str(tmp_path / "file"))


def test_the_blank_forms_hold_every_name(tmp_path):
    forms.start(str(tmp_path / "f"))
    catalogue = (tmp_path / "f" / "catalogue.csv").read_text(encoding="utf-8")
    for term in CATALOGUE_COLUMNS:
        if term.name not in ("ratio_7", "ratio_8"):
            assert re.search(rf"\b{term.name}\b", catalogue), term.name
    car = (tmp_path / "f" / "car.toml").read_text(encoding="utf-8")
    for term in CAR_KEYS:
        assert f"# {term.key} = " in car and term.meaning in car, term.name
    guide = (tmp_path / "f" / "measuring.md").read_text(encoding="utf-8")
    assert "shaft_stickout" in guide and "pull the shaft forward" in guide and "front face" in guide


def test_the_blank_profile_is_sound_commented_and_uncommented(tmp_path):
    forms.start(str(tmp_path / "f"))
    assert load_car(tmp_path / "f" / "car.toml").name == "the car"
    text = (tmp_path / "f" / "car.toml").read_text(encoding="utf-8")
    lines = [re.sub(r"^# (?=\w+ = )", "", line) for line in text.splitlines()]
    section = ""
    kept = []
    for line in lines:
        section = line if line.startswith("[") else section
        kept.append(line)
    try:
        read_car("\n".join(kept))
    except InputError as error:
        # Examples are examples of their own key; only pairs of keys may contradict each other.
        assert all("it is below" in p.found or "none = true" in p.found for p in error.problems), error.text()


def test_the_blank_workbook_reads_directly_and_carries_comments_and_lists(tmp_path):
    forms.start(str(tmp_path / "f"))
    path = tmp_path / "f" / "catalogue.xlsx"
    book = openpyxl.load_workbook(path)
    sheet = book["Catalogue"]
    heads = [c.value for c in sheet[1]]
    assert all(c.comment for c in sheet[1]) and "length [mm]" in heads
    assert {v.formula1 for v in sheet.data_validations.dataValidation} >= {'"fork,concentric"', '"left,right,either"'}
    assert sheet.cell(2, heads.index("spline_teeth") + 1).number_format == "@"
    for column, value in (("name", "A"), ("ratio_4", 1), ("length [mm]", "24 1/8 in"), ("pilot_diameter [mm]", 16.875), ("release_type", "fork")):
        sheet.cell(2, heads.index(column) + 1).value = value
    book.save(path)
    table = load_catalogue(path)
    assert table.names == ["A"] and table.columns["length"].nominal[0] == pytest.approx(612.775) and table.columns["pilot_diameter"].nominal[0] == 16.875


def test_a_blank_parts_file_takes_a_part(tmp_path):
    forms.start(str(tmp_path / "f"))
    path = tmp_path / "f" / "parts.csv"
    heads = path.read_text(encoding="utf-8").splitlines()[-1].split(",")
    row = {"part": "P", "kind": "input shaft", "fits": "A", "shaft_stickout [mm]": "163"}
    path.write_text(path.read_text(encoding="utf-8") + ",".join(row.get(h, "") for h in heads) + "\n", encoding="utf-8")
    assert load_parts(path).columns["shaft_stickout"].nominal[0] == 163


@pytest.mark.parametrize(("newline", "delimiter", "encoding"), [("\r\n", ";", "utf-8-sig"), ("\n", ",", "utf-8"), ("\n", "\t", "cp1252"), ("\r\n", ";", "utf-16")])
def test_add_keeps_the_file_s_own_style(tmp_path, newline, delimiter, encoding):
    path = tmp_path / "c.csv"
    text = newline.join(["# Löwen, kept as they are", delimiter.join(["name", "length [in]", "ratio_4", "notes"]), delimiter.join(["A", "24 1/8", "1", "x"]), "# between", ""])
    path.write_bytes(text.encode(encoding))
    before = path.read_bytes()
    said = forms.add(str(path), "B", ["ratio_4=1", "length=25,5", "price=100"])
    after = path.read_bytes().decode(encoding)
    assert (tmp_path / "c.csv.1.bak").read_bytes() == before and "c.csv.1.bak" in said and "price" in said
    assert "# Löwen, kept as they are" + newline in after and "# between" + newline in after
    assert after.splitlines()[1] == delimiter.join(["name", "length [in]", "ratio_4", "notes", "price"])
    assert newline == "\n" or ("\r\n" in after and "\n" not in after.replace("\r\n", ""))
    table = load_catalogue(path)
    assert table.names == ["A", "B"] and table.columns["length"].nominal[1] == pytest.approx(25.5 * 25.4)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["c.csv", "c.csv.1.bak"]


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (["ratio_4=1", "lenght=600"], "Did you mean length?"),
        (["length=600"], "has no ratio"),
        (["ratio_4=1", "shifter_position=1,250"], "two ways"),
        (["ratio_4=1", "torque_rating=105 lb"], "is a mass"),
        (["ratio_4=1", "release_type=frok"], "Type fork"),
        (["ratio_4"], "sets nothing"),
        (["ratio_4=1", "ratio_4=2"], "set twice"),
    ],
)
def test_add_refuses_what_rank_would_refuse_and_writes_nothing(tmp_path, settings, words):
    path = tmp_path / "c.csv"
    path.write_text("name,ratio_4,length\nA,1,600\n", encoding="utf-8")
    before = path.read_bytes()
    with pytest.raises(InputError, match=re.escape(words)):
        forms.add(str(path), "B", settings)
    with pytest.raises(InputError, match="already"):
        forms.add(str(path), "a", ["ratio_4=1"])
    assert path.read_bytes() == before and len(list(tmp_path.iterdir())) == 1


def test_suspicious_values_are_named_with_a_reason(tmp_path, capsys):
    path = tmp_path / "c.csv"
    path.write_text(
        "name,ratio_1,ratio_2,ratio_4,length,case_length,mount_position,pilot_diameter,spline_diameter,spline_start,spline_end,shaft_stickout\n"
        "Wide,3.5,2,1,700,300,640,28,25.4,38,84,163\n"
        "Swapped,1,2,3.5,300,700,640,15,25.4,84,38,163\n"
        "Twin A,3.4,2,1,690,300,640,15,25.4,38,84,163\n"
        "Twin B,3.4,2,1,690,300,640,15,25.4,38,84,163\n"
        "Ahead,3.5,2,1,700,300,35,15,25.4,38,184,163\n",
        encoding="utf-8",
    )
    assert main(["check", str(path)]) == 0
    said = capsys.readouterr().out
    for words in ("line 2, Wide: the pilot is as wide as the splines", "line 3, Swapped: the ratios do not fall", "line 3, Swapped: the splines end before they start", "line 3, Swapped: the case is longer",
                  "line 5, Twin B: every number is that of Twin A", "line 6, Ahead: the mount stands almost at the front face", "line 6, Ahead: the splines run on behind", "gear 3 is missing"):  # fmt: skip
        assert words in said, words


def test_what_looks_like_inches_is_asked(tmp_path, capsys):
    path = tmp_path / "c.csv"
    rows = "".join(f"G{i},1,{700 + i},{160 + i}\n" for i in range(5))
    path.write_text("name,ratio_4,length,shaft_stickout\n" + rows + "Inch,1,698,13\n", encoding="utf-8")
    assert main(["check", str(path)]) == 0
    assert "Inch" in capsys.readouterr().out
    path.write_text("name,ratio_4,bellhousing_depth\nA,1,160\nB,1,162\nC,1,158\nD,1,6.3\n", encoding="utf-8")
    assert main(["check", str(path)]) == 2
    assert 'line 5, D, column bellhousing_depth: "6.3" is about a 25th of the others' in capsys.readouterr().out
    path.write_text(path.read_text(encoding="utf-8").replace("6.3", "6.3 mm"), encoding="utf-8")
    assert main(["check", str(path)]) == 0  # who says millimetres is believed


def test_fractions_rounded_by_a_spreadsheet_program_are_noticed(tmp_path, capsys):
    path = tmp_path / "c.csv"
    path.write_text('name,ratio_4,length [in],pilot_diameter\nA,1,24.13,16.9\nB,1,24.125,0.69 in\nC,1,24.5,17\n', encoding="utf-8")
    assert main(["check", str(path)]) == 0
    said = capsys.readouterr().out
    assert "line 2, A: length [in] is 24.13" in said and "24 1/8 in was meant" in said
    assert "line 3, B: pilot_diameter is 0.69 in" in said and "If 11/16 in" in said
    assert "line 4, C: length" not in said


def test_the_reference_holds_every_name():
    from compare.reference import reference_page

    page = reference_page()
    book = Rulebook.from_topics(all_topics())
    for term in (*CATALOGUE_COLUMNS,):
        assert f"`{term.name}`" in page
    for term in CAR_KEYS:
        assert f"`{term.section}.{term.key}`" in page
    for limit in book.limits:
        assert f"`{limit}`" in page
    for rule in book.checks:
        assert f"### {rule.title}\n" in page and rule.question in page
    for rule in book.decisions:
        assert rule.meaning in page or any(o.operation in page for o in rule.options)
