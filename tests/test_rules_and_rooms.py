"""The rulebook refuses what could only go wrong later; the arrows between the rooms hold; docstrings are contracts."""

from __future__ import annotations

import ast
import inspect
import math
import re
import shutil
import subprocess
import sys
import types
from pathlib import Path

import numpy as np
import pytest

from compare import standards
from compare.judge.rules import (
    Ask,
    AtLeast,
    Limit,
    Option,
    Own,
    Reading,
    Rulebook,
    RuleError,
    check,
    choice,
    decision,
    quantity,
    seat_bound,
    verdict,
)
from compare.topics import all_topics
from compare.vocabulary import CAR_KEYS, CATALOGUE_COLUMNS, rule_inputs

ROOT = Path(__file__).resolve().parent.parent / "compare"
# The kinds of checks, as agreed: a new check is entered here and on the pages, and nowhere else.
CHECKS = {
    "fit": {
        "end_gap", "shoulder_gap", "pilot_size", "bush_hold", "hub_seat", "collar_gap", "disc_match", "register_fit",
        "engine_shift", "fan_gap", "mount_reach", "mount_tilt", "mount_height", "crossmember", "tunnel",
        "shifter_opening", "slave_standoff", "plate_wall", "hub_gap",
    },
    "road": {
        "torque_margin", "joint_angle", "joint_cancel", "whirl", "plunge", "release_travel", "release_side",
        "shaft_length", "yoke_match", "bearing_reach", "cruise_redline",
    },
    "wish": {"cruise_rpm", "gear_steps", "start_gradient", "top_gear_pull", "speedometer_error", "budget"},
}  # fmt: skip


def topic(**things):
    module = types.ModuleType("compare.topics.trial")
    for name, thing in things.items():
        if callable(thing):
            thing.__module__ = module.__name__
        setattr(module, name, thing)
    return module


def a_check(**changes):
    options = {"question": "Is it?", "unit": "mm", "limit": AtLeast(2.0, 1.0), "reason": "Because."} | changes

    def trial(length):
        return length

    trial.__module__ = "compare.topics.trial"
    return check(**options)(trial)


def test_the_book_closes_and_every_check_is_of_its_kind():
    book = Rulebook.from_topics(all_topics())
    found = {kind: {r.title for r in book.checks if r.kind == kind} for kind in CHECKS}
    assert found == CHECKS
    for rule in book.checks:
        assert rule.question.endswith("?") and rule.reason.endswith(".")
        assert book.feeds(rule.name), rule.name


@pytest.mark.parametrize(
    ("things", "words"),
    [
        ({"trial": a_check(question="It is.")}, "asks no question"),
        ({"trial": a_check(limit=None)}, "has no limit"),
        ({"trial": a_check(reason="")}, "gives no reason"),
        ({"trial": a_check(kind="fancy")}, "is of no kind"),
        ({"trial": a_check(criterion="beauty")}, "serves no criterion"),
    ],
)
def test_an_unfinished_check_is_refused(things, words):
    with pytest.raises(RuleError, match=words):
        Rulebook.from_topics([topic(**things)])


def test_an_unknown_input_a_duplicate_and_a_circle_are_refused():
    def lost(no_such_column):
        return no_such_column

    def first(second):
        return second

    def second(first):
        return first

    for f in (lost, first, second):
        f.__module__ = "compare.topics.trial"
    with pytest.raises(RuleError, match="which nothing provides"):
        Rulebook.from_topics([topic(lost=quantity("mm")(lost))])
    with pytest.raises(RuleError, match="circle: first > second > first"):
        Rulebook.from_topics([topic(first=quantity("mm")(first), second=quantity("mm")(second))])

    def twin(length):
        return length

    twin.__module__ = "compare.topics.trial"
    marked = quantity("mm")(twin)
    with pytest.raises(RuleError, match="is declared in"):
        Rulebook.from_topics([topic(twin=marked), topic(twin=marked)])


def test_a_name_in_use_and_a_bound_on_the_seat_that_asks_for_it_are_refused():
    def length(mass):
        return mass

    def looped(adapter_thickness):
        return []

    for f in (length, looped):
        f.__module__ = "compare.topics.trial"
    with pytest.raises(RuleError, match="in use"):
        Rulebook.from_topics([topic(length=quantity("mm")(length))])
    with pytest.raises(RuleError, match="bounds the seat but asks"):
        Rulebook.from_topics([topic(looped=seat_bound(looped))])


