"""What a newcomer's hand slips into, and what the program says to it."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys

import pytest
from conftest import CATALOGS, ROOT, run_here

CATALOGUE = "name,family,ratio_1,ratio_4,length\nKeld five,keld,3.5,1,612\nTarn,tarn,3.2,1,640\n"


@pytest.fixture
def folder(tmp_path):
    """A folder of a project: two candidates, the demo's car."""
    (tmp_path / "catalogue.csv").write_text(CATALOGUE)
    shutil.copy(CATALOGS / "pellow-van.toml", tmp_path / "car.toml")
    return tmp_path


def refused(*words, says=(), cwd=ROOT):
    done = run_here(*words, cwd=cwd)
    assert done.returncode == 2, done.stdout + done.stderr
    for text in says:
        assert text in " ".join(done.stderr.split()), done.stderr
    return done


@pytest.mark.skipif(sys.platform == "win32", reason="signals of another kind")
def test_stopped_while_it_loads_it_ends_quietly():
    """An interrupt at the first import of the program's own, as Ctrl-C in the first moment gives one."""
    program = (
        "import os, runpy, signal, sys\n"
        "class Stop:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name == 'compare.cli.entry': os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.meta_path.insert(0, Stop())\n"
        "runpy.run_module('compare', run_name='__main__')\n"
    )
    assert signal.getsignal(signal.SIGINT)
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True,
                          env=os.environ | {"PYTHONPATH": str(ROOT)}, timeout=60)  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


@pytest.mark.parametrize("words", [
    ("rank", ".", "--workbook", ""), ("rank", ".", "--json", ""), ("check", ".", "--json", " "),
    ("what-if", ".", "--workbook", ""), ("reference", "--write", ""),
])  # fmt: skip
def test_a_file_to_write_needs_a_name(folder, words):
    refused(*words, says=["names no file"], cwd=folder)


@pytest.mark.parametrize("place", [".", ".."])
def test_a_workbook_is_no_folder(folder, place):
    refused("rank", ".", "--workbook", place, says=["is a folder", "report.xlsx"], cwd=folder)


@pytest.mark.parametrize("damage", ["{ half", '{"ranking": [1], "checks": [1], "inputs": [1]}', ""])
def test_a_damaged_last_report_is_said_and_made_anew(folder, damage):
    last = folder / "last-report.json"
    last.write_text(damage)
    done = run_here("rank", str(folder), "--no-workbook", "--draws", "1")
    assert done.returncode in (0, 1), done.stderr
    assert "last-report.json cannot be read as a report" in done.stderr
    assert '"ranking"' in last.read_text() and last.read_text() != damage
    again = run_here("rank", str(folder), "--no-workbook", "--draws", "1")
    assert "cannot be read" not in again.stderr


def test_papers_of_names_in_any_script_are_files_of_their_own(folder):
    names = "Коробка", "ギア", "+++", "***", "Keld five", "keld-five"
    rows = "".join(f"{name},3.5,1,{600 + at}\n" for at, name in enumerate(names))
    (folder / "catalogue.csv").write_text("name,ratio_1,ratio_4,length\n" + rows, encoding="utf-8")
    done = run_here("papers", str(folder), "--seller", "--draws", "1", cwd=ROOT)
    assert done.returncode == 0, done.stderr
    wanted = {"коробка", "ギア", "candidate-3", "candidate-4", "keld-five", "keld-five-2"}
    assert {p.stem for p in folder.glob("*.html")} == {f"{n}-seller" for n in wanted}


@pytest.mark.parametrize("words", [("--seller", "Keld five"), ("Keld five", "--seller")])
def test_papers_in_either_order_go_into_the_folder(folder, words):
    done = run_here("papers", str(folder), *words, "--draws", "1", cwd=folder.parent)
    assert done.returncode == 0, done.stderr
    assert (folder / "keld-five-seller.html").exists()
    assert not list(folder.parent.glob("*.html"))


def test_words_that_begin_with_a_dash_stand_behind_two():
    from compare.cli import parser

    options = parser().parse_args(["measure", "--by", "me", "car", "mass", "1090"])
    assert (options.log, options.of, options.dimension, options.value) == (".", "car", "mass", "1090")
    options = parser().parse_args(["measure", "--by", "me", "--", "log.csv", "car", "mass", "-5"])
    assert (options.log, options.value) == ("log.csv", "-5")


@pytest.mark.parametrize("command", ["detail", "papers"])
def test_a_candidate_that_is_set_aside_is_said_to_be(folder, command):
    assert run_here("status", str(folder), "Tarn", "sold").returncode == 0
    refused(command, str(folder), "Tarn", "--draws", "1", says=["Tarn is set aside", '"Tarn" considering'])


