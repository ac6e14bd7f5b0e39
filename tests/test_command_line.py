"""The command line: what it prints where, exit codes, widths, and reports that compare content with what was kept."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import run_here as run

from compare.cli import COMMANDS, main, parser

ROOT = Path(__file__).resolve().parent.parent
GOLD = Path(__file__).parent / "gold"
DEMO = ["catalogs/demo.csv", "--car", "catalogs/pellow-van.toml", "--parts", "catalogs/demo-parts.csv"]


pytestmark = pytest.mark.usefixtures("judged_once")


def process(*words, encoding="utf-8"):
    """The same as a process of its own, as a user starts it."""
    env = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "NO_COLOR")} | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": encoding}
    return subprocess.run([sys.executable, "-W", "error", "-m", "compare", *words], cwd=ROOT, env=env, capture_output=True, encoding=encoding, check=False)


def differing(name, text):
    """What to do where a kept page is another now; the actual text is laid beside it."""
    kept, actual = GOLD / name, GOLD / f"{name}.actual"
    if kept.exists() and kept.read_text(encoding="utf-8") == text:
        actual.unlink(missing_ok=True)
        return []
    actual.write_text(text, encoding="utf-8")
    return [f"run diff tests/gold/{name} tests/gold/{name}.actual and look at each line; if all are right, keep them: mv tests/gold/{name}.actual tests/gold/{name}"]


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_report_at_widths(width):
    done = run("rank", *DEMO, "--no-workbook", width=width)
    assert done.returncode == 0, done.stderr
    assert max(len(line) for line in done.stdout.splitlines()) <= width
    assert "\x1b" not in done.stdout


def test_the_first_page_is_a_page():
    """At 80 columns, up to 20 candidates: 60 lines at most, the decision first."""
    lines = run("rank", *DEMO, "--no-workbook", width=80).stdout.splitlines()
    assert len(lines) <= 60
    assert lines[1].startswith("Buy ") and "You will cut:" in " ".join(lines[:8])


def test_the_report_piped():
    """By a process of its own, and by this one, which the other tests use instead."""
    done, here = (how("rank", *DEMO, "--no-workbook") for how in (process, run))
    assert (done.returncode, done.stdout, done.stderr) == (here.returncode, here.stdout, here.stderr)


@pytest.mark.parametrize("width", [60, 80, 120])
def test_detail_keeps_within_the_width(width):
    done = run("detail", "catalogs/demo.csv", "hawes 5", *DEMO[1:], width=width)
    assert done.returncode == 0, done.stderr
    assert max(len(line) for line in done.stdout.splitlines()) <= width


def test_detail_in_inches_speaks_of_inches():
    done = run("detail", "catalogs/demo.csv", "Garth 5", *DEMO[1:], "--units", "inch", width=80)
    assert re.search(r"engine 27/64 in forward", done.stdout) and "mph" in done.stdout
    plain = re.sub(r"(side|plan|Side|Plan|In mm|x in mm)[^\n]*", "", done.stdout)
    assert not re.search(r"\d mm\b", plain), re.findall(r".*\d mm\b.*", plain)


def test_json_on_standard_output_and_nothing_else():
    done = run("rank", *DEMO, "--no-workbook", "--json", "-")
    content = json.loads(done.stdout)
    assert set(content) >= {"car", "ranking", "checks", "plan", "work", "seats", "gears", "baseline", "cautions"}
    rows = {
        "ranking": {
            "rank", "candidate", "build", "outcome", "score", "cruise_rpm", "undo", "cost", "hours", "why", "chance_fitted",
            "chance_with_these_figures", "chance_bolts_in", "undo_shares", "hours_low", "hours_high", "cost_low",
            "cost_high", "value", "value_low", "value_high", "chance_first",
        },
        "checks": {
            "candidate", "build", "check", "kind", "verdict_as_found", "verdict", "value_as_found", "value", "unit",
            "limit", "margin", "chance_with_these_figures", "chance_fitted", "why",
        },
        "plan": {
            "candidate", "build", "decision", "on", "blind", "figure", "unit", "nothing_done", "undo", "hours", "cost",
            "tool", "tolerance_low", "tolerance_high",
        },
        "work": {"candidate", "build", "operation", "on", "undo", "extent_mm", "hours", "cost", "tool", "why"},
        "gears": {"candidate", "gear", "ratio", "speed_at_redline_kmh", "rpm_at_cruise"},
        "seats": {"candidate", "build", "adapter_thickness_mm", "engine_shift_mm", "undo", "cut_mm", "thickness_window_mm", "shift_window_mm", "why",
                  "planned_adapter_thickness_mm", "planned_engine_shift_mm"},
    }  # fmt: skip
    for table, keys in rows.items():
        assert content[table] and all(keys <= set(row) for row in content[table]), table
    assert "NaN" not in done.stdout and "Infinity" not in done.stdout
    assert any(row["candidate"] == "keep today's gearbox" for row in content["gears"])
    hub = next(c for c in content["checks"] if c["candidate"] == "Stainmoor 5" and c["check"] == "hub_seat")
    assert hub["verdict"] == "clash" and hub["value"] < 0
    assert all(abs(sum(r["undo_shares"]) - 1) < 1e-3 for r in content["ranking"] if r["undo_shares"])
    assert content["baseline"]["passes"] and {"check", "verdict", "value", "unit", "fed_by"} <= set(content["baseline"]["checks"][0])
    pilot = next(c for c in content["checks"] if c["candidate"] == "Brindle H5" and c["check"] == "pilot_size")
    assert pilot["value"] == 3.0


def test_exit_codes(tmp_path):
    one = tmp_path / "weak.csv"
    one.write_text("name,ratio_1,ratio_4,torque_rating\nWeak,3.5,1,60\n", encoding="utf-8")
    assert process("rank", str(one), "--car", "catalogs/pellow-van.toml", "--no-workbook", "--draws", "8").returncode == 1
    assert run("rank", str(tmp_path / "none.csv"), "--car", "catalogs/pellow-van.toml").returncode == 2
    for words in (["rnak"], ["rank"], ["rank", *DEMO, "--draws", "0"], ["rank", *DEMO, "--unit", "inch"], ["rank", *DEMO, "--only", "Tarn 5Z"], ["detail", DEMO[0], "Nobody", *DEMO[1:]], []):
        done = run(*words)
        assert done.returncode == 2, words
        assert "Traceback" not in done.stderr + done.stdout
    for words in (["rnak"], ["rank", *DEMO, "--only", "Tarn 5Z"]):
        done, here = process(*words), run(*words)
        assert (done.returncode, done.stdout, done.stderr) == (here.returncode, here.stdout, here.stderr)


def test_did_you_mean_for_commands_options_and_names():
    assert "Did you mean rank?" in run("rnak").stderr
    assert "Did you mean --units?" in run("rank", *DEMO, "--unit", "inch").stderr
    assert "Did you mean Tarn 5A?" in run("rank", *DEMO, "--only", "Tarn 5Z").stderr


def test_the_workbook_goes_where_it_is_told(tmp_path):
    catalogs = tmp_path / "catalogs"
    catalogs.mkdir()
    for name in ("demo.csv", "pellow-van.toml", "demo-parts.csv"):
        (catalogs / name).write_bytes((ROOT / "catalogs" / name).read_bytes())
    done = run("rank", *DEMO, "--draws", "5", "--only", "Keld 5", cwd=tmp_path)
    assert (tmp_path / "reports" / "demo.xlsx").stat().st_size > 10_000 and "reports/demo.xlsx" in done.stderr
    assert run("rank", *DEMO, "--draws", "5", "--only", "Keld 5", "--workbook", "x/y.xlsx", "--json", "x/y.json", cwd=tmp_path).returncode == 0
    assert sorted(p.name for p in (tmp_path / "x").iterdir()) == ["y.json", "y.xlsx"]
    wrong = run("rank", *DEMO, "--workbook", "x/y.xls", cwd=tmp_path)
    assert wrong.returncode == 2 and "y.xlsx" in wrong.stderr
    assert run("rank", *DEMO, "--workbook", "catalogs", cwd=tmp_path).returncode == 2


def test_ascii_only_output_falls_back_to_plain_characters():
    done = run("rank", *DEMO, "--no-workbook", width=80, encoding="ascii")
    assert done.returncode == 0 and "Traceback" not in done.stderr
    assert "x Semer 5 light is out" in done.stdout and done.stdout.isascii()


def test_warnings_go_to_standard_error():
    done = run("rank", *DEMO, "--no-workbook")
    assert "cross-ply" in done.stderr and "Note:" not in done.stdout


def test_top_of_a_workbook_and_the_place_of_today_s_gearbox(tmp_path):
    for top in ("1", "2"):
        done = run("rank", *DEMO, "--top", top, "--draws", "32", "--workbook", str(tmp_path / f"{top}.xlsx"))
        assert done.returncode == 0, done.stderr
        said = next(line for line in done.stdout.splitlines() if "keep today's gearbox" in line and "as it is" in line)
        assert int(said.split()[0]) > 5


def test_top_and_only():
    assert "more candidates; leave out --top" in run("rank", *DEMO, "--no-workbook", "--top", "3", width=80).stdout
    done = run("rank", *DEMO, "--no-workbook", "--only", "garth 5", "Keld 5", width=80)
    assert "2 candidates" in done.stdout and "Tarn" not in done.stdout


def test_compare_with_says_what_changed_and_why(tmp_path, demo_files):
    old = tmp_path / "old.json"
    assert run("rank", *DEMO, "--no-workbook", "--json", str(old)).returncode == 0
    assert "Nothing changed." in run("rank", *DEMO, "--no-workbook", "--compare-with", str(old)).stdout
    text = demo_files[0].read_text(encoding="utf-8")
    row = next(line for line in text.splitlines() if line.startswith("Bainbridge"))
    new = tmp_path / "demo.csv"
    new.write_text(text.replace(row, row.replace(",?,", ",84,")), encoding="utf-8")
    done = run("rank", str(new), *DEMO[1:], "--no-workbook", "--compare-with", str(old), width=120)
    said = " ".join(done.stdout.split())
    assert "Bainbridge 5: measure first → goes in with work" in said
    assert "hub seat unmeasured → clear" in said
    assert len(done.stdout.splitlines()) <= 60
    for wrong, words in ((tmp_path / "no.json", "cannot be read"), (demo_files[0], "is not a report")):
        done = run("rank", *DEMO, "--no-workbook", "--compare-with", str(wrong))
        assert done.returncode == 2 and words in done.stderr


def test_what_if_tries_every_combination():
    done = run("what-if", *DEMO, "--axle", "4.875", "4.3", "3.9", "--cruise", "95", "60 mph", "--tyre", "165/80R15", "--top", "2", width=100)
    assert done.returncode == 0, done.stderr
    assert len(re.findall(r"^> ", done.stdout, re.M)) == 6 + 1
    # A head for each, the best two below it, and today's gearbox with that axle, tyre and speed.
    heads = [line for line in done.stdout.splitlines() if line.startswith("Axle ")]
    assert len(heads) == 6 and all("tyre 165/80R15, " in line for line in heads)
    assert len(re.findall(r" \d+\.\d$", done.stdout, re.M)) == 18
    assert sum("keep today's gearbox" in line for line in done.stdout.splitlines()) == 6
    wrong = run("what-if", *DEMO, "--axle", "tall", "--tyre", "E78-14")
    assert wrong.returncode == 2 and "--axle" in wrong.stderr and "letter code" in wrong.stderr


def test_what_if_as_a_workbook_and_for_scripts(tmp_path):
    import openpyxl

    book = tmp_path / "w.xlsx"
    done = run("what-if", *DEMO, "--axle", "4.875", "4.3", "--top", "3", "--workbook", str(book), "--json", "-")
    rows = json.loads(done.stdout)["what_if"]
    assert len(rows) == 8 and sum(r["best"] for r in rows) == 2
    sheet = openpyxl.load_workbook(book)["What-if"]
    heads = [c.value for c in sheet[3]]
    assert sum(row[heads.index("best")] == "yes" for row in sheet.iter_rows(min_row=4, values_only=True)) == 2
    assert run("what-if", *DEMO, "--workbook", str(tmp_path / "w.csv")).returncode == 2


def test_what_if_agrees_with_rank_for_the_same_change(tmp_path, demo_files):
    car = tmp_path / "car.toml"
    car.write_text(demo_files[1].read_text(encoding="utf-8").replace("ratio = 4.875", "ratio = 4.3"), encoding="utf-8")
    content = json.loads(run("rank", DEMO[0], "--car", str(car), *DEMO[3:], "--no-workbook", "--json", "-", "--draws", "1").stdout)
    tried = run("what-if", *DEMO, "--axle", "4.3", "--top", "4", width=140).stdout
    for row in content["ranking"][:4]:
        line = next(x for x in tried.splitlines() if row["candidate"] in x)
        outcome = "as it is" if row["candidate"].startswith("keep") else row["outcome"]
        assert outcome in line and f"{row['value']:.1f}" in line and f"{row['cruise_rpm']:.0f}" in line


def test_help_of_every_command_and_its_place_in_the_readme():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    actions = next(a for a in parser()._actions if hasattr(a, "choices") and a.choices)
    assert set(actions.choices) == set(COMMANDS)
    for command in COMMANDS:
        done = run(command, "--help")
        assert done.returncode == 0 and command in done.stdout
        assert f"| `{command}" in text, command


def test_help_imports_nothing_heavy():
    code = "import sys; from compare.cli import main\ntry:\n main(['--help'])\nexcept SystemExit: pass\nprint([m for m in ('numpy','pandas','pint','openpyxl','rich') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip().endswith("[]")


def test_a_report_that_fails_leaves_no_half_file(tmp_path, monkeypatch):
    from compare.report import workbook

    def broken(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(workbook, "write_workbook", broken)
    monkeypatch.chdir(ROOT)
    assert main(["rank", *DEMO, "--draws", "5", "--only", "Keld 5", "--workbook", str(tmp_path / "r.xlsx")]) == 130
    assert not list(tmp_path.iterdir())


def test_no_color_and_dumb_terminals_are_respected(monkeypatch, capsys):
    from compare.cli import streams

    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("COLUMNS", "90")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert streams.screen() == (90, True)
    monkeypatch.setenv("NO_COLOR", "1")
    assert streams.screen() == (90, False)
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("TERM", "dumb")
    assert streams.screen() == (90, False)


def test_kept_pages_are_current(monkeypatch, capsys):
    """All of them in one test, so that a change which alters several is one failure that says what to do.

    As `python tests/make_pages.py --check` says it, here without a process for each page; and the first page at each width.
    """
    import make_pages

    monkeypatch.setattr(make_pages, "run", lambda *words, width=80: run(*words, width=width).stdout)
    monkeypatch.setattr(sys, "argv", ["make_pages.py", "--check"])
    make_pages.main()
    stale = [f"{line}, then look at git diff; if the page says what is right, keep it" for line in capsys.readouterr().out.splitlines()]
    for width, name in ((60, "rank-60.txt"), (80, "rank-80.txt"), (120, "rank-120.txt"), (None, "rank-piped.txt")):
        stale += differing(name, run("rank", *DEMO, "--no-workbook", width=width).stdout)
    assert not stale, "\n".join(stale)


def test_the_library_gives_frames(demo_report):
    frame = demo_report.frame("ranking")
    assert list(frame["rank"]) == list(range(1, len(frame) + 1))
    with pytest.raises(KeyError):
        demo_report.frame("nothing")
    import compare

    assert compare.load_car and compare.load_catalogue and compare.load_parts and callable(compare.compare)
    with pytest.raises(AttributeError):
        _ = compare.no_such_thing


def test_every_picture_of_the_readme_is_made_by_the_generator():
    import make_pages

    shown = set(re.findall(r"\(reports/([\w-]+)\.png\)", (ROOT / "README.md").read_text(encoding="utf-8")))
    assert shown == {*make_pages.SHEETS.values(), *make_pages.HEADINGS.values()}
    for name in shown:
        data = (ROOT / "reports" / f"{name}.png").read_bytes()
        assert data.startswith(b"\x89PNG") and len(data) > 10_000, name
    assert {p.stem for p in (ROOT / "reports").glob("*.png")} == shown


def test_what_was_measured_is_noted_and_counted(tmp_path):
    log = tmp_path / "measured.csv"
    assert run("measure", str(log), "Keld 5", "length", "27 1/2 in", "--by", "me", "--with", "tape").returncode == 0
    wrong = run("measure", str(log), "Keld 5", "lenght", "600")
    assert wrong.returncode == 2 and "Did you mean length?" in wrong.stderr
    assert log.read_text(encoding="utf-8").count("\n") == 2
    content = {}
    for words in ((), ("--measured", str(log))):
        done = run("rank", *DEMO, *words, "--no-workbook", "--json", "-", "--draws", "1", "--only", "Keld 5")
        content[words] = json.loads(done.stdout)
    now = content["--measured", str(log)]
    row = next(r for r in now["windows"] if r["dimension"] == "length")
    assert row["value"] == pytest.approx(27.5 * 25.4)
    assert now["ranking"][0]["cost"] != content[()]["ranking"][0]["cost"]  # as long as today's: no new propeller shaft
    run("measure", str(log), "No such", "length", "600")
    done = run("rank", *DEMO, "--measured", str(log), "--no-workbook")
    assert done.returncode == 2 and "nothing called" in done.stderr and "Traceback" not in done.stderr


def test_a_friend_s_workbook_is_taken_in(tmp_path, demo_files):
    import shutil

    import openpyxl

    for file in demo_files:
        shutil.copy(file, tmp_path)
    catalogue, car, parts = (tmp_path / f.name for f in demo_files)
    book = tmp_path / "friend.xlsx"
    words = (str(catalogue), "--car", str(car), "--parts", str(parts))
    assert run("rank", *words, "--draws", "1", "--workbook", str(book)).returncode == 0
    assert run("take-in", str(book)).stdout == "· Nothing was changed.\n"
    found = openpyxl.load_workbook(book)
    heads = [c.value for c in found["Catalogue"][3]]
    found["Catalogue"].cell(4, heads.index("price") + 1).value = 700
    axle = next(row for row in found["Car"].iter_rows() if [c.value for c in row[:2]] == ["axle", "ratio"])
    axle[2].value = 4.3
    found.save(book)
    done = run("take-in", str(book))
    assert "Tarn 5A, price: was 780, is 700" in done.stdout and "was 4.875, is 4.3" in done.stdout
    before = catalogue.read_text(encoding="utf-8")
    done = run("take-in", str(book), "--catalogue", str(catalogue), "--car", str(car))
    assert done.returncode == 0, done.stderr
    assert catalogue.read_text(encoding="utf-8") == before.replace("Tarn 5A,Tarn,780", "Tarn 5A,Tarn,700")
    assert "ratio = 4.3" in car.read_text(encoding="utf-8")
    assert (tmp_path / "demo.csv.1.bak").read_text(encoding="utf-8") == before
    again = run("take-in", str(book), "--catalogue", str(catalogue))
    assert again.returncode == 2 and "does not hold what was sent" in again.stderr
    assert run("take-in", str(catalogue)).returncode == 2
