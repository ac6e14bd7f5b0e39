"""The conversation: scripted from an empty folder, at any moment stopped, asked, gone back and gone on."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from scripted import WIDTH, session

from compare.answer.compare import compare
from compare.asking.questions import NEW
from compare.asking.talk import Talk
from compare.cli import main
from compare.judge.outcome import MEASURE
from compare.problems import InputError
from compare.read.car import load_car
from compare.read.catalogue import load_catalogue
from compare.report.drawing.asked import asked_drawing
from compare.report.drawing.measuring import SHEETS, letter_of

ROOT = Path(__file__).resolve().parent.parent
FEW, LABEL = 14, 45  # answers to a ranking of two, and to a label
START = ("My van", "165/80R13", "4.5", "60 mph", "3.6 2.2 1.4 1")
TWO = ("One", "3.4 2.1 1.4 1 0.8", "300", "Two", "3.5 2.2 1.4 1 .82", "250")


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    place = tmp_path_factory.mktemp("ask") / "my swap"
    return place, session(place, LABEL)


def talk_of(folder, *answers, width=60):
    talk = Talk(folder, width)
    said = [talk.begin()]
    for text in answers:
        said.append(talk.prompt())
        said.append(talk.answer(text))
    return talk, said


def test_from_an_empty_folder_to_a_ranking_of_two_and_to_a_label(played):
    place, found = played
    assert 0 < found.ranking_of_two <= FEW
    assert 0 < found.label <= LABEL, found.screen[-3000:]
    a = compare(load_catalogue(place / "catalogue.csv"), load_car(place / "car.toml"))
    assert (a.outcome != MEASURE).any()  # with as many draws as rank takes
    assert not list(place.glob("*.bak"))  # what the conversation made itself needs no backup


def test_piped_it_shows_the_same(played, tmp_path):
    _, found = played
    environment = os.environ | {"COLUMNS": str(WIDTH), "PYTHONIOENCODING": "utf-8", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-m", "compare", "ask", "my swap"], input="\n".join(found.typed) + "\n", cwd=tmp_path,
        env=environment, capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode == 0 and done.stderr == ""
    middle = lambda text: text[text.index("\n2. ") : text.rindex("> stop")]  # the folder's name apart
    assert middle(done.stdout) == middle(found.screen)


def test_no_line_of_ours_is_wider_than_the_screen(tmp_path):
    talk, said = talk_of(tmp_path / "f", *START, *TWO)
    for _ in range(12):
        assert talk.now is not None
        said.append(talk.prompt())
        said.append(talk.answer("?"))
        said.append(talk.answer("skip"))
    lines = [line for text in said for line in text.splitlines()]
    assert max(len(line) for line in lines) <= 60
    assert not any("\x1b" in line for line in lines)


def test_end_of_input_stops_and_what_was_said_is_kept(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "compare", "ask", "f"], input="My van\n165/80R13\n", cwd=tmp_path, text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0 and "Stopped after 2 answers" in done.stdout
    car = load_car(tmp_path / "f" / "car.toml")
    assert car.name == "My van" and car.tyre is not None
    text = (tmp_path / "f" / "car.toml").read_text(encoding="utf-8")
    assert text.count("\nname = ") == 1 and "# name = " not in text  # the form's own line was filled in
    talk, _ = talk_of(tmp_path / "f")
    assert talk.now is not None and talk.now.names == ("axle_ratio",)  # goes on where it stopped


def test_question_mark_skip_back_and_stop_at_any_time(tmp_path):
    talk, said = talk_of(tmp_path / "f", "My van", "?", "skip", "4.5")
    assert "Possible" not in said[4] and talk.now is not None and talk.now.names == ("cruise_speed",)
    assert talk.answer("back") == "" and talk.now.names == ("axle_ratio",)
    assert "Now: 4.5" in talk.prompt()
    talk.answer("4.1")
    assert load_car(tmp_path / "f" / "car.toml").values["axle_ratio"].nominal == 4.1
    talk.answer("back")
    talk.answer("back")
    assert talk.now.names == ("tyre_size",)
    assert "See it all" not in talk.answer("stop") and talk.over


def test_answers_are_read_by_the_ledger_s_rules(tmp_path):
    talk, said = talk_of(tmp_path / "f", "My van", "1,9 m", "about 4", "4.5", "105", "3.6 2.2 1.4 1", *TWO)
    assert "1900 mm" in said[4] or load_car(tmp_path / "f" / "car.toml").values["tyre_rolling_circumference"].nominal == 1900
    assert "guess" in said[6]  # not written, asked again
    talk.now = talk._about("One", "shaft_stickout")
    assert "two ways" in talk.answer("1,250") or "possible" in talk.answer("1,250")
    assert 'Type 6 1/2 in' in " ".join(talk.answer("6 1/2").split())
    assert "165.1 mm" in talk.answer("6 1/2 in")
    table = load_catalogue(tmp_path / "f" / "catalogue.csv")
    assert table.columns["shaft_stickout"].nominal[table.names.index("One")] == pytest.approx(165.1)


def test_several_numbers_in_one_line_and_what_is_none(tmp_path):
    talk, _ = talk_of(tmp_path / "f", *START, *TWO)
    for name, typed, key in (
        ("crossmember_start", "19 in, 21 1/2 in, 4 5/8 in", "crossmember_end"),
        ("engine_torque_curve", "1000 60 lb ft; 4000 55 lb ft", "curve"),
        ("tunnel_stations", "200 7 1/2 in 190 200; 900 95 95 118", "stations"),
        ("car_mount_zone", "760, 830", "zone"),
    ):
        talk.now = talk._about("car", name)
        assert "wanted" not in talk.answer(typed), key
    car = load_car(tmp_path / "f" / "car.toml")
    assert car.values["crossmember_end"].nominal == pytest.approx(546.1)
    assert car.curve[0] == pytest.approx((1000, 81.35), abs=0.1)
    assert car.stations[0]["left"].nominal == pytest.approx(190.5)
    talk.now = talk._about("car", "opening_start")
    assert talk.now.names == ("opening_start", "opening_end", "opening_left", "opening_right")
    assert "4 are wanted" in talk.answer("1 2 3")
    talk.answer("none")
    assert load_car(tmp_path / "f" / "car.toml").values["opening_none"].nominal == 1


def test_it_says_what_an_answer_changed(tmp_path):
    talk, _ = talk_of(tmp_path / "f", *START, *TWO)
    talk.now = talk._about("car", "engine_torque_curve")
    talk.answer("1000 90; 4000 100")
    talk.now = talk._about("Two", "torque_rating")
    said = " ".join(talk.answer("60").split())
    assert "Two is out: rated 60 N·m for an engine of 100 N·m" in said
    talk.now = talk._about("car", "axle_ratio")
    assert "rev/min at your speed" in talk.answer("3.9")


def test_a_folder_with_files_keeps_them_as_they_were_once(tmp_path):
    talk_of(tmp_path / "f", *START, *TWO)
    before = (tmp_path / "f" / "catalogue.csv").read_bytes()
    talk, _ = talk_of(tmp_path / "f")
    for name, typed in (("bellhousing", "own"), ("adapter", "none"), ("length", "700")):
        talk.now = talk._about("One", name)
        talk.answer(typed)
    assert [p.name for p in (tmp_path / "f").glob("*.bak")] == ["catalogue.csv.1.bak"]
    assert (tmp_path / "f" / "catalogue.csv.1.bak").read_bytes() == before


def test_a_name_twice_and_a_gearbox_more(tmp_path):
    talk, _ = talk_of(tmp_path / "f", *START, *TWO)
    talk.answer("add")
    assert talk.now is not None and talk.now.of == NEW
    assert "a name already" in talk.answer("one")
    talk.answer("Three")
    assert "Three is in" in talk.answer("3.3 2 1.3 1")
    assert load_catalogue(tmp_path / "f" / "catalogue.csv").names == ["One", "Two", "Three"]


def test_a_broken_folder_is_named(tmp_path, capsys):
    talk_of(tmp_path / "f", *START, *TWO)
    (tmp_path / "f" / "car.toml").write_text("[axle]\nratio = 400\n", encoding="utf-8")
    with pytest.raises(InputError):
        Talk(tmp_path / "f").begin()
    assert main(["ask", str(tmp_path / "f")]) == 2
    assert "axle.ratio" in capsys.readouterr().err


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda s: s.name)
def test_every_dimension_shows_its_letter_in_sixty_columns(sheet):
    from compare.report.drawing.measuring import LETTERS

    for mark in sheet.marks:
        lines = asked_drawing(sheet, (mark.name,), 58)
        assert max(map(len, lines)) <= 60 and len(lines) <= 30
        assert any(LETTERS[mark.name] in line for line in lines)


def spoken(text):
    return " ".join(text.split())


def test_a_question_mark_says_more_of_name_tyre_and_ratios(tmp_path):
    talk, _ = talk_of(tmp_path / "f")
    assert "headed with them" in talk.answer("?")
    talk.answer("My van")
    assert "80 % of that high" in spoken(talk.answer("?"))
    for text in ("165/80R13", "4.5", "95"):
        talk.answer(text)
    assert "Turns of the input shaft for one of the output" in spoken(talk.answer("?"))
    talk.answer("3.6 2.2 1.4 1")
    assert talk.now.of == NEW and "by which you know it again" in spoken(talk.answer("?"))


def test_tyres_and_ratios_are_said_as_they_were_read(tmp_path):
    _, said = talk_of(tmp_path / "f", "My van", "5.60-15", "4.5", "95", "41/11 2.2 direct")
    assert "Read: 142 mm wide" in spoken(said[4]) and "for a rim of 15 in, cross-ply." in spoken(said[4])
    assert "Read: gear 1 is 3.7273, gear 2 is 2.2, gear 3 is 1." in spoken(said[10])


def test_a_single_ratio_that_no_engine_cruises_with_is_asked_about_once(tmp_path):
    talk, _ = talk_of(tmp_path / "f", "My van", "1700 mm", "4.5", "95")
    asked = talk.answer("3.64")
    # Outside sum: 95 km/h / 1.7 m a turn = 931 turns a minute, by 4.5 and 3.64 = 15,256.
    assert "15255 rev/min" in spoken(asked) or "15256 rev/min" in spoken(asked)
    assert talk.now.names[0] == "present_ratio_1" and not load_car(tmp_path / "f" / "car.toml").present
    talk.answer("3.64")
    assert load_car(tmp_path / "f" / "car.toml").present["ratio_1"].nominal == 3.64
    calm, _ = talk_of(tmp_path / "g", "My van", "1700 mm", "4.5", "95", "1.4")
    assert load_car(tmp_path / "g" / "car.toml").present["ratio_1"].nominal == 1.4
    assert calm.now.of == NEW


def test_one_is_one_number_and_one_answer(tmp_path):
    talk, _ = talk_of(tmp_path / "f", *START, *TWO)
    talk.now = talk._about("car", "car_mount_zone")
    assert "1 number where 2 are wanted" in spoken(talk.answer("760"))
    one, _ = talk_of(tmp_path / "g", "My van")
    assert "Stopped after 1 answer. It is in" in spoken(one.answer("stop"))
    none, _ = talk_of(tmp_path / "h")
    assert "Stopped before any answer." in none.answer("stop")


def test_a_letter_is_no_word_and_a_drawing_stands_once(tmp_path):
    talk, _ = talk_of(tmp_path / "f", *START, *TWO)
    talk.now = talk._about("One", "shaft_stickout")
    first = talk.prompt()
    mark = f"({letter_of('One', 'shaft_stickout')})"
    drawing = [line for line in first.splitlines() if "|<" in line or "|-" in line]
    assert mark in first and drawing
    talk.answer("nonsense")
    again = talk.prompt()
    assert mark in again and not any(line in again for line in drawing)


def test_a_folder_that_cannot_be_written_to_is_said_at_once(tmp_path, monkeypatch, capsys):
    from compare.cli import main

    monkeypatch.setattr(os, "access", lambda *_: False)
    assert main(["ask", str(tmp_path)]) == 2
    said = capsys.readouterr()
    assert "cannot be written to" in said.err and said.out == "" and not list(tmp_path.iterdir())
