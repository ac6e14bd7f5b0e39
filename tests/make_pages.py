"""Makes everything in the repository that the program itself can print; `--check` says what is not current.

Pages: catalogs/reference.md, catalogs/measuring.md, reports/demo.txt, reports/demo-detail.txt, reports/ask.txt, the
papers of one candidate, parts of README.md. The workbook and the pictures are made too, but not compared: their bytes carry dates.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
DEMO = ["catalogs/demo.csv", "--car", "catalogs/pellow-van.toml", "--parts", "catalogs/demo-parts.csv"]
DETAIL = "Garth 5"
PAPERS = "Keld 5"
# Pictures: of the workbook by the footer of its sheet, of the papers by a heading on the page.
SHEETS = {"Decision": "decision", "What-if": "what-if"}
HEADINGS = {"Machinist's order": "order", "Where it sits": "seat"}


def run(*words: str, width: int = 80) -> str:
    """What the command prints, piped, at a width."""
    environment = os.environ | {"COLUMNS": str(width), "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(
        [sys.executable, "-m", "compare", *words], cwd=ROOT, env=environment, capture_output=True, text=True,
        encoding="utf-8", check=False,
    )  # fmt: skip
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr)
    return done.stdout


def papers(name: str) -> str:
    """The papers of one candidate as HTML."""
    with tempfile.TemporaryDirectory() as place:
        run("papers", DEMO[0], name, *DEMO[1:], "--folder", place)
        return next(Path(place).glob("*.html")).read_text(encoding="utf-8")


def pages() -> dict[str, str]:
    """Path -> text of every page that can be made."""
    from compare.forms import measuring_guide
    from compare.reference import reference_page
    from compare.words import CAUTIONS

    report = run("rank", *DEMO, "--no-workbook")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    readme = between(readme, "example", "```text\n" + shortened(report) + "```")
    readme = between(readme, "cautions", "\n".join(f"- {line}" for line in CAUTIONS))
    return {
        "catalogs/reference.md": reference_page(),
        "catalogs/measuring.md": measuring_guide(),
        "reports/demo.txt": report,
        "reports/demo-detail.txt": run("detail", "catalogs/demo.csv", DETAIL, *DEMO[1:]),
        "reports/keld-5.html": papers(PAPERS),
        "reports/ask.txt": conversation(),
        "README.md": readme,
    }


def conversation() -> str:
    """A session of ask, its answers the demo's numbers, as the screen shows it."""
    from scripted import session

    with tempfile.TemporaryDirectory() as place:
        screen = session(Path(place) / "my-swap", 45).screen
        return screen.replace(str(Path(place) / "my-swap"), "my-swap")


def shortened(report: str) -> str:
    """The report without what stands in README.md anyway."""
    return report.partition("\nCautions\n")[0].rstrip() + "\n"


def between(text: str, mark: str, content: str) -> str:
    """Replace what stands between two marks of a page."""
    return re.sub(rf"(<!-- {mark}: begin -->\n).*?(<!-- {mark}: end -->)", lambda m: f"{m[1]}{content}\n{m[2]}", text, flags=re.DOTALL)


def pictures(place: Path) -> None:
    """Pictures of sheets and papers, by way of LibreOffice, Chromium and poppler."""
    book = ROOT / "reports" / "demo.xlsx"
    if shutil.which("soffice"):
        words = ["soffice", "--headless", f"-env:UserInstallation=file://{place}/profile", "--convert-to", "pdf"]
        subprocess.run([*words, "--outdir", str(place), str(book)], check=True, capture_output=True)
        picture(place / "demo.pdf", {f"{sheet} · made by": name for sheet, name in SHEETS.items()})
    if shutil.which("chromium"):
        page = (ROOT / "reports" / "keld-5.html").as_uri()
        target = place / "papers.pdf"
        words = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
        subprocess.run([*words, f"--print-to-pdf={target}", page], check=True, capture_output=True)
        picture(target, HEADINGS)


def picture(pdf: Path, wanted: dict[str, str]) -> None:
    """Of the first page that bears each text."""
    for text, name in wanted.items():
        for number in range(1, 60):
            words = ["pdftotext", "-f", str(number), "-l", str(number), str(pdf), "-"]
            page = subprocess.run(words, capture_output=True, text=True, check=False).stdout
            if any(line.startswith(text) for line in page.splitlines()):
                out = str(ROOT / "reports" / name)
                words = ["pdftoppm", "-f", str(number), "-l", str(number), "-r", "70", "-png", "-singlefile", str(pdf), out]
                subprocess.run(words, check=True)
                break


def main() -> int:
    check = "--check" in sys.argv
    stale = []
    for name, text in pages().items():
        path = ROOT / name
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            stale.append(name)
            if not check:
                path.write_text(text, encoding="utf-8")
    if check:
        for name in stale:
            print(f"{name} is not current: run python tests/make_pages.py")
        return 1 if stale else 0
    run("rank", *DEMO, "--workbook", "reports/demo.xlsx")
    if shutil.which("pdftoppm"):
        with tempfile.TemporaryDirectory() as place:
            pictures(Path(place))
    print("made: " + (", ".join(stale) or "nothing new") + ", reports/demo.xlsx")
    return 0


if __name__ == "__main__":
    sys.exit(main())
