"""Files that cannot be harmed: lock, write beside, read back, rename; all files of a run or none.

A folder is locked while something in it is being changed, so two runs wait for each other. What is
replaced and may hold somebody's work is kept under a numbered name that is never used twice. A run
that was killed leaves at most files whose name begins with `.gearbox-compare-`; the next run in
that folder takes them away.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from compare.problems import InputError, Problem

try:
    import fcntl
except ImportError:  # a system without it locks by a file of its own
    fcntl = None  # type: ignore[assignment]

__all__ = [
    "Output", "bytes_writer", "locked", "refuse", "replace", "save", "save_all", "save_bytes",
    "save_text", "text_writer",
]  # fmt: skip

PREFIX = ".gearbox-compare-"
LOCK_NAME = ".gearbox-compare.lock"
PATIENCE = 60.0
LONGEST_NAME = 255
SEAL = b"gearbox-compare:"


@dataclass(frozen=True)
class Output:
    """A file to be made: where, and what fills it."""

    path: Path
    write: Callable[[Path], None]


def _problem(path: Path | str, found: str, fix: str) -> InputError:
    return InputError([Problem(str(path), found, fix)])


def _not_written(path: Path, error: OSError) -> InputError:
    fix = "Name another place, or close it where it is open."
    if error.errno == errno.ENOSPC:
        fix = "Make room on the disk, or name another place."
    return _problem(path, f"cannot be written: {error.strerror or error}.", fix)


# ---- what may be written at all ------------------------------------------------------------------


def refuse(outputs: Sequence[str | Path], inputs: Sequence[str | Path] = ()) -> None:
    """Refuse outputs that are inputs, or each other, or not plain files, before anything is
    computed. Raises InputError.
    """
    problems: list[Problem] = []
    seen: list[Path] = []
    for output in outputs:
        path = Path(output)
        try:
            found, fix = _unfit(path)
            if not found and any(_same(path, i) for i in inputs):
                found, fix = (
                    "is an input of this run.",
                    "Name another file: nothing is ever written over what was read.",
                )
            elif not found and any(_same(path, other) for other in seen):
                found, fix = "is named for two outputs.", "Name a file for each."
        except OSError as error:
            found, fix = f"cannot be written: {error.strerror or error}.", "Name another place."
        except ValueError:
            found, fix = "is no name that a file can have.", "Name another place."
        if found:
            problems.append(Problem(str(path), found, fix))
        seen.append(path)
    if problems:
        raise InputError(problems)


def _unfit(path: Path) -> tuple[str, str]:
    """Why a file cannot be written there, and what to do; two empty texts where it can."""
    real = Path(os.path.realpath(path))
    if not real.name:
        return "this is a folder.", "Name a file inside it."
    if real.exists():
        mode = real.stat().st_mode
        if stat.S_ISDIR(mode):
            return "this is a folder.", "Name a file inside it."
        if not stat.S_ISREG(mode):
            return (
                "this is not a plain file.",
                "Name a plain file, or - for standard output where that is offered.",
            )
        if not mode & 0o222:
            return "is read-only.", "Name another file, or allow writing to it."
    above = real.parent
    while not above.exists() and above != above.parent:
        above = above.parent
    if not above.is_dir():
        return f"cannot be written: {above} is a file, not a folder.", "Name another place."
    if not os.access(above, os.W_OK | os.X_OK):
        return f"cannot be written: nothing may be written into {above}.", "Name another place."
    return "", ""


def _same(one: str | Path, other: str | Path) -> bool:
    if os.path.realpath(one) == os.path.realpath(other):
        return True
    try:
        return os.path.samefile(one, other)
    except (OSError, ValueError):
        return False


# ---- locking -------------------------------------------------------------------------------------

_held: dict[str, int] = {}


@contextlib.contextmanager
def locked(*paths: str | Path) -> Iterator[None]:
    """Hold the folders of these files (following links) against other runs.

    Raises InputError when one does not come free.
    """
    folders = sorted({os.path.dirname(os.path.realpath(p)) for p in paths})
    with contextlib.ExitStack() as stack:
        for folder in folders:
            stack.enter_context(_locked_folder(folder))
        yield


@contextlib.contextmanager
def _locked_folder(folder: str) -> Iterator[None]:
    if folder in _held:  # this run holds it already
        _held[folder] += 1
        try:
            yield
        finally:
            _held[folder] -= 1
        return
    release = _take(folder)
    _held[folder] = 1
    try:
        _sweep(folder)
        yield
    finally:
        del _held[folder]
        release()


def _take(folder: str) -> Callable[[], None]:
    give_up = time.monotonic() + PATIENCE
    while True:
        try:
            return _try_to_take(folder)
        except BlockingIOError:
            if time.monotonic() > give_up:
                raise _problem(
                    folder,
                    "another run is writing in this folder.",
                    "Wait until it is done, then try again.",
                ) from None
            time.sleep(0.02)
        except OSError as error:
            raise _not_written(Path(folder), error) from None


def _try_to_take(folder: str) -> Callable[[], None]:
    if fcntl is not None:
        handle = os.open(
            folder, os.O_RDONLY
        )  # the folder itself: no file of ours lies about, and a killed run lets go
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BaseException as error:
            os.close(handle)
            if not isinstance(error, OSError) or error.errno not in (
                errno.ENOTSUP,
                errno.EBADF,
                errno.EINVAL,
                errno.ENOLCK,
            ):
                raise
        else:
            return lambda: os.close(handle)
    name = os.path.join(folder, LOCK_NAME)
    try:
        handle = os.open(name, os.O_CREAT | os.O_EXCL | os.O_WRONLY)
    except FileExistsError:
        raise BlockingIOError from None

    def release() -> None:
        os.close(handle)
        os.unlink(name)

    return release


def _sweep(folder: str) -> None:
    """Take away what a killed run left half written. Only whoever holds the folder may."""
    with contextlib.suppress(OSError):
        for name in os.listdir(folder):
            if name.startswith(PREFIX):
                with contextlib.suppress(OSError):
                    os.unlink(os.path.join(folder, name))


# ---- writing -------------------------------------------------------------------------------------


def save(path: str | Path, write: Callable[[Path], None]) -> None:
    """Let `write` fill a file beside the target, then put it in place.

    Raises InputError where that cannot be.
    """
    save_all([Output(Path(path), write)])


def save_text(path: str | Path, text: str) -> None:
    """Write a text file, whole or not at all. Raises InputError where that cannot be."""
    save_bytes(path, text.encode("utf-8", "backslashreplace"))


def save_bytes(path: str | Path, data: bytes) -> None:
    """Write bytes, whole or not at all. Raises InputError where that cannot be."""
    save_all([Output(Path(path), bytes_writer(data))])


def bytes_writer(data: bytes) -> Callable[[Path], None]:
    """A writer of these bytes that reads them back. Raises OSError when they did not arrive."""

    def write(beside: Path) -> None:
        beside.write_bytes(data)
        if beside.read_bytes() != data:
            raise OSError(errno.EIO, "what was written does not read back as it was")

    return write


def text_writer(text: str) -> Callable[[Path], None]:
    """A writer of this text in UTF-8."""
    return bytes_writer(text.encode("utf-8", "backslashreplace"))


def save_all(outputs: Sequence[Output], inputs: Sequence[str | Path] = ()) -> list[Path]:
    """Write all of these files or none; gives the backups of workbooks that somebody had changed.

    Raises InputError.
    """
    refuse([o.path for o in outputs], inputs)
    targets = [Path(os.path.realpath(o.path)) for o in outputs]
    made = _folders(outputs, targets)
    done = False
    try:
        with locked(*targets):
            besides: list[Path] = []
            try:
                for output, target in zip(outputs, targets, strict=True):
                    besides.append(_filled(output, target))
                kept = [
                    backup
                    for target in targets
                    if _changed_by_hand(target) and (backup := _kept(target))
                ]
                _rename_all(outputs, besides, targets)
                done = True
                return kept
            finally:
                for beside in besides:
                    beside.unlink(missing_ok=True)
    finally:
        if not done:
            for folder in reversed(made):
                with contextlib.suppress(OSError):
                    folder.rmdir()


def replace(path: str | Path, data: bytes) -> Path:
    """Put new bytes in the place of a file; gives the numbered backup that holds what was there.

    Raises InputError.

    The caller holds the folder (`locked`) since he read the file, so that nothing is lost that came
    between.
    """
    target = Path(os.path.realpath(path))
    refuse([target])
    output = Output(Path(path), bytes_writer(data))
    with locked(target):
        beside = _filled(output, target)
        try:
            kept = _kept(target)
            _rename_all([output], [beside], [target])
            return kept
        except OSError as error:
            raise _not_written(Path(path), error) from None
        finally:
            beside.unlink(missing_ok=True)


def _folders(outputs: Sequence[Output], targets: Sequence[Path]) -> list[Path]:
    """Make the folders that are missing; gives those that were made, outermost first."""
    made: list[Path] = []
    for output, target in zip(outputs, targets, strict=True):
        missing = [target.parent, *target.parent.parents]
        wanted = [f for f in missing if not f.exists()]
        try:
            for folder in reversed(wanted):
                folder.mkdir(exist_ok=True)
                made.append(folder)
        except OSError as error:
            for folder in reversed(made):
                with contextlib.suppress(OSError):
                    folder.rmdir()
            raise _not_written(output.path, error) from None
    return made


def _filled(output: Output, target: Path) -> Path:
    """A file beside the target with the output in it, safe on the disk, with the target's rights."""
    suffix = target.suffix if len(target.suffix) <= 8 else ""
    try:
        handle, name = tempfile.mkstemp(prefix=PREFIX, suffix=suffix, dir=target.parent)
    except OSError as error:
        raise _not_written(output.path, error) from None
    beside = Path(name)
    try:
        os.close(handle)
        if len(os.fsencode(target.name)) > LONGEST_NAME:
            raise OSError(errno.ENAMETOOLONG, os.strerror(errno.ENAMETOOLONG))
        output.write(beside)
        if suffix.lower() == ".xlsx":
            _seal(beside)
        _to_disk(beside)
        _give_rights(beside, target)
    except BaseException as error:
        beside.unlink(missing_ok=True)
        reason = (
            error
            if isinstance(error, OSError)
            else next((a for a in getattr(error, "args", ()) if isinstance(a, OSError)), None)
        )
        if reason is not None:
            raise _not_written(output.path, reason) from None
        raise
    return beside


