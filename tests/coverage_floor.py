"""The coverage of the last whole run, lines and branches: python3 -m tests.coverage_floor.

Prints the figure of all and the files nearest the floor. Exit 1 when a file is under it, or when
a file of the package was never measured.
"""

import json
import subprocess
import sys
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent
FLOOR = 85.0
SHOWN = 10


def judge(report: dict, files: set[str]) -> tuple[int, list[str]]:
    """(exit code, lines to print) from coverage's JSON report; files: the package's, by path."""
    figures = {
        name: file["summary"]["percent_covered"]
        for name, file in report["files"].items()
        if file["summary"]["num_statements"]
    }
    lowest = sorted(figures.items(), key=lambda found: found[1])
    lines = [
        f"{name}: {figure:.1f} %{'' if figure >= FLOOR else f', under {FLOOR:.0f}'}"
        for index, (name, figure) in enumerate(lowest)
        if index < SHOWN or figure < FLOOR
    ]
    unmeasured = sorted(files - report["files"].keys())
    lines += [f"{name}: not measured" for name in unmeasured]
    lines.append(f"coverage {report['totals']['percent_covered']:.1f} % of lines and branches")
    return int(bool(unmeasured) or any(figure < FLOOR for figure in figures.values())), lines


def main() -> int:
    done = subprocess.run(
        [sys.executable, "-m", "coverage", "json", "--quiet", "-o", "-"],
        cwd=CHECKOUT,
        check=False,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        report = json.loads(done.stdout)
    except ValueError:
        print("nothing was measured: run the step tests first")
        return 1
    paths = {path.relative_to(CHECKOUT).as_posix() for path in CHECKOUT.glob("qcapp/**/*.py")}
    # Alembic runs these by their path, outside of what is measured.
    files = {path for path in paths if not path.startswith("qcapp/store/migrations/")}
    code, lines = judge(report, files)
    print("\n".join(lines))
    return code


if __name__ == "__main__":
    sys.exit(main())
