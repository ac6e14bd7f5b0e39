"""The rulebook refuses what could only go wrong later; the arrows between the rooms hold; docstrings are contracts."""

from __future__ import annotations

import ast
import inspect
import math
import re
import types
from pathlib import Path

import numpy as np
import pytest

from compare import standards
from compare.judge.rules import Amount, AtLeast, AtMost, Limit, Own, Reading, Rulebook, RuleError, check, quantity, seat_bound, verdict, work
from compare.topics import all_topics
from compare.vocabulary import CAR_KEYS, CATALOGUE_COLUMNS, rule_inputs

ROOT = Path(__file__).resolve().parent.parent / "compare"


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


def test_the_book_closes_and_every_check_is_whole():
    book = Rulebook.from_topics(all_topics())
    assert len(book.checks) >= 29 and len(book.works) >= 30
    for rule in book.checks:
        assert rule.question.endswith("?") and rule.reason.endswith(".")
        assert book.feeds(rule.name), rule.name


@pytest.mark.parametrize(
    ("things", "words"),
    [
        ({"trial": a_check(question="It is.")}, "asks no question"),
        ({"trial": a_check(limit=None)}, "has no limit"),
        ({"trial": a_check(reason="")}, "gives no reason"),
        ({"trial": a_check(resolved_by=("nothing_such",))}, "is no work"),
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


def test_work_on_no_step_or_with_no_tool_is_refused():
    def cut(length):
        return Amount(1.0)

    cut.__module__ = "compare.topics.trial"
    for undo, tool, words in (("burnt", "lathe", "no undo step"), ("bolts back", "spoon", "no tool")):
        with pytest.raises(RuleError, match=words):
            Rulebook.from_topics([topic(cut=work("Cut", "it", undo, tool=tool)(cut))])


def test_a_new_check_is_one_function_in_one_file(demo, demo_files):
    """No report, loader or ranking has to change: a check made here is judged, worded, limited and asked about."""
    from compare.answer.report import Tables
    from compare.judge.engine import compare
    from compare.read.car import read_car
    from compare.report.terminal import detail_report

    def lever_reach(shifter_position, x_face):
        return x_face + shifter_position

    lever_reach.__module__ = "compare.topics.trial"
    marked = check("Is the lever within reach?", "mm", AtMost(clear=880.0, tight=900.0), "A lever under the seat helps nobody.", decides=False)(lever_reach)
    book = Rulebook.from_topics([*all_topics(), topic(lever_reach=marked)])
    car = read_car(demo_files[1].read_text(encoding="utf-8") + "\n[limits]\nlever_reach_tight = 895\n")
    tables = Tables(compare(demo.builds.catalogue, car, draws=20, book=book))
    row = next(r for r in tables.checks if r["check"] == "lever_reach" and r["candidate"] == "Tarn 5A")
    assert (row["value"], row["verdict"], row["margin"]) == (890.0, "tight", 5.0)
    assert "lever reach" in detail_report(tables, 0, [], [])


def test_verdict_asks_for_unmeasured_first():
    nan = math.nan
    works = np.array([[1.0, 0.0, -1e-9, -0.1, nan, 1.0, -5.0, 1.0]])
    comfort = np.array([[1.0, -1.0, -1.0, -1.0, 1.0, nan, -9.0, 1.0]])
    applies = np.array([[1, 1, 1, 1, 1, 1, 0, nan]])
    assert verdict(Reading(works, works, comfort, applies), (1, 8)).tolist() == [[0, 1, 1, 2, 3, 3, 0, 3]]


def test_no_limit_without_its_source_or_practice():
    for limit in Rulebook.from_topics(all_topics()).limits.values():
        assert limit.why, limit.name


# ---- arrows -------------------------------------------------------------------------------------------

# Room -> the rooms that it may know. A room is a file or a folder of `compare`; a folder's files may know each other.
ROOMS = {
    "vocabulary": {"kinds"},
    "problems": set(),
    "standards": set(),
    "figures": set(),
    "kinds": set(),
    "saving": {"problems"},
    "read": {"vocabulary", "problems", "kinds", "saving"},
    "topics": {"judge.rules", "judge.work", "judge.seat", "vocabulary"},
    "judge": {"vocabulary", "problems", "read", "topics"},
    "answer": {"vocabulary", "problems", "read", "judge", "topics", "figures", "standards"},
    "words": {"vocabulary", "figures", "answer"},
    "forms": {"vocabulary", "problems", "read", "judge", "topics", "figures", "saving", "words", "answer", "standards"},
    "report": {"vocabulary", "problems", "read", "judge", "topics", "figures", "saving", "words", "answer", "standards"},
}
ONLY_HERE = {"pint": {"read"}, "openpyxl": {"read", "forms", "report"}, "rich": {"report"}, "pandas": {"answer"}}


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
            assert room in ("draws", "value", "engine", "visits"), room


def test_reports_print_nowhere_else():
    for path in ROOT.rglob("*.py"):
        if path.stem != "cli":
            tree = ast.parse(path.read_text(encoding="utf-8"))
            calls = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name) and n.func.id == "print"]
            assert not calls, path


def test_topics_do_not_reach_into_each_other_by_name_more_than_is_known():
    """Coupling by name, which an import test cannot see: topic → topics whose quantities its rules ask for."""
    book = Rulebook.from_topics(all_topics())
    found: dict[str, set[str]] = {}
    for rule in book.rules.values():
        for name in rule.inputs:
            if name in book.rules and book.rules[name].topic != rule.topic:
                found.setdefault(rule.topic, set()).add(book.rules[name].topic)
    assert found == {
        "road_load": {"gearing"},
        "envelope": {"input_shaft"},
        "propshaft": {"gearing", "road_load", "input_shaft"},
        "speedometer": {"gearing"},
    }


# ---- docstrings ---------------------------------------------------------------------------------------


def public_formulas():
    for module in (*all_topics(), standards):
        for name, thing in vars(module).items():
            if inspect.isfunction(thing) and thing.__module__ == module.__name__ and not name.startswith("_") and not hasattr(thing, "__rule__"):
                yield module, name, thing


@pytest.mark.parametrize(("module", "name", "formula"), list(public_formulas()), ids=lambda x: getattr(x, "__name__", x) if not isinstance(x, str) else x)
def test_a_formula_s_docstring_is_a_contract(module, name, formula):
    """Every plain formula has a docstring with units in brackets; one with an arithmetic result has a worked example."""
    text = inspect.getdoc(formula)
    assert text, name
    assert re.search(r"\[[^\]]+\]", text) or "rad" in text, f"{name}: no unit"
    if name not in ("route_diameters", "tunnel_clearance"):
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
    fed = set().union(*(book.feeds(r.name) for r in (*book.checks, *book.works)))
    idle = {t.name for t in CATALOGUE_COLUMNS if t.kind not in ("text", "money")} - fed
    assert idle == {"mass", "source", "ratio_reverse", "collar_diameter"}, idle
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
    known = set(book.rules) | set(rule_inputs()) | set(book.limits) | {"short", "route", "engine_shift", "adapter_thickness"}
    for rule in (*book.checks, *book.works):
        for sentence in rule.words.values():
            for name in re.findall(r"\{(\w+)\}", sentence):
                base = re.sub(r"_(extent|stretch)$", "", name)
                assert name in known or base in known, (rule.name, name)
