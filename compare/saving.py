"""Whole file or none: write beside, then rename."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from compare.problems import InputError, Problem

__all__ = ["save", "save_bytes", "save_text"]


def save(path: str | Path, write: Callable[[Path], None]) -> None:
    """Let `write` fill a file beside the target, then put it in place. Raises InputError where that cannot be."""
    path = Path(path)
    if path.is_dir():
        raise InputError([Problem(str(path), "this is a folder.", "Name a file inside it.")])
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
    except OSError as error:
        raise InputError([Problem(str(path), f"cannot be written: {error.strerror}.", "Name another place.")]) from None
    os.close(handle)
    beside = Path(name)
    try:
        write(beside)
        umask = os.umask(0)
        os.umask(umask)
        beside.chmod(0o666 & ~umask)
        os.replace(beside, path)
    except OSError as error:
        raise InputError([Problem(str(path), f"cannot be written: {error.strerror}.", "Name another place, or close it where it is open.")]) from None
    finally:
        beside.unlink(missing_ok=True)


def save_text(path: str | Path, text: str) -> None:
    """Write a text file, whole or not at all. Raises InputError where that cannot be."""

    save_bytes(path, text.encode("utf-8"))


def save_bytes(path: str | Path, data: bytes) -> None:
    """Write bytes, whole or not at all. Raises InputError where that cannot be."""

    def write(beside: Path) -> None:
        beside.write_bytes(data)

    save(path, write)
