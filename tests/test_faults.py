"""What lies on the disk after a fault:

the old files whole, the new ones whole or not there, nothing else.

Killed, interrupted or out of room at every moment at which the program touches the disk; full and
closed streams; several runs at once; inputs as outputs; places where nothing may be written; names
that are too long; a C locale.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

from compare import forms, saving
from compare.cli import main
from compare.problems import InputError
from compare.read.catalogue import load_catalogue

ROOT = Path(__file__).resolve().parent.parent
CHILD = Path(__file__).parent / "fault_child.py"
TEXT = "# mine\nname,ratio_4,notes\nA,1,x\n"
MOMENTS = 30
HOLD = (
    "import sys, time; from compare import saving\n"
    "with saving.locked(sys.argv[1]): print('held', flush=True); time.sleep(60)"
)


def program(*words, cwd=None, **more):
    env = (
        {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "NO_COLOR")}
        | {"PYTHONPATH": str(ROOT)}
        | more.pop("env", {})
    )
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "compare", *words],
        cwd=cwd or ROOT,
        env=env,
        capture_output=True,
        text=True,
        check=False,
        **more,
    )


@pytest.fixture
def shed(tmp_path):
    """A folder with a catalogue and a car, to be copied for each moment."""
    folder = tmp_path / "shed"
    folder.mkdir()
    (folder / "c.csv").write_text(TEXT)
    (folder / "car.toml").write_text("[car]\nmass = 1250\n")
    return folder


def at_every_moment(shed, place, fault, *words, last=MOMENTS + 1):
    done = subprocess.run(
        [sys.executable, str(CHILD), str(shed), str(place), fault, "1", str(last), *words],
        cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    return [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
@pytest.mark.parametrize("fault", ["kill", "interrupt", "full disk"])
def test_add_at_every_moment_of_a_fault(shed, tmp_path, fault):
    found = at_every_moment(
        shed, tmp_path / "run", fault, "add", "@/c.csv", "B", "--set", "ratio_4=0.8"
    )
    assert len(found) == MOMENTS
    hit = [f for f in found if f["code"] != 0]
    assert len(hit) >= 8 and found[-1]["code"] == 0, found
    codes = {"kill": {-9}, "interrupt": {130}, "full disk": {2}}[fault]
    for one in found:
        folder = tmp_path / "run" / str(one["moment"])
        content = (folder / "c.csv").read_text()
        assert content in (TEXT, TEXT + "B,0.8,\n"), one
        assert one["code"] in codes | {0}, one
        others = {p.name for p in folder.iterdir()} - {"c.csv", "car.toml"}
        backups = {n for n in others if n.endswith(".bak")}
        assert backups <= {"c.csv.1.bak"} and all((folder / b).read_text() == TEXT for b in backups)
        if fault != "kill":
            assert others == backups, (one, others)
        # The next run takes away what a killed one left, and does its own work.
        forms.add(str(folder / "c.csv"), "C", ["ratio_4=1"])
        left = {p.name for p in folder.iterdir()} - {"c.csv", "car.toml"}
        assert all(n.endswith(".bak") for n in left), (one, left)
        assert load_catalogue(folder / "c.csv").names in (["A", "C"], ["A", "B", "C"])


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
@pytest.mark.parametrize("fault", ["kill", "full disk"])
def test_start_and_check_at_every_moment_of_a_fault(shed, tmp_path, fault):
    found = at_every_moment(shed, tmp_path / "run", fault, "start", "@/new")
    assert {f["code"] for f in found} >= {{"kill": -9, "full disk": 2}[fault]}
    for one in found:
        folder = tmp_path / "run" / str(one["moment"])
        assert (folder / "c.csv").read_text() == TEXT
        made = (
            sorted(
                p.name for p in (folder / "new").iterdir() if not p.name.startswith(saving.PREFIX)
            )
            if (folder / "new").exists()
            else []
        )
        if fault == "full disk":
            assert not (folder / "new").exists() or (
                len(made) == len(forms.FILES) and one["code"] == 0
            ), (one, made)
    outputs = at_every_moment(
        shed, tmp_path / "again", fault, "check", "@/c.csv", "--json", "@/out/r.json"
    )
    for one in outputs:
        folder = tmp_path / "again" / str(one["moment"])
        assert (folder / "c.csv").read_text() == TEXT
        if (folder / "out" / "r.json").exists():
            json.loads((folder / "out" / "r.json").read_text())


def test_rank_writes_all_its_files_or_none(tmp_path, monkeypatch, demo_files):
    """The second of two outputs cannot be put in place: the first is what it was."""
    book, document = tmp_path / "r.xlsx", tmp_path / "r.json"
    document.write_text("old")
    real = os.replace

    def replace(source, target):
        if (
            str(target).endswith("r.json")
            and saving.PREFIX in str(source)
            and Path(source).suffix == ".json"
        ):
            raise OSError(28, "No space left on device")
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)
    words = [
        "rank",
        str(demo_files[0]),
        "--car",
        str(demo_files[1]),
        "--draws",
        "2",
        "--only",
        "Keld 5",
        "--workbook",
        str(book),
        "--json",
        str(document),
    ]
    assert main(words) == 2
    assert document.read_text() == "old" and [p.name for p in tmp_path.iterdir()] == ["r.json"]


# ---- at once -------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [2, 6])
def test_runs_that_add_at_once_lose_nothing(shed, count):
    path = shed / "c.csv"
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    code = (
        "import sys; from compare.cli import main\n"
        "for n in range(5):\n"
        "    main(['add', sys.argv[1], f'{sys.argv[2]} {n}', '--set', 'ratio_4=1', f'price={n}'])"
    )
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(path), f"P{k}"],
            env=env,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for k in range(count)
    ]
    for run in runs:
        _, said = run.communicate()
        assert run.returncode == 0 and not said, said
    names = load_catalogue(path).names
    assert sorted(names) == sorted(["A", *(f"P{k} {n}" for k in range(count) for n in range(5))])
    assert sorted(p.name for p in shed.iterdir()) == sorted(
        ["c.csv", "car.toml", *(f"c.csv.{n}.bak" for n in range(1, 5 * count + 1))]
    )


def test_a_folder_that_does_not_come_free_is_a_sentence(shed, monkeypatch):
    monkeypatch.setattr(saving, "PATIENCE", 0.1)
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(shed / "c.csv")],
        env=os.environ | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert holder.stdout.readline().strip() == "held"
    with pytest.raises(InputError, match="another run is writing"):
        forms.add(str(shed / "c.csv"), "B", ["ratio_4=1"])
    holder.kill()
    holder.wait()
    holder.stdout.close()
    forms.add(str(shed / "c.csv"), "B", ["ratio_4=1"])  # a killed run lets go


# ---- streams -------------------------------------------------------------------------------------


def shell(command, **env):
    environment = (
        {k: v for k, v in os.environ.items() if k != "COLUMNS"} | {"PYTHONPATH": str(ROOT)} | env
    )
    return subprocess.run(
        ["sh", "-c", command],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


CHECK = f"{sys.executable} -m compare check catalogs/demo.csv"


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs /dev/full")
def test_full_streams_are_a_sentence():
    done = shell(f"{CHECK} >/dev/full")
    assert (
        done.returncode == 2
        and "Standard output cannot be written: No space left on device" in done.stderr
    )
    assert "Traceback" not in done.stderr and "Exception ignored" not in done.stderr
    for words in ("--help", "--version", "check --help"):
        done = shell(f"{sys.executable} -m compare {words} >/dev/full")
        assert (
            done.returncode == 2
            and "Traceback" not in done.stderr
            and "Exception ignored" not in done.stderr
        ), (words, done)
    assert shell(f"{sys.executable} -m compare check nothing.csv 2>/dev/full").returncode == 2
    assert shell(f"{sys.executable} -m compare rnak >/dev/full 2>/dev/full").returncode == 2


def test_closed_streams_do_no_harm(tmp_path):
    for closed in (">&-", "2>&-", ">&- 2>&-", "<&-", "<&- >&- 2>&-"):
        done = shell(f"{CHECK} {closed}")
        assert done.returncode == 0 and "Traceback" not in done.stderr, (closed, done.stderr)
    target = tmp_path / "r.json"
    assert (
        shell(f"{CHECK} --json {target} >&-").returncode == 0
        and json.loads(target.read_text())["problems"] == []
    )
    done = shell(f"{CHECK} | head -1")
    assert done.returncode == 0 and "Traceback" not in done.stderr and "Broken" not in done.stderr
    assert shell(f"{sys.executable} -m compare rnak >&- 2>&-").returncode == 2


def test_a_c_locale_and_ascii_output(tmp_path):
    path = tmp_path / "löwen ½.csv"
    path.write_text("name,ratio_4,length\nLöwen,1,24 1/8 in\n", encoding="utf-8")
    for env in (
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        {"PYTHONIOENCODING": "ascii"},
        {"LC_ALL": "C"},
    ):
        done = program("check", str(path), env=env)
        assert (
            done.returncode == 0 and "Traceback" not in done.stderr and "612.775 mm" in done.stdout
        ), (env, done)
    done = program("check", str(path), "--json", "-", env={"PYTHONIOENCODING": "ascii"})
    assert json.loads(done.stdout)["readings"][1]["owner"] == "Löwen" and done.stdout.isascii()


# ---- places --------------------------------------------------------------------------------------


def test_an_output_is_never_an_input_nor_another_output(tmp_path, demo_files, capsys):
    files = []
    for source in demo_files:
        files.append(tmp_path / source.name)
        files[-1].write_bytes(source.read_bytes())
    catalogue, car, parts = map(str, files)
    book = tmp_path / "book.xlsx"
    made = openpyxl.Workbook()
    made.active.append(["name", "ratio_4"])
    made.active.append(["A", 1])
    made.save(book)
    (tmp_path / "link.json").symlink_to(car)
    os.link(parts, tmp_path / "hard.json")
    before = {p: p.read_bytes() for p in tmp_path.iterdir()}
    for words, said in (
        (
            [
                "rank",
                catalogue,
                "--car",
                car,
                "--parts",
                parts,
                "--no-workbook",
                "--json",
                catalogue,
            ],
            "is an input of this run",
        ),
        (
            [
                "rank",
                catalogue,
                "--car",
                car,
                "--no-workbook",
                "--json",
                str(tmp_path / "link.json"),
            ],
            "is an input of this run",
        ),
        (
            [
                "rank",
                catalogue,
                "--car",
                car,
                "--parts",
                parts,
                "--no-workbook",
                "--json",
                str(tmp_path / "hard.json"),
            ],
            "is an input of this run",
        ),
        (["rank", str(book), "--car", car, "--workbook", str(book)], "is an input of this run"),
        (
            [
                "rank",
                catalogue,
                "--car",
                car,
                "--workbook",
                str(tmp_path / "x.xlsx"),
                "--json",
                f"{tmp_path}/./x.xlsx",
            ],
            "is named for two outputs",
        ),
        (
            ["what-if", catalogue, "--car", car, "--axle", "4", "--json", car],
            "is an input of this run",
        ),
        (
            ["rank", catalogue, "--car", car, "--no-workbook", "--json", "/dev/null"],
            "is not a plain file",
        ),
        (
            ["rank", catalogue, "--car", car, "--no-workbook", "--json", str(tmp_path)],
            "this is a folder",
        ),
        (
            ["rank", catalogue, "--car", car, "--no-workbook", "--json", f"{car}/r.json"],
            "is a file, not a folder",
        ),
        (
            [
                "rank",
                catalogue,
                "--car",
                car,
                "--no-workbook",
                "--json",
                str(tmp_path / ("n" * 300)),
            ],
            "name too long",
        ),
        (["rank", "n" * 300, "--car", car, "--no-workbook"], "name too long"),
        (["rank", catalogue, "--car", str(tmp_path), "--no-workbook"], "this is a folder"),
        (["rank", catalogue, "--car", f"{catalogue}/car.toml", "--no-workbook"], "not a folder"),
        (["rank", "/dev/null", "--car", car, "--no-workbook"], "not a plain file"),
        (["check", catalogue, "--json", catalogue], "is an input of this run"),
    ):
        assert main(words) == 2, words
        told = capsys.readouterr()
        assert said.casefold() in (told.err + told.out).casefold(), (words, told)
    assert {p: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_read_only_files_and_folders_are_left_alone(shed, tmp_path, capsys):
    path = shed / "c.csv"
    path.chmod(0o444)
    assert main(["add", str(path), "B", "--set", "ratio_4=1"]) == 2
    assert "is read-only" in capsys.readouterr().err
    path.chmod(0o644)
    if os.geteuid() != 0:
        shed.chmod(0o555)
        assert main(["add", str(path), "B", "--set", "ratio_4=1"]) == 2
        shed.chmod(0o755)
    assert main(["check", str(path), "--json", "/proc/nothing/here.json"]) == 2
    assert path.read_text() == TEXT and sorted(p.name for p in shed.iterdir()) == [
        "c.csv",
        "car.toml",
    ]


def test_no_room_at_all_for_a_file(shed):
    """A limit on the size of files stands for a full disk: it works anywhere."""
    code = (
        "import resource, signal, sys; signal.signal(signal.SIGXFSZ, signal.SIG_IGN); "
        "resource.setrlimit(resource.RLIMIT_FSIZE, (8, 8)); "
        "from compare.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    assert resource.RLIMIT_FSIZE is not None
    for words in (
        ["add", str(shed / "c.csv"), "B", "--set", "ratio_4=1"],
        ["start", str(shed / "new")],
        ["check", str(shed / "c.csv"), "--json", str(shed / "r.json")],
    ):
        done = subprocess.run(
            [sys.executable, "-B", "-c", code, *words],
            cwd=ROOT,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert (
            done.returncode == 2
            and "cannot be written: File too large" in done.stderr
            and "Traceback" not in done.stderr
        ), done.stderr
    assert (shed / "c.csv").read_text() == TEXT and sorted(p.name for p in shed.iterdir()) == [
        "c.csv",
        "car.toml",
    ]


def test_a_link_is_followed_and_stays_a_link(shed, tmp_path):
    link = tmp_path / "link.csv"
    link.symlink_to(shed / "c.csv")
    forms.add(str(link), "B", ["ratio_4=1"])
    assert link.is_symlink() and load_catalogue(shed / "c.csv").names == ["A", "B"]
    assert (shed / "c.csv.1.bak").read_text() == TEXT and not list(tmp_path.glob("*.bak"))


def test_a_long_name_still_gets_its_backup(tmp_path):
    path = tmp_path / ("n" * 251 + ".csv")
    path.write_text(TEXT)
    forms.add(str(path), "B", ["ratio_4=1"])
    assert sorted(p.read_text() for p in tmp_path.iterdir()) == sorted([TEXT, TEXT + "B,1,\n"])


def test_a_workbook_with_a_friend_s_remarks_is_kept_before_it_is_replaced(
    tmp_path, demo_files, capsys
):
    target = tmp_path / "r.xlsx"
    words = [
        "rank",
        str(demo_files[0]),
        "--car",
        str(demo_files[1]),
        "--draws",
        "2",
        "--only",
        "Keld 5",
        "--workbook",
        str(target),
    ]
    for _ in range(2):
        assert main(words) == 0
        assert [p.name for p in tmp_path.iterdir()] == [
            "r.xlsx"
        ]  # as this program wrote it: nothing to keep
    book = openpyxl.load_workbook(target)
    book.worksheets[0]["H40"] = "my remark"
    book.save(target)
    remarked = target.read_bytes()
    capsys.readouterr()
    assert main(words) == 0
    assert (
        tmp_path / "r.xlsx.1.bak"
    ).read_bytes() == remarked and "r.xlsx.1.bak" in capsys.readouterr().err


# ---- faults of the program -----------------------------------------------------------------------


def test_a_fault_of_the_program_has_its_own_exit_code_and_no_trace(monkeypatch, capsys):
    from compare.answer import inspection

    def broken(*_, **__):
        raise KeyError("rubbish")

    monkeypatch.setattr(inspection, "inspection", broken)
    assert main(["check", "catalogs/demo.csv"]) == 3
    said = capsys.readouterr().err
    assert (
        "A fault of the program, not of your files: KeyError" in said
        and "report it" in said
        and "Traceback" not in said
    )
    assert main(["--debug", "check", "catalogs/demo.csv"]) == 3
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (MemoryError(), 2, "too much for the memory"),
        (OSError(28, "No space left on device"), 2, "No space left"),
        (RecursionError("deep"), 3, "A fault of the program"),
        (KeyboardInterrupt(), 130, "Stopped"),
    ],
)
def test_what_the_system_refuses_is_a_sentence(monkeypatch, capsys, error, code, words):
    from compare.answer import inspection

    def broken(*_, **__):
        raise error

    monkeypatch.setattr(inspection, "inspection", broken)
    assert main(["check", "catalogs/demo.csv"]) == code
    assert words in capsys.readouterr().err


def test_a_deep_json_report_is_a_sentence(tmp_path, demo_files, capsys):
    deep = tmp_path / "deep.json"
    deep.write_text("[" * 100_000 + "]" * 100_000)
    assert (
        main(
            [
                "rank",
                str(demo_files[0]),
                "--car",
                str(demo_files[1]),
                "--no-workbook",
                "--compare-with",
                str(deep),
            ]
        )
        == 2
    )
    assert "is not a report of this program" in capsys.readouterr().err


def test_a_request_to_end_is_an_orderly_stop(shed):
    code = (
        "import os, signal, sys; import compare.cli as cli; from compare.cli.streams import prepare_process; prepare_process()\n"
        "from compare.answer import inspection\n"
        "inspection.inspection = lambda *a, **k: os.kill(os.getpid(), signal.SIGTERM)\n"
        "sys.exit(cli.main(['check', 'x.csv']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 130 and "Stopped" in done.stderr
