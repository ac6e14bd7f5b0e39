"""Standard streams: what cannot be written, what knows only some letters, how wide a screen is."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable
from typing import Any

__all__ = [
    "StreamFault",
    "err",
    "flush",
    "line_in",
    "out",
    "out_json",
    "out_lines",
    "prepare_process",
    "progress",
    "screen",
    "silence",
]

PIPED_WIDTH = 100


class StreamFault(Exception):
    """Standard output cannot be written."""


def prepare_process() -> None:
    """Make closed standard streams harmless, a request to end an orderly stop, and the process a
    quick one.
    """
    import gc
    import signal

    # Nothing here multiplies matrices large enough for threads, whose waiting costs more than they
    # save.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # A command lives for seconds and leaves few circles behind: looking for them rarely is enough.
    gc.freeze()
    gc.set_threshold(200_000, 20, 100)

    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(
                os.devnull, os.O_RDWR
            )  # takes the lowest free number: no file of ours becomes standard output

    def stop(*_: Any) -> None:
        raise KeyboardInterrupt

    if hasattr(signal, "SIGTERM"):
        signal.signal(signal.SIGTERM, stop)


def silence(stream: Any) -> None:
    """Let what is still held for a stream go nowhere, so that Python's own end is quiet."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
    except (OSError, ValueError, AttributeError):
        pass


def flush() -> None:
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        raise
    except (OSError, ValueError) as error:
        raise StreamFault(getattr(error, "strerror", None) or str(error)) from None


def out(text: str) -> None:
    try:
        write(sys.stdout, text)
    except BrokenPipeError:
        raise
    except (OSError, ValueError) as error:
        raise StreamFault(getattr(error, "strerror", None) or str(error)) from None


def out_lines(text: str) -> None:
    """Lines of any length: on a terminal folded at its width, elsewhere as they are."""
    if sys.stdout is not None and sys.stdout.isatty():
        width = screen()[0]
        text = "\n".join(_folded(line, width) for line in text.split("\n"))
    out(text)


def _folded(line: str, width: int) -> str:
    """One line at most `width` columns wide where its words allow it; what is folded is indented.

    >>> print(_folded("  a note of some length", 14))
      a note of
        some
        length
    """
    import textwrap

    if len(line) <= width:
        return line
    lead = line[: len(line) - len(line.lstrip())]
    return textwrap.fill(
        line.strip(), width, initial_indent=lead, subsequent_indent=lead + "  ",
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def out_json(text: str) -> None:
    """JSON on standard output: where that knows only some letters, the others are escaped, not
    replaced.
    """
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        import json

        text = re.sub(r"[^\x00-\x7f]", lambda m: json.dumps(m[0])[1:-1], text)
    out(text)


def err(text: str) -> None:
    try:
        write(sys.stderr, text + "\n")
    except (OSError, ValueError):
        silence(sys.stderr)  # there is nowhere left to say it


def write(stream: Any, text: str) -> None:
    if stream is None:
        return
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        if encoding.casefold().replace("-", "") == "utf8":
            text = text.encode("utf-8", "backslashreplace").decode("utf-8")
        else:
            from compare.report.terminal import plain_characters

            text = plain_characters(text.replace("→", "->"))
    stream.write(text)
    stream.flush()


def line_in() -> tuple[str | None, bool]:
    """(the next line of standard input, None at its end; whether it must be shown: nobody saw it
    typed).
    """
    if sys.stdin is None:
        return None, False
    try:
        raw = sys.stdin.buffer.readline()
    except (OSError, ValueError):
        return None, False
    if not raw:
        return None, False
    line = raw.decode(getattr(sys.stdin, "encoding", None) or "utf-8", "replace").rstrip("\r\n")
    shown = "".join(c if c.isprintable() else " " for c in line)
    return shown, not sys.stdin.isatty()


def screen() -> tuple[int, bool]:
    """(width, whether to use colours) of standard output."""
    columns = os.environ.get("COLUMNS", "")
    terminal = sys.stdout is not None and sys.stdout.isatty()
    if columns.isdigit() and int(columns) > 0:
        width = int(columns)
    elif terminal:
        try:
            width = os.get_terminal_size(sys.stdout.fileno()).columns
        except OSError:
            width = 80
    else:
        width = PIPED_WIDTH
    return min(max(width, 40), 160), terminal and not os.environ.get("NO_COLOR") and os.environ.get(
        "TERM"
    ) != "dumb"


def progress(what: str) -> Callable[[int, int], None] | None:
    """A bar on standard error, only where that is a terminal and only for long runs."""
    if sys.stderr is None or not sys.stderr.isatty():
        return None
    import time

    began = time.monotonic()
    shown = [False]

    def tell(done: int, whole: int) -> None:
        if time.monotonic() - began < 1.0 and not shown[0]:
            return
        shown[0] = True
        filled = 30 * done // max(whole, 1)
        end = "\r\x1b[K" if done >= whole else ""
        sys.stderr.write(f"\r[{'#' * filled}{'.' * (30 - filled)}] {done} of {whole} {what}{end}")
        sys.stderr.flush()

    return tell