def _to_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _give_rights(beside: Path, target: Path) -> None:
    if target.exists():
        there = target.stat()
        with contextlib.suppress(OSError, AttributeError):
            os.chown(beside, there.st_uid, there.st_gid)
        beside.chmod(stat.S_IMODE(there.st_mode))
    else:
        umask = os.umask(0)
        os.umask(umask)
        beside.chmod(0o666 & ~umask)


def _rename_all(
    outputs: Sequence[Output], besides: Sequence[Path], targets: Sequence[Path]
) -> None:
    """Put every file in its place; when one cannot be, put back those that were.

    Raises InputError.
    """
    undo: list[tuple[Path, Path | None, Path]] = []
    try:
        for output, beside, target in zip(outputs, besides, targets, strict=True):
            try:
                if len(targets) > 1:
                    undo.append((target, _aside(target) if target.exists() else None, beside))
                os.replace(beside, target)
            except OSError as error:
                raise _not_written(output.path, error) from None
    except BaseException:
        for target, old, beside in reversed(undo):
            if old is not None:
                os.replace(old, target)
            elif not beside.exists():
                target.unlink(missing_ok=True)
        raise
    finally:
        for _, old, _ in undo:
            if old is not None:
                old.unlink(missing_ok=True)


def _aside(target: Path) -> Path:
    """The old file under a second name, for as long as the run may have to be undone."""
    handle, name = tempfile.mkstemp(prefix=PREFIX, dir=target.parent)
    os.close(handle)
    os.unlink(name)
    _link_or_copy(target, Path(name))
    return Path(name)


