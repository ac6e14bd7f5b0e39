"""Makes everything in the repository that the program itself can print; `--check` says what is not current.

Pages: catalogs/reference.md, catalogs/measuring.md, reports/demo.txt, reports/demo-detail.txt, parts of README.md.
The workbook and its pictures are made too, but compared by content in the tests, since their bytes carry dates.
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
sys.path.insert(0, str(ROOT))
DEMO = ["catalogs/demo.csv", "--car", "catalogs/pellow-van.toml", "--parts", "catalogs/demo-parts.csv"]
DETAIL = "Hawes 5"
PICTURES = {"Ranking": "ranking.png", "What-if": "what-if.png", "Layout": "layout.png"}


def run(*words: str, width: int = 80) -> str:
    """What the command prints, piped, at a width."""
    environment = os.environ | {"COLUMNS": str(width), "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run([sys.executable, "-m", "compare", *words], cwd=ROOT, env=environment, capture_output=True, text=True, encoding="utf-8", check=False)
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr)
    return done.stdout


def pages() -> dict[str, str]:
    """Path -> text of every page that can be made."""
    from compare.forms import measuring_guide, reference_page
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
        "README.md": readme,
    }


def shortened(report: str) -> str:
    """The ranked table and the first reasons."""
    table, _, rest = report.partition("\nWhy\n")
    return table + "\nWhy\n" + "".join(line + "\n" for line in rest.split("\n\n")[0].splitlines()[:12]) + "...\n"


def between(text: str, mark: str, content: str) -> str:
    """Replace what stands between two marks of a page."""
    return re.sub(rf"(<!-- {mark}: begin -->\n).*?(<!-- {mark}: end -->)", lambda m: f"{m[1]}{content}\n{m[2]}", text, flags=re.DOTALL)


def pictures(book: Path) -> None:
    """Pictures of three sheets, by way of LibreOffice and pdftoppm."""
    with tempfile.TemporaryDirectory() as place:
        subprocess.run(["soffice", "--headless", f"-env:UserInstallation=file://{place}/profile", "--convert-to", "pdf", "--outdir", place, str(book)], check=True, capture_output=True)
        pdf = Path(place) / (book.stem + ".pdf")
        for number in range(1, 60):
            text = subprocess.run(["pdftotext", "-f", str(number), "-l", str(number), str(pdf), "-"], capture_output=True, text=True, check=False).stdout
            for sheet, name in PICTURES.items():
                if f"{sheet}, page 1" in text:
                    subprocess.run(["pdftoppm", "-f", str(number), "-l", str(number), "-r", "80", "-png", "-singlefile", str(pdf), str(ROOT / "reports" / name.removesuffix(".png"))], check=True)


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
    if shutil.which("soffice") and shutil.which("pdftoppm"):
        pictures(ROOT / "reports" / "demo.xlsx")
    print("made: " + (", ".join(stale) or "nothing new") + ", reports/demo.xlsx")
    return 0


if __name__ == "__main__":
    sys.exit(main())