def test_a_decision_on_no_step_or_with_no_tool_is_refused():
    def cut(length):
        return Ask(length)

    def way(length):
        return length

    for f in (cut, way):
        f.__module__ = "compare.topics.trial"
    for undo, tool, words in (("burnt", "lathe", "no undo step"), ("bolts back", "spoon", "no tool")):
        with pytest.raises(RuleError, match=words):
            Rulebook.from_topics([topic(cut=decision("Cut", "it", undo, tool=tool)(cut))])
        options = (Option("as it is"), Option("cut", "Cut", undo, tool))
        with pytest.raises(RuleError, match=words):
            Rulebook.from_topics([topic(way=choice("a way", "it", options)(way))])


def test_verdict_asks_for_unmeasured_first_but_a_clash_is_a_clash():
    nan = math.nan
    works = np.array([[1.0, 0.0, -1e-9, -0.1, nan, 1.0, -5.0, 1.0, -5.0]])
    comfort = np.array([[1.0, -1.0, -1.0, -1.0, 1.0, nan, -9.0, 1.0, nan]])
    applies = np.array([[1, 1, 1, 1, 1, 1, 0, nan, 1]])
    assert verdict(Reading(works, works, comfort, applies), (1, 9)).tolist() == [[0, 1, 1, 2, 3, 3, 0, 3, 2]]


def test_no_limit_without_its_source_or_practice():
    for limit in Rulebook.from_topics(all_topics()).limits.values():
        assert limit.why, limit.name


# ---- one place for each new thing -----------------------------------------------------------------------

NEW_TOPIC = """
import numpy as np
from compare.judge.rules import Ask, AtMost, check, criterion, decision


@decision("File the lever's knob", "gear lever", "donor cut", hours=0.2, words="{figure} off")
def knob_filed(shifter_position, x_face):
    return Ask(x_face + shifter_position - 829.0)


@check("Is the lever within reach?", "mm", AtMost(clear=820.0, tight=829.0), "Under the seat it helps nobody.")
def lever_reach(shifter_position, x_face, knob_filed):
    return x_face + shifter_position - knob_filed


@criterion(1.5, "1 where the lever is near, 0 from 1000 mm")
def nearness(shifter_position, x_face):
    return np.clip(1.0 - (x_face + shifter_position) / 1000.0, 0.0, 1.0)
"""