def _link_or_copy(source: Path, place: Path) -> None:
    """A second name for a file, or a copy where there are none. Raises FileExistsError:

    nothing is ever overwritten.
    """
    try:
        os.link(source, place)
    except FileExistsError:
        raise
    except OSError:
        data = source.read_bytes()
        handle = os.open(
            place, os.O_CREAT | os.O_EXCL | os.O_WRONLY, stat.S_IMODE(source.stat().st_mode)
        )
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        _to_disk(place)


# ---- backups -------------------------------------------------------------------------------------


def _backup_name(target: Path, number: int) -> Path:
    end = f".{number}.bak"
    stem = os.fsencode(target.name)[: LONGEST_NAME - len(end)].decode("utf-8", "ignore")
    return target.with_name(stem + end)


def _kept(target: Path) -> Path:
    """The file as it is, kept under the next free number. Gives that name."""
    number = 1
    while os.path.lexists(_backup_name(target, number)):
        number += 1
    last = _backup_name(target, number - 1)
    if number > 1 and _same(last, target):
        return last  # a run that was killed had kept it already
    while True:
        try:
            _link_or_copy(target, _backup_name(target, number))
            return _backup_name(target, number)
        except FileExistsError:
            number += 1


def _content_mark(path: Path) -> bytes:
    with zipfile.ZipFile(path) as archive:
        listed = "\n".join(f"{i.filename} {i.CRC} {i.file_size}" for i in archive.infolist())
    return SEAL + hashlib.sha256(listed.encode()).hexdigest()[:32].encode()


def _seal(path: Path) -> None:
    """Mark a workbook as this program wrote it, in the archive's comment:

    whatever saves it again loses the mark.
    """
    if not zipfile.is_zipfile(path):
        return
    mark = _content_mark(path)
    with zipfile.ZipFile(path, "a") as archive:
        archive.comment = mark


def _changed_by_hand(target: Path) -> bool:
    """Whether a workbook that is about to be replaced holds anything that this program did not
    write.
    """
    if target.suffix.lower() != ".xlsx" or not target.exists() or not target.stat().st_size:
        return False
    try:
        with zipfile.ZipFile(target) as archive:
            comment = archive.comment
        return comment != _content_mark(target)
    except (OSError, zipfile.BadZipFile):
        return True