def test_a_damaged_workbook_is_named_as_damaged(tmp_path):
    book = tmp_path / "half.xlsx"
    book.write_bytes(b"PK\x03\x04 half")
    said = refused("rank", str(book)).stderr
    assert "no car is named" not in said
    wanted = "is a workbook that is damaged: it cannot be opened."
    assert wanted in said and wanted in refused("take-in", str(book)).stderr


@pytest.mark.parametrize(("words", "says"), [
    (("Tran", "length", "612"), 'nothing called "Tran". Did you mean Tarn?'),
    (("Tarn", "lenght", "612"), "Did you mean length?"),
    (("Tarn", "weight", "30"), "Did you mean mass?"),
    (("car", "mass", "1090"), "no dimension of the car. Did you mean car.mass?"),
    (("Tarn", "length", "99999"), "outside what is possible"),
    (("Tarn", "family", "x"), "not taken from the log"),
    (("Tarn", "length", "612", "--on", "yesterday"), '"yesterday" is no date. Type the day as 20'),
    (("Tarn", "length", "612", "--on", "2026-02-30"), "is no date"),
    (("Tarn", "length", "612", "--on", "9999-01-01"), "is still to come"),
])  # fmt: skip
def test_nothing_is_noted_that_would_stop_a_later_run(folder, words, says):
    refused("measure", str(folder), *words, says=[says, "Nothing was written"])
    assert not (folder / "measured.csv").exists()


def test_what_is_noted_is_taken_and_a_log_by_itself_is_looked_at_too(folder):
    log = folder / "alone.csv"
    for words in (("Tarn", "length", "641"), ("car", "car.mass", "1090"), ("Keld five", "mark_feel", "7")):
        assert run_here("measure", str(folder), *words).returncode == 0
    assert run_here("rank", str(folder), "--no-workbook", "--draws", "1").returncode in (0, 1)
    assert run_here("measure", str(log), "Tran", "length", "641").returncode == 0  # nobody knows the names
    refused("measure", str(log), "Tran", "lenght", "641", says=["Did you mean length?"])
    refused("measure", str(log), "Tran", "length", "641", "--catalogue", str(folder / "catalogue.csv"),
            says=["Did you mean Tarn?"])  # fmt: skip


def test_a_bad_line_of_a_log_is_named_with_its_own_file(folder):
    log = folder / "bench notes.csv"
    log.write_text("of,dimension,value\nTarn,length,641\nTran,length,641\n")
    car = str(folder / "car.toml")
    refused("rank", str(folder / "catalogue.csv"), "--car", car, "--measured", str(log), "--no-workbook",
            says=["bench notes.csv: 1 problem", "line 3"])  # fmt: skip


def test_a_column_of_weights_is_asked_about(tmp_path):
    (tmp_path / "c.csv").write_text("name,ratio_1,weight\nTarn,3.2,30\n")
    done = run_here("check", str(tmp_path / "c.csv"))
    assert done.returncode == 2 and "Did you mean mass?" in done.stdout


@pytest.mark.parametrize("name", ["car", "CAR", "Keep today's gearbox"])
def test_the_program_s_own_words_are_no_names(folder, name):
    (folder / "catalogue.csv").write_text(f"name,ratio_1\n{name},3.2\n")
    (folder / "parts.csv").write_text(f"part,kind,fits,length\n{name},tail,Tarn,600\n")
    done = refused("rank", str(folder), "--no-workbook", says=["own word", f"{name} gearbox", f"{name} part"])
    assert done.stderr.count("own word") == 2


def test_a_kind_of_part_that_is_not_known_is_noted(tmp_path):
    (tmp_path / "p.csv").write_text("part,kind,fits,length\nLong,tail housng,Tarn,600\nShort,Tail housing,Tarn,500\n")
    done = run_here("check", str(tmp_path / "p.csv"))
    assert done.returncode == 0
    assert done.stdout.count("a kind that is not known") == 1 and "did you mean tail housing?" in done.stdout


@pytest.mark.parametrize("typed", ["700 ±700", "700 ± 100 %", "700 mm ±1 m", "700 +/- 900"])
def test_a_doubt_as_large_as_the_value_is_asked_about(typed):
    from compare.problems import CellError
    from compare.read.cells import parse
    from compare.vocabulary import catalogue_terms

    term = catalogue_terms()["length"]
    with pytest.raises(CellError, match="doubt as large as the value"):
        parse(typed, term)
    assert parse("700 ±300", term).half == 300
    from_nothing = next(t for t in catalogue_terms().values() if t.kind == "length" and t.low == 0)
    assert parse("0 ±3", from_nothing).half == 3


