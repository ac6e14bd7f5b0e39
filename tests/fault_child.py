"""Runs one command with a fault at its n-th touch of the disk, n = 0, 1, 2 ...:

started by tests/test_faults.py.

Each moment is a fork of this warmed-up process, so that thirty of them cost as little as a few.
What is left behind is judged by the parent; here only how each child ended is told, as one line of
JSON.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import signal
import sys
from pathlib import Path

from compare.cli import main

WATCHED = (
    "open",
    "os.rename",
    "os.link",
    "os.remove",
    "os.chmod",
    "os.chown",
    "os.mkdir",
    "os.rmdir",
    "os.listdir",
    "shutil.rmtree",
    "tempfile.mkstemp",
)


def hooked(place: str, moment: int, fault: str) -> None:
    seen = [0]

    def hook(event: str, arguments: tuple[object, ...]) -> None:
        if event not in WATCHED or not any(
            str(a).startswith(place) for a in arguments if isinstance(a, str | Path)
        ):
            return
        seen[0] += 1
        if seen[0] != moment:
            return
        if fault == "kill":
            os.kill(os.getpid(), signal.SIGKILL)
        if fault == "interrupt":
            raise KeyboardInterrupt
        raise OSError(28, "No space left on device")

    sys.addaudithook(hook)


def run_at(moment: int, fault: str, source: Path, place: Path, words: list[str]) -> int:
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(source, place, symlinks=True)
    child = os.fork()
    if child == 0:
        null = os.open(os.devnull, os.O_RDWR)
        os.dup2(null, 1)
        os.dup2(null, 2)
        hooked(str(place), moment, fault)
        code = 99
        try:
            code = main(words)
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def run_here(source: Path, place: Path, words: list[str]) -> None:
    """Once without a fault and not in a fork, so that every fork finds all packages imported."""
    shutil.copytree(source, place, symlinks=True)
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        main([w.replace("@", str(place)) for w in words])
    shutil.rmtree(place)


if __name__ == "__main__":
    source, place, fault, first, last = (
        Path(sys.argv[1]),
        Path(sys.argv[2]),
        sys.argv[3],
        int(sys.argv[4]),
        int(sys.argv[5]),
    )
    words = sys.argv[6:]
    run_here(source, place / "0", words)
    for moment in range(first, last):
        here = place / str(moment)
        code = run_at(moment, fault, source, here, [w.replace("@", str(here)) for w in words])
        print(json.dumps({"moment": moment, "code": code}), flush=True)