def test_one_of_each_in_one_place(demo_files, tmp_path):
    """A check, a decision, a criterion, a column and a kind of quantity added to a copy: one place each, and it runs."""
    shutil.copytree(ROOT, tmp_path / "compare", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "compare" / "topics" / "trial.py").write_text(NEW_TOPIC, encoding="utf-8")

    def edit(path, old, new):
        text = (tmp_path / "compare" / path).read_text(encoding="utf-8")
        assert old in text, (path, old)
        (tmp_path / "compare" / path).write_text(text.replace(old, new, 1), encoding="utf-8")

    edit("topics/__init__.py", '"money", "criteria",', '"money", "criteria", "trial",')
    edit("vocabulary.py", 'Term("turret_width", "length"', 'Term("knob_weight", "force", "pull of the knob", low=0, high=50),\n        Term("turret_width", "length"')
    edit("kinds.py", '    Kind("names"', '    Kind("force", "N", "a force", "12 N", "newton", "N", (Unit("newton", ("N", "n")),)),\n    Kind("names"')
    lines = demo_files[0].read_text(encoding="utf-8").splitlines()
    head = next(i for i, x in enumerate(lines) if x.startswith("name,"))
    rows = [lines[head] + ",knob_weight", *(x + ",3 N" for x in lines[head + 1 :])]
    (tmp_path / "c.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    profile = demo_files[1].read_text(encoding="utf-8") + "\n[limits]\nlever_reach_clear = 815\n[weights]\nnearness = 4\n"
    (tmp_path / "car.toml").write_text(profile, encoding="utf-8")
    script = (
        "import json, sys\n"
        "from compare.answer.compare import compare\n"
        "from compare.answer.report import make_report\n"
        "from compare.read.car import load_car\n"
        "from compare.read.catalogue import load_catalogue\n"
        "from compare.report.as_json import document\n"
        "from compare.report.terminal import detail_report, rank_report\n"
        "report = make_report(compare(load_catalogue('c.csv'), load_car('car.toml'), draws=32))\n"
        "rank_report(report)\n"
        "text = detail_report(report, 'Tarn 5A')\n"
        "json.dump([document(report), text], sys.stdout)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(tmp_path), "PATH": "/usr/bin:/bin"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    import json

    content, text = json.loads(done.stdout)
    row = next(r for r in content["checks"] if r["check"] == "lever_reach" and r["candidate"] == "Tarn 5A")
    assert (row["verdict_as_found"], row["value_as_found"], row["verdict"], row["value"]) == ("clash", 830.0, "tight", 829.0)
    work = next(w for w in content["work"] if w["decision"] == "knob_filed" and w["candidate"] == "Tarn 5A")
    assert work["extent_mm"] == 1.0 and work["why"] == "1 mm off"
    assert "nearness" in content["car"]["weights"] and content["car"]["weights"]["nearness"] > 0.15
    assert "lever reach" in text and "File the lever's knob" in text


# ---- arrows ---------------------------------------------------------------------------------------------

# Room -> the rooms that it may know. A room is a file or a folder of `compare`; a folder's files may know each other.
ROOMS = {
    "vocabulary": {"kinds"},
    "kinds": set(),
    "problems": set(),
    "standards": set(),
    "figures": set(),
    "said": {"figures"},
    "words": {"judge.outcome", "said"},
    "ordering": {"said"},
    "saving": {"problems"},
    "read": {"vocabulary", "problems", "kinds", "figures", "saving"},
    "topics": {"judge.rules", "judge.seat", "vocabulary", "standards", "ordering"},
    "judge": {"vocabulary", "problems", "read", "topics", "answer.compare"},
    "answer": {"vocabulary", "kinds", "problems", "read", "judge", "topics", "figures", "said", "standards", "saving", "ordering"},
    "forms": {"vocabulary", "kinds", "problems", "read", "judge", "topics", "figures", "saving", "words", "answer", "standards"},
    "asking": {
        "vocabulary", "problems", "read", "judge", "figures", "said", "words", "answer", "forms", "filling", "report",
    },
    "filling": {"vocabulary", "problems", "read", "saving", "answer", "forms"},
    "reference": {"vocabulary", "judge", "topics"},
    "report": {
        "vocabulary", "problems", "read", "judge", "topics", "figures", "said", "saving", "words", "answer", "standards",
    },
}  # fmt: skip
ONLY_HERE = {"pint": {"read"}, "openpyxl": {"read", "forms", "answer"}, "xlsxwriter": {"report"}, "jinja2": {"report"}, "rich": {"report"}, "pandas": {"answer"}}


def imports(path):
    """Modules of the project, and packages, that a file imports anywhere in it."""
    own, packages = set(), set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            deeper = node.module in ("compare", *(f"compare.{d.name}" for d in ROOT.iterdir() if d.is_dir()))
            names = [f"{node.module}.{a.name}" for a in node.names] if deeper else [node.module]
        for name in names:
            parts = name.split(".")
            if parts[0] == "compare":
                own.add(".".join(parts[1:]) or "__init__")
            else:
                packages.add(parts[0])
    return own, packages


def room_files():
    for path in sorted(ROOT.rglob("*.py")):
        room = path.relative_to(ROOT).parts[0].removesuffix(".py")
        if room not in ("__init__", "__main__", "cli"):
            yield pytest.param(room, path, id=str(path.relative_to(ROOT)))


@pytest.mark.parametrize(("room", "path"), list(room_files()))
def test_arrows_between_rooms(room, path):
    own, _ = imports(path)
    for name in own - {"__version__"}:
        known = name.split(".")[0] == room or any(name == may or name.startswith(may + ".") for may in ROOMS[room])
        assert known, f"{path.name} knows {name}"


@pytest.mark.parametrize("path", sorted((ROOT / "topics").glob("*.py")), ids=lambda p: p.stem)
def test_topics_know_rules_and_numpy_only(path):
    if path.stem == "__init__":
        return
    _, packages = imports(path)
    assert packages <= {"numpy", "collections", "typing", "__future__", "inspect", "math"}, packages


def test_heavy_packages_have_one_home():
    for path in ROOT.rglob("*.py"):
        _, packages = imports(path)
        room = path.relative_to(ROOT).parts[0].removesuffix(".py")
        for package, homes in ONLY_HERE.items():
            if package in packages:
                assert room in homes, f"{room} imports {package}"


def test_random_numbers_are_drawn_in_draws_and_the_simplex_only():
    for path in ROOT.rglob("*.py"):
        room = path.stem
        if "random" in path.read_text(encoding="utf-8").replace("random draws", "") and re.search(r"np\.random\.", path.read_text(encoding="utf-8")):
            assert room in ("draws", "value", "deciding", "visits", "accept", "gauge"), room


def test_reports_print_nowhere_else():
    for path in ROOT.rglob("*.py"):
        if path.relative_to(ROOT).parts[0] != "cli":
            tree = ast.parse(path.read_text(encoding="utf-8"))
            calls = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name) and n.func.id == "print"]
            assert not calls, path


