"""LibreOffice without a screen: one conversion, recalculated, with a profile of its own."""

from __future__ import annotations

import subprocess
from pathlib import Path

# Recalculate always on loading: without it cached values are trusted.
_RECALCULATE = (
    '<?xml version="1.0" encoding="UTF-8"?><oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema" '
    'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"><item oor:path="/org.openoffice.Office.Calc/Formula/Load">'
    '<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item></oor:items>'
)


def convert(soffice: str, path: Path, kind: str, place: Path) -> Path:
    """Convert a file; the output must exist, since LibreOffice returns 0 for input that it could not read too."""
    profile = place / "profile"
    registry = profile / "user" / "registrymodifications.xcu"
    registry.parent.mkdir(parents=True, exist_ok=True)
    registry.write_text(_RECALCULATE, encoding="utf-8")
    out = place / "out"
    made = out / (path.stem + "." + kind.split(":")[0])
    made.unlink(missing_ok=True)
    subprocess.run([soffice, "--headless", f"-env:UserInstallation=file://{profile}", "--convert-to", kind, "--outdir", str(out), str(path)], check=True, capture_output=True, timeout=900)
    if not made.exists() or not made.stat().st_size:
        raise AssertionError(f"LibreOffice wrote no {made.name}")
    return made
