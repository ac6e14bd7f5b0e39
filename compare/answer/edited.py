"""A car profile's text with the changed keys written in; comments and all other lines stay."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Sequence

from compare.vocabulary import CAR_KEYS, catalogue_terms

__all__ = ["KINDS_OF_KEYS", "edited_car", "toml_value"]

# Kinds whose values are texts, whatever they look like: a van may be called 1959.
TEXTS = ("text", "choice", "tyre")
KINDS_OF_KEYS = {(t.section, t.key): t.kind for t in CAR_KEYS}
KINDS_OF_KEYS |= {("gearbox", name): t.kind for name, t in catalogue_terms().items()}


def toml_value(text: str, kind: str = "") -> str:
    """A typed text as a TOML value of a key of some kind.

    >>> toml_value("612"), toml_value("true"), toml_value("24 1/8 in"), toml_value("[lathe, mill]")
    ('612', 'true', '"24 1/8 in"', '["lathe", "mill"]')
    >>> toml_value("1959", "text")
    '"1959"'
    """
    if kind not in TEXTS and re.fullmatch(r"[-+]?(?:0|[1-9]\d*)(?:\.\d+)?|true|false", text):
        return text
    if kind not in TEXTS and text.startswith(("[", "{")):
        try:
            tomllib.loads(f"x = {text}")
            return text
        except tomllib.TOMLDecodeError:
            pass
        if text.startswith("[") and text.endswith("]") and not set("[]{}") & set(text[1:-1]):
            return (
                "["
                + ", ".join(toml_value(t.strip()) for t in text[1:-1].split(",") if t.strip())
                + "]"
            )
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def edited_car(text: str, keys: Iterable[tuple[str, str, str]]) -> str:
    """A profile with keys written in, each (section, key, text; "" takes it out); comments and all
    other lines stay as they are.

    Raises ValueError where the result would not hold what was typed.
    """
    changes = [(section, key, _value(section, key, typed)) for section, key, typed in keys]
    for section, key, value in changes:
        text = _with_key(text, section, key, value)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"the profile could not be edited: {error}") from None
    for section, key, value in changes:
        wanted = None if value is None else tomllib.loads(f"x = {value}")["x"]
        if data.get(section, {}).get(key) != wanted:
            raise ValueError(f"{section}.{key} could not be edited")
    return text


def _value(section: str, key: str, typed: str) -> str | None:
    return toml_value(typed, KINDS_OF_KEYS.get((section, key), "")) if typed else None


def _with_key(text: str, section: str, key: str, value: str | None) -> str:
    """The text with one key set, or taken out."""
    lines = text.split("\n")
    head = re.compile(rf"\s*\[\s*{re.escape(section)}\s*\]\s*(#.*)?$")
    start = next((i for i, line in enumerate(lines) if head.match(line)), None)
    if start is None:
        return text if value is None else text.rstrip("\n") + f"\n\n[{section}]\n{key} = {value}\n"
    stop = next(
        (
            i
            for i in range(start + 1, len(lines))
            if re.match(r"\s*\[", lines[i]) and not _inside(lines, start, i)
        ),
        len(lines),
    )
    pattern = re.compile(rf'\s*"?{re.escape(key)}"?\s*=')
    at = next((i for i in range(start + 1, stop) if pattern.match(lines[i])), None)
    if at is None:
        while stop > start + 1 and not lines[stop - 1].strip():
            stop -= 1
        return (
            text if value is None else "\n".join([*lines[:stop], f"{key} = {value}", *lines[stop:]])
        )
    last = at
    while last + 1 < stop and _inside(lines, at - 1, last + 1):
        last += 1
    note = re.search(r'(?<=["\d\]\w])(\s+#[^"\']*)$', lines[last])
    new = [] if value is None else [f"{key} = {value}{note[1] if note else ''}"]
    return "\n".join([*lines[:at], *new, *lines[last + 1 :]])


def _inside(lines: Sequence[str], after: int, at: int) -> bool:
    """Whether line `at` still belongs to a value begun after line `after`: brackets are open."""
    open_ = 0
    for line in lines[after + 1 : at]:
        bare = re.sub(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'', "", line).split("#")[0]
        if re.match(r"\s*\[[^=]*\]\s*$", bare) and not open_:
            continue
        open_ += sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}")
    return open_ > 0
