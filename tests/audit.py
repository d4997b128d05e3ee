"""Known weaknesses of the installed packages: python3 -m tests.audit (from tests/.venv).

Exit 0: looked up, none known. 1: some are known, printed. 77: could not be looked up. The tool itself
ends with 0 and "none found" when a mirror knows no advisories at all, so what it looked up is counted here.
"""

import json
import subprocess
import sys

SKIPPED = 77
COMMAND = [sys.executable, "-m", "pip_audit", "--format", "json", "--progress-spinner", "off", "--skip-editable", "--timeout", "15"]


def judge(output: str, errors: str) -> tuple[int, list[str]]:
    """(exit code, lines to print) from what the tool wrote."""
    try:
        packages = json.loads(output)["dependencies"]
    except (ValueError, KeyError, TypeError):
        last = errors.strip().splitlines()[-1:] or ["it said nothing"]
        return SKIPPED, [f"not looked up: {last[0][:200]}"]
    seen = [package for package in packages if "vulns" in package]
    # The project itself is in no registry; it is not among the packages to look up.
    unseen = [package["name"] for package in packages if "vulns" not in package and package["name"] != "qcapp"]
    weak = [(package, weakness) for package in seen for weakness in package["vulns"]]
    if weak:
        fixed = [f"{p['name']} {p['version']}: {w['id']}, mended in {', '.join(w['fix_versions']) or 'no version yet'}" for p, w in weak]
        return 1, fixed
    if not seen:
        return SKIPPED, [f"not looked up: no advisories for any of {len(unseen)} packages can be reached from here"]
    missing = [f"no advisories could be reached for {len(unseen)}: {', '.join(sorted(unseen))}"] if unseen else []
    return (SKIPPED if unseen else 0), [f"no weakness known in {len(seen)} packages", *missing]


def main() -> int:
    done = subprocess.run(COMMAND, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=600)
    code, lines = judge(done.stdout, done.stderr)
    print("\n".join(lines))
    return code


if __name__ == "__main__":
    sys.exit(main())
