"""Known weaknesses of the installed packages: python3 -m tests.audit (from tests/.venv).

Exit 0: looked up, none known in what the product needs. 1: some are known there, printed. 77: could
not be looked up. A weakness of a tool that only the tests use is printed and fails nothing.
pip-audit itself ends with 0 and "none found" when a mirror knows no advisories at all, so what it
looked up is counted here.
"""

import json
import subprocess
import sys
import tomllib
from collections.abc import Collection
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

PROJECT = Path(__file__).resolve().parent.parent / "pyproject.toml"
SKIPPED = 77
MAX_S = 180
COMMAND = [
    sys.executable,
    "-m",
    "pip_audit",
    "--format",
    "json",
    "--progress-spinner",
    "off",
    "--skip-editable",
    "--timeout",
    "15",
]


def list_needed() -> set[str]:
    """Names of the packages that the product needs, and those that they need;
    the tests' own are not among them.
    """
    todo = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]["dependencies"]
    needed: set[str] = set()
    while todo:
        requirement = Requirement(todo.pop())
        name = canonicalize_name(requirement.name)
        if name in needed or not (
            requirement.marker is None or requirement.marker.evaluate({"extra": ""})
        ):
            continue
        needed.add(name)
        todo += _list_required(name)
    return needed


def _list_required(name: str) -> list[str]:
    try:
        return metadata.requires(name) or []
    except metadata.PackageNotFoundError:
        return []


def judge(output: str, errors: str, needed: Collection[str]) -> tuple[int, list[str]]:
    """(exit code, lines to print) from what the tool wrote; needed:
    names of the product's own packages.
    """
    try:
        packages = json.loads(output)["dependencies"]
    except (ValueError, KeyError, TypeError):
        last = errors.strip().splitlines()[-1:] or ["it said nothing"]
        return SKIPPED, [f"not looked up: {last[0][:200]}"]
    seen = [package for package in packages if "vulns" in package]
    # The project itself is in no registry; it is not among the packages to look up.
    unseen = [
        package["name"]
        for package in packages
        if "vulns" not in package and package["name"] != "qcapp"
    ]
    weak = [
        (canonicalize_name(package["name"]) in needed, _describe(package, found))
        for package in seen
        for found in package["vulns"]
    ]
    lines = [line if is_needed else f"{line} (only the tests use it)" for is_needed, line in weak]
    if any(is_needed for is_needed, _line in weak):
        return 1, lines
    if not seen:
        return SKIPPED, [f"not looked up: no advisories for any of {len(unseen)} packages here"]
    lines.append(
        f"no weakness known in {len(seen) - len({line.split()[0] for line in lines})} packages"
    )
    if unseen:
        lines.append(
            f"no advisories could be reached for {len(unseen)}: {', '.join(sorted(unseen))}"
        )
    return (SKIPPED if unseen else 0), lines


def _describe(package: dict, found: dict) -> str:
    return (
        f"{package['name']} {package['version']}: {found['id']}, mended in"
        f" {', '.join(found['fix_versions']) or 'no version yet'}"
    )


def main() -> int:
    try:
        done = subprocess.run(COMMAND, check=False, capture_output=True, text=True, timeout=MAX_S)
        code, lines = judge(done.stdout, done.stderr, list_needed())
    except subprocess.TimeoutExpired:
        code, lines = SKIPPED, [f"not looked up: no end after {MAX_S} s"]
    print("\n".join(lines))
    return code


if __name__ == "__main__":
    sys.exit(main())