# Row keys of the Report that happen to be called as a check is, and plain words that are names too.
ALSO_WORDS = {
    "cruise_rpm", "engine_shift", "crossmember", "tunnel", "lift", "boxes", "shoulder", "budget", "whirl", "plunge",
    "reach", "relief", "fit", "cost", "undo", "cruise", "pull", "driveline", "clutch", "hub_rear", "deepest_cut",
}  # fmt: skip


def strings(path):
    """Texts in a file's code, docstrings apart."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {
        id(n.body[0].value) for n in ast.walk(tree)
        if isinstance(n, ast.Module | ast.FunctionDef | ast.ClassDef) and n.body and isinstance(n.body[0], ast.Expr)
    }  # fmt: skip
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.lineno, node.value


def test_no_rule_and_no_limit_is_spelled_outside_topics_and_vocabulary():
    book = Rulebook.from_topics(all_topics())
    names = set(book.rules) | {r.title for r in book.checks} | set(book.limits)
    names -= ALSO_WORDS | set(rule_inputs())
    found = [
        f"{path.relative_to(ROOT)}:{line} {text}"
        for path in sorted(ROOT.rglob("*.py"))
        if path.relative_to(ROOT).parts[0] not in ("topics", "vocabulary.py")
        for line, text in strings(path)
        if text in names
    ]
    assert not found, found


# ---- docstrings ---------------------------------------------------------------------------------------


def public_formulas():
    for module in (*all_topics(), standards):
        for name, thing in vars(module).items():
            if inspect.isfunction(thing) and thing.__module__ == module.__name__ and not name.startswith("_") and not hasattr(thing, "__rule__") and not hasattr(thing, "__order__"):
                yield module, name, thing


@pytest.mark.parametrize(("module", "name", "formula"), list(public_formulas()), ids=lambda x: getattr(x, "__name__", x) if not isinstance(x, str) else x)
def test_a_formula_s_docstring_is_a_contract(module, name, formula):
    """Every plain formula has a docstring with units in brackets; one with an arithmetic result has a worked example."""
    text = inspect.getdoc(formula)
    assert text, name
    assert re.search(r"\[[^\]]+\]", text) or "rad" in text, f"{name}: no unit"
    assert ">>>" in text, f"{name}: no example"


def test_vocabulary_is_whole():
    names = [t.name for t in (*CATALOGUE_COLUMNS, *CAR_KEYS)]
    assert len(names) == len(set(names))
    for term in (*CATALOGUE_COLUMNS, *CAR_KEYS):
        assert term.meaning, term.name
        assert term.low <= term.high
        if term.kind in ("length", "diameter", "angle", "position") and term.name not in ("case_depth",):
            assert term.measure or term.section, term.name


def test_every_numeric_column_feeds_some_check():
    book = Rulebook.from_topics(all_topics())
    fed = set().union(*(book.feeds(r.name) for r in (*book.checks, *book.decisions)))
    idle = {t.name for t in CATALOGUE_COLUMNS if t.kind not in ("text", "money")} - fed
    assert idle <= {"mass", "source", "ratio_reverse", "lug_cut", "measured_from", "status"}, idle
    assert set(rule_inputs()) >= {"ratios", "tunnel_x", "car_mount_zone_start"}


def test_limits_are_declared_once():
    with pytest.raises(RuleError, match="declared twice"):
        Rulebook.from_topics([topic(A=Limit("a", 1.0, "mm", "practice"), B=Limit("a", 2.0, "mm", "practice"))])


def test_own_limits_name_only_limits_that_exist():
    book = Rulebook.from_topics(all_topics())
    for rule in book.checks:
        if isinstance(rule.limit, Own):
            for name in re.findall(r"\{(\w+)\}", rule.limit.words):
                assert name in book.limits, (rule.name, name)


def test_sentences_name_only_quantities_that_exist():
    book = Rulebook.from_topics(all_topics())
    known = set(book.rules) | set(rule_inputs()) | set(book.limits)
    known |= {"short", "figure", "engine_shift", "adapter_thickness"}
    for rule in (*book.checks, *book.decisions):
        sentences = [*rule.words.values(), *(o.words for o in rule.options)]
        for name in re.findall(r"\{(\w+)\}", " ".join(sentences)):
            assert name in known, (rule.name, name)
