"""LibreOffice without a screen: conversions, and edits as a friend would type them."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

# Recalculate always on loading: without it cached values are trusted.
_RECALCULATE = (
    '<?xml version="1.0" encoding="UTF-8"?><oor:items xmlns:oor="http://openoffice.org/2001/registry" '
    'xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">'
    '<item oor:path="/org.openoffice.Office.Calc/Formula/Load">'
    '<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item></oor:items>'
)
_LIBRARY = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE library:{kind} PUBLIC "-//OpenOffice.org//DTD '
    'OfficeDocument 1.0//EN" "{kind}.dtd">\n'
)


def _profile(place: Path) -> Path:
    """A profile of its own: two runs that share one write nothing and still return 0."""
    profile = place / "profile"
    registry = profile / "user" / "registrymodifications.xcu"
    registry.parent.mkdir(parents=True, exist_ok=True)
    if not registry.exists():
        registry.write_text(_RECALCULATE, encoding="utf-8")
    return profile


def convert(soffice: str, path: Path, kind: str, place: Path) -> Path:
    """Convert a file; the output must exist, since LibreOffice returns 0 for input that it could not read too."""
    profile = _profile(place)
    out = place / "out"
    made = out / (path.stem + "." + kind.split(":")[0])
    made.unlink(missing_ok=True)
    command = [
        soffice,
        "--headless",
        f"-env:UserInstallation=file://{profile}",
        "--convert-to",
        kind,
        "--outdir",
    ]
    subprocess.run([*command, str(out), str(path)], check=True, capture_output=True, timeout=900)
    if not made.exists() or not made.stat().st_size:
        raise AssertionError(f"LibreOffice wrote no {made.name}")
    return made


def edit(soffice: str, path: Path, edits: Sequence[tuple[str, ...]], place: Path) -> Path:
    """Edit a workbook in LibreOffice and save it as .xlsx; gives the new file.

    edits: ("type", sheet, cell, text) as typed by hand; ("clear", sheet, cell); ("insert row", sheet, row);
    ("remove row", sheet, row); ("remove column", sheet, column).
    """
    made = place / "edited.xlsx"
    made.unlink(missing_ok=True)
    quoted = lambda text: '"' + text.replace('"', '""') + '"'
    lines = []
    for verb, sheet, *rest in edits:
        lines.append(f"s = d.Sheets.getByName({quoted(sheet)})")
        if verb == "type":
            lines.append(
                f"s.getCellRangeByName({quoted(rest[0])}).FormulaLocal = {quoted(rest[1])}"
            )
        elif verb == "clear":
            lines.append(f"s.getCellRangeByName({quoted(rest[0])}).clearContents(23)")
        elif verb == "insert row":
            lines.append(f"s.Rows.insertByIndex({int(rest[0]) - 1}, 1)")
        elif verb == "remove row":
            lines.append(f"s.Rows.removeByIndex({int(rest[0]) - 1}, 1)")
        elif verb == "remove column":
            lines.append(
                f's.Columns.removeByIndex(s.getCellRangeByName("{rest[0]}1").CellAddress.Column, 1)'
            )
    _run_basic(soffice, path, made, lines, place)
    if not made.exists():
        raise AssertionError("LibreOffice saved nothing")
    return made


def _run_basic(soffice: str, path: Path, made: Path, lines: Sequence[str], place: Path) -> None:
    code = "\n".join(
        [
            "Sub Main",
            "Dim opts(0) As New com.sun.star.beans.PropertyValue",
            'opts(0).Name = "Hidden"',
            "opts(0).Value = True",
            f'd = StarDesktop.loadComponentFromURL(ConvertToURL("{path}"), "_blank", 0, opts())',
            *lines,
            "Dim outs(0) As New com.sun.star.beans.PropertyValue",
            'outs(0).Name = "FilterName"',
            'outs(0).Value = "Calc MS Excel 2007 XML"',
            f'd.storeToURL(ConvertToURL("{made}"), outs())',
            "d.close(True)",
            "End Sub",
        ]
    )
    profile = _profile(place)
    command = [
        soffice,
        "--headless",
        "--norestore",
        "--nologo",
        f"-env:UserInstallation=file://{profile}",
    ]
    if not (profile / "user" / "basic").exists():  # a first start puts its own macros in place
        subprocess.run(
            [*command, "--terminate_after_init"], check=True, capture_output=True, timeout=300
        )
    basic = profile / "user" / "basic"
    (basic / "Standard").mkdir(parents=True, exist_ok=True)
    escaped = (
        code.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    )
    space = 'xmlns:library="http://openoffice.org/2000/library" xmlns:xlink="http://www.w3.org/1999/xlink"'
    files = {
        basic / "script.xlc": _LIBRARY.format(kind="libraries")
        + f"<library:libraries {space}><library:library "
        'library:name="Standard" xlink:href="$(USER)/basic/Standard/script.xlb/" xlink:type="simple" '
        'library:link="false"/></library:libraries>',
        basic / "Standard" / "script.xlb": _LIBRARY.format(kind="library")
        + f"<library:library {space} "
        'library:name="Standard" library:readonly="false" library:passwordprotected="false">'
        '<library:element library:name="Module1"/></library:library>',
        basic
        / "Standard"
        / "Module1.xba": '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE script:module PUBLIC '
        '"-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">\n<script:module '
        'xmlns:script="http://openoffice.org/2000/script" script:name="Module1" script:language="StarBasic">'
        f"{escaped}</script:module>",
    }
    for target, text in files.items():
        target.write_text(text, encoding="utf-8")
    subprocess.run(
        [*command, "macro:///Standard.Module1.Main"], check=True, capture_output=True, timeout=300
    )


def convert_all(soffice: str, paths: Sequence[Path], kind: str, place: Path) -> list[Path]:
    """Convert several files with one start of the program."""
    out = place / "many"
    profile = _profile(place)
    made = [out / (path.stem + "." + kind) for path in paths]
    for path in made:
        path.unlink(missing_ok=True)
    command = [
        soffice,
        "--headless",
        f"-env:UserInstallation=file://{profile}",
        "--convert-to",
        kind,
        "--outdir",
    ]
    subprocess.run(
        [*command, str(out), *map(str, paths)], check=True, capture_output=True, timeout=900
    )
    for path in made:
        if not path.exists() or not path.stat().st_size:
            raise AssertionError(f"LibreOffice wrote no {path.name}")
    return made
