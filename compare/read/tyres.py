"""Tyre codes as on the side wall, with any separator, speed letters and ply marks."""

from __future__ import annotations

import re
from dataclasses import dataclass

from compare.problems import CellError, visible
from compare.read.numbers import clean

__all__ = ["TyreSize", "parse_tyre"]


@dataclass(frozen=True)
class TyreSize:
    """A tyre code taken apart:

    width [mm], aspect [-], rim [mm], radial or not, relative doubt of the diameter.
    """

    width: float
    aspect: float
    rim: float
    radial: bool
    scale_half: float
    aspect_half: float
    advice: str = ""


# What follows the size and says nothing of it: load and speed, plies, tubeless, strengthened, mud
# and snow.
_REST = (
    r"(?:[ ,]+(?:\d{2,3}(?:/\d{2,3})? ?[a-z]\d?|\(?\d{2,3}[a-z]{1,2}\)?|\d{1,2} ?-?(?:pr|ply|"
    r"plies)(?: rating)?|[a-z]"
    r"|tl|tt|tubeless|tubed|xl|rf|reinforced|extra load|m ?[+&] ?s|c|lt|radial|cross-?ply|"
    r"crossply))*"
)
_BETWEEN = r"[ /x.-]?"
_METRIC = re.compile(
    rf"(?:p|lt)? ?(?P<width>\d{{3}}) ?(?:[/x. -] ?(?P<aspect>\d{{2,3}}))? ?(?:/ "
    rf"?)?(?P<build>[a-z]{{0,2}}r|-|d|b|/|x|\.|) ?"
    rf"(?P<rim>\d{{2}}(?:[.,]5)?)(?:c|lt)?{_REST}",
    re.I | re.ASCII,
)
_INCH = re.compile(
    rf"(?P<section>\d{{1,2}}[.,]\d{{2}}) ?(?P<build>[a-z]{{0,2}}r|-|x|/|d|b|) "
    rf"?(?P<rim>\d{{2}})(?:c|lt)?{_REST}",
    re.I | re.ASCII,
)
_LETTER = re.compile(r"[a-z]{1,2} ?r? ?\d{2} ?[-/ ]? ?\d{2}", re.I | re.ASCII)
_EXAMPLE = "Type it as on the side wall: 165/80R13."


def parse_tyre(text: str) -> TyreSize:
    """Take a tyre code apart. ISO 4000-1 for metric codes; inch cross-ply codes are estimates.

    Raises CellError.

    A radial code with no aspect counts as 82 % with a doubt that takes in 80 %; an inch cross-ply
    section stands 0.95 of its width high (0.87 for widths ending in .00 or .50), ± 3 % of the
    diameter.

    >>> size = parse_tyre("185/65R15")
    >>> size.width, size.aspect, round(size.rim, 1), size.radial
    (185.0, 0.65, 381.0, True)
    """
    plain = " ".join(clean(text).split())
    found = _METRIC.fullmatch(plain)
    if found:
        return _metric(found, text)
    found = _INCH.fullmatch(plain)
    if found:
        return _inch(found, text)
    if _LETTER.fullmatch(plain):
        raise CellError(
            f'"{visible(text)}" is a letter code, for which there is no formula.',
            'Leave size out and type rolling_circumference = "1950 mm" as measured: chalk, five '
            "turns, divide.",
        )
    raise CellError(
        f'"{visible(text)}" is not a tyre size.',
        "Type it as on the side wall: 165/80R13, 155R13 or 5.60-15.",
        ("165/80R13", "155R13", "5.60-15"),
    )  # fmt: skip


def _metric(found: re.Match[str], text: str) -> TyreSize:
    width, rim = float(found["width"]), float(found["rim"].replace(",", "."))
    known = found["aspect"] is not None
    aspect = float(found["aspect"]) if known else 82.0
    if not (100 <= width <= 400 and 8 <= rim <= 25 and 20 <= aspect <= 100):
        raise CellError(f'"{visible(text)}" is not a possible tyre size.', _EXAMPLE, ("165/80R13",))
    # A lone hyphen before the rim stands for a diagonal carcass (ISO 4000-1), unless all marks are
    # hyphens.
    build = found["build"].lower()
    hyphens = re.match(r"\D*\d{3} ?- ?\d{2,3} ?- ?\d{2}", clean(text)) is not None
    radial = build not in ("-", "d", "b") or (hyphens and build == "-")
    return TyreSize(width, aspect / 100, rim * 25.4, radial, 0.0, 0.0 if known else 0.02)


def _inch(found: re.Match[str], text: str) -> TyreSize:
    section, rim = float(found["section"].replace(",", ".")), float(found["rim"])
    if not (3 <= section <= 12 and 8 <= rim <= 25):
        raise CellError(
            f'"{visible(text)}" is not a possible tyre size.',
            "Type it as on the side wall: 5.60-15.",
            ("5.60-15",),
        )
    if found["build"].lower().endswith("r"):
        # An inch radial stands as high as a metric one without aspect.
        return TyreSize(section * 25.4, 0.82, rim * 25.4, True, 0.0, 0.02)
    low = found["section"][-2:] in ("00", "50")
    advice = "the size of an inch cross-ply tyre is an estimate: measure the rolling circumference"
    return TyreSize(section * 25.4, 0.87 if low else 0.95, rim * 25.4, False, 0.03, 0.0, advice)
