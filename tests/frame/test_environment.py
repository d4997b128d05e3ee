"""Setting up on a fresh machine: what is checked, when an environment is made anew,
what is said.
"""

import ast
import importlib.util
import os
import shutil
import sys
from pathlib import Path

import pytest

# What runs before anything is installed.
STARTERS = (
    *("demo/environment.py", "demo/run.py"),
    *("tests/run.py", "tests/programs.py", "tests/quick_install.py"),
)


@pytest.fixture(scope="module")
def environment(checkout):
    """demo/environment.py as a module; it belongs to no package."""
    spec = importlib.util.spec_from_file_location(
        "demo_environment", checkout / "demo" / "environment.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


class Installer:
    """Stands for venv and pip: notes what was asked and makes what venv would make."""

    def __init__(self):
        self.commands, self.options, self.fails_at = [], [], None

    def run(self, command, checkout):
        self.options.append(command)
        self.commands.append("venv" if "venv" in command else "pip")
        if len(self.commands) == self.fails_at:
            raise KeyboardInterrupt
        if "venv" in command:
            folder = Path(command[-1])
            assert "--clear" in command
            shutil.rmtree(folder, ignore_errors=True)
            inside = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
            folder.joinpath(*inside).parent.mkdir(parents=True)
            folder.joinpath(*inside).touch()


@pytest.fixture
def installer(environment, monkeypatch):
    installer = Installer()
    monkeypatch.setattr(environment, "_run", installer.run)
    return installer


@pytest.fixture
def ready(environment, tmp_path):
    """Call it to make or reuse the environment of a checkout whose path has a space."""
    checkout = tmp_path / "my stoves"
    checkout.mkdir()
    (checkout / "pyproject.toml").write_text("[project]\nname = 'a'\n")
    lock = checkout / "requirements.lock"
    lock.write_text("one==1 --hash=sha256:0\n")
    said = []

    def make_ready(packages=lock):
        said.clear()
        python = environment.ready_environment(
            checkout / ".venv", checkout, packages, say=said.append
        )
        assert python.is_file() and python.is_relative_to(checkout / ".venv")
        return list(said)

    make_ready.checkout, make_ready.lock = checkout, lock
    return make_ready


WHOLE = ["venv", "pip", "pip"]


def test_first_run_installs_what_is_locked_then_the_checkout_and_says_so(installer, ready):
    assert len(ready()) == 1
    assert installer.commands == WHOLE
    _venv, locked, own = installer.options
    assert locked[-3:] == ["--require-hashes", "-r", str(ready.lock)]
    assert own[-4:] == ["--no-deps", "--no-build-isolation", "-e", "."]


def test_second_run_reuses_in_silence(installer, ready):
    ready()
    assert ready() == []
    assert installer.commands == WHOLE


@pytest.mark.parametrize("name", ["pyproject.toml", "requirements.lock"])
def test_changed_project_or_lock_makes_it_anew(installer, ready, name):
    ready()
    (ready.checkout / name).write_text("[project]\nname = 'b'\n")
    ready()
    assert installer.commands == WHOLE * 2


def test_changed_settings_of_a_tool_keep_it(installer, ready):
    ready()
    with (ready.checkout / "pyproject.toml").open("a") as project:
        project.write("\n[tool.ruff]\nline-length = 100\n")
    ready()
    assert installer.commands == WHOLE


@pytest.mark.parametrize("step", [1, 2, 3])
def test_interrupted_run_is_begun_anew(installer, ready, step):
    installer.fails_at = step
    with pytest.raises(KeyboardInterrupt):
        ready()
    installer.fails_at, installer.commands = None, []
    leftover = ready.checkout / ".venv" / "leftover"
    leftover.parent.mkdir(exist_ok=True)
    leftover.touch()
    ready()
    assert installer.commands == WHOLE
    assert not leftover.exists()


def test_renewal_that_is_interrupted_is_not_taken_for_the_old_one(installer, ready):
    ready()
    old = ready.lock.read_text()
    ready.lock.write_text("one==2 --hash=sha256:0\n")
    installer.commands, installer.fails_at = [], 1
    with pytest.raises(KeyboardInterrupt):
        ready()
    installer.fails_at, installer.commands = None, []
    ready.lock.write_text(old)
    ready()
    assert installer.commands == WHOLE


def test_newest_versions_in_place_of_the_lock_make_it_anew(installer, ready):
    ready()
    ready(["-e", ".[test]"])
    assert installer.commands == WHOLE * 2
    assert "--require-hashes" not in installer.options[4]


def test_failed_command_shows_its_last_lines_and_what_to_do(environment, tmp_path):
    command = [sys.executable, "-c", "import sys; print('no such package'); sys.exit(1)"]
    with pytest.raises(
        environment.CannotPrepare, match=r"(?s)no such package.*network.*start again"
    ):
        environment._run(command, tmp_path)


def test_old_python_is_told_which_one_is_needed(environment):
    with pytest.raises(environment.CannotPrepare, match=r"Python 3\.9 .*3\.11 or later is needed"):
        environment.check_python(version=(3, 9, 2))


def test_python_without_ensurepip_is_told_what_to_install(environment):
    def find_module(name):
        return None if name == "ensurepip" else object()

    with pytest.raises(
        environment.CannotPrepare, match=r"lacks its module ensurepip.*python3-venv"
    ):
        environment.check_python(find_module=find_module)


@pytest.mark.parametrize("name", STARTERS)
def test_old_python_can_read_the_file_far_enough_to_say_so(checkout, name):
    ast.parse((checkout / name).read_text(encoding="utf-8"), feature_version=(3, 6))


@pytest.mark.parametrize("name", STARTERS)
def test_starter_needs_nothing_but_the_standard_library(checkout, name):
    tree = ast.parse((checkout / name).read_text(encoding="utf-8"))
    imported = {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import)
        for alias in node.names
    }
    imported |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {found.split(".")[0] for found in imported} <= {
        *sys.stdlib_module_names,
        "engines",
        "environment",
        "programs",
        "quick_install",
    }
