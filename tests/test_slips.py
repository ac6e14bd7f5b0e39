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