def test_several_currencies_are_asked_about_unless_one_is_named(folder):
    (folder / "catalogue.csv").write_text("name,ratio_1,price\nTarn,3.2,£450\nGarth,3.1,450 GBP\nKeld,3,$400\n")
    car = folder / "car.toml"
    plain = "\n".join(line for line in car.read_text().splitlines() if not line.startswith("currency"))
    car.write_text(plain)
    says = ['"$400" is in $, other money in £.', "line 4", 'currency = "£"']
    refused("rank", str(folder), "--no-workbook", "--draws", "1", says=says)
    checked = run_here("check", str(folder))
    assert checked.returncode == 2 and says[0] in checked.stdout
    car.write_text(plain.replace("[policy]", '[policy]\ncurrency = "£"'))
    assert run_here("rank", str(folder), "--no-workbook", "--draws", "1").returncode in (0, 1)


@pytest.mark.parametrize("words", [("check", str(CATALOGS / "demo.csv")), ("reference",), ("start", "new")])
def test_long_lines_are_folded_on_a_terminal_and_left_alone_elsewhere(words, monkeypatch, capsys, tmp_path):
    from compare.cli import main

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "60")
    assert main(list(words)) == 0
    piped = capsys.readouterr().out
    shutil.rmtree(tmp_path / "new", ignore_errors=True)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    assert main(list(words)) == 0
    shown = capsys.readouterr().out
    assert max(map(len, piped.splitlines())) > 60
    wide = [line for line in shown.splitlines() if len(line) > 60]
    assert all(" " not in line.strip() for line in wide), wide[:3]  # one long word, such as a path
    assert shown.split() == piped.split()


@pytest.mark.parametrize(("name", "typed", "found", "fix"), [
    ("length", "0x10", "is not a length", "such as 612"),
    ("length", "1e9", "is a number in powers of ten", "in full"),
    ("length", "1.2E+09", "was shortened by a spreadsheet program", "as text"),
    ("length", "800..600", "runs backwards", "first, as 600..800."),
    ("length", "24 in..23 in", "runs backwards", "first, as 23 in..24 in."),
    ("length", "600..600", "ends where it begins", "Type 600."),
    ("mount_tilt", "90", "outside what is possible", "Check the number and its unit."),
])  # fmt: skip
def test_what_is_said_is_true_of_what_was_typed(name, typed, found, fix):
    from compare.problems import CellError
    from compare.read.cells import parse
    from compare.vocabulary import catalogue_terms

    with pytest.raises(CellError) as error:
        parse(typed, catalogue_terms()[name])
    assert found in error.value.found and fix in error.value.fix, error.value.fix
    assert "90 '" not in error.value.fix
    for option in error.value.options:
        assert parse(option, catalogue_terms()[name]) is not None


def test_a_question_mark_in_a_profile_wants_quotes():
    from compare.problems import InputError
    from compare.read.car import read_car

    with pytest.raises(InputError, match=r'Put it in quotes, ratio_1 = "\?", or leave the key out'):
        read_car("[gearbox]\nratio_1 = ?  # first gear\n")


def test_only_a_command_that_could_have_written_says_that_it_did_not(folder):
    (folder / "catalogue.csv").write_text("name,ratio_1,length\nTarn,3.2,nonsense\n")
    assert "Nothing was written" not in refused("detail", str(folder), "Tarn").stderr
    assert "Nothing was written" not in refused("what-if", str(folder), "--axle", "4").stderr
    assert "Nothing was written" in refused("rank", str(folder)).stderr
    assert "Nothing was written" in refused("what-if", str(folder), "--axle", "4", "--json", "x.json").stderr


def test_boxes_that_go_nowhere_are_said(folder):
    from compare.answer.returned import Files, write
    from compare.answer.take_in import Changes, Measured

    box = Measured("2026-05-08", "Ann", "Tarn", "length", "641", "tape", "G7")
    changes = Changes("friend.xlsx", "", measured=(box,))
    catalogue = str(folder / "catalogue.csv")
    (said,) = write("friend.xlsx", changes, Files(catalogue=catalogue))
    assert "Not written, what was measured: Tarn length = 641. Add --measured LOG" in said
    (said,) = write("friend.xlsx", changes, Files(catalogue, measured=str(folder / "m.csv")))
    assert said.startswith("Noted in ")
