"""Setting up on a fresh machine: what is checked, when an environment is made anew,
what is said.
"""

import ast
import importlib.util
import sys

import pytest


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

    def __init__(self, environment):
        self.environment, self.commands, self.fails_at = environment, [], None

    def run(self, command, checkout, folder):
        self.commands.append("venv" if "venv" in command else "pip")
        if self.commands[-1] == self.fails_at:
            raise KeyboardInterrupt
        python = self.environment.environment_python(folder)
        python.parent.mkdir(parents=True, exist_ok=True)
        python.touch()


@pytest.fixture
def installer(environment, monkeypatch):
    installer = Installer(environment)
    monkeypatch.setattr(environment, "_run_logged", installer.run)
    return installer


@pytest.fixture
def ready(environment, tmp_path):
    """Call it to make or reuse the environment of a checkout whose path has a space."""
    checkout = tmp_path / "my stoves"
    checkout.mkdir()
    (checkout / "pyproject.toml").write_text("[project]\nname = 'a'\n")
    said = []

    def make_ready(extras=""):
        said.clear()
        python = environment.ready_environment(
            checkout / ".venv", checkout, extras, say=said.append
        )
        assert python == environment.environment_python(checkout / ".venv")
        return list(said)

    make_ready.checkout = checkout
    return make_ready


def test_first_run_makes_and_installs_and_says_one_line_a_step(installer, ready):
    assert len(ready()) == 2
    assert installer.commands == ["venv", "pip"]


def test_second_run_reuses_in_silence(installer, ready):
    ready()
    assert ready() == []
    assert installer.commands == ["venv", "pip"]


def test_changed_pyproject_makes_it_anew(installer, ready):
    ready()
    (ready.checkout / "pyproject.toml").write_text("[project]\nname = 'b'\n")
    ready()
    assert installer.commands == ["venv", "pip"] * 2


@pytest.mark.parametrize("step", ["venv", "pip"])
def test_interrupted_run_is_begun_anew(installer, ready, step):
    installer.fails_at = step
    with pytest.raises(KeyboardInterrupt):
        ready()
    installer.fails_at, installer.commands = None, []
    leftover = ready.checkout / ".venv" / "leftover"
    leftover.parent.mkdir(exist_ok=True)
    leftover.touch()
    ready()
    assert installer.commands == ["venv", "pip"]
    assert not leftover.exists()


def test_other_extras_make_it_anew(installer, ready):
    ready()
    ready("[test]")
    assert installer.commands == ["venv", "pip"] * 2


def test_failed_command_shows_its_last_lines_and_what_to_do(environment, tmp_path):
    command = [sys.executable, "-c", "import sys; print('no such package'); sys.exit(1)"]
    with pytest.raises(
        environment.CannotPrepare, match=r"(?s)no such package.*network.*start again"
    ):
        environment._run_logged(command, tmp_path, tmp_path / ".venv")


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


@pytest.mark.parametrize(
    "name", ["demo/environment.py", "demo/run.py", "tests/run.py", "tests/programs.py"]
)
def test_old_python_can_read_the_file_far_enough_to_say_so(checkout, name):
    ast.parse((checkout / name).read_text(encoding="utf-8"), feature_version=(3, 6))


@pytest.mark.parametrize(
    "name", ["demo/environment.py", "demo/run.py", "tests/run.py", "tests/programs.py"]
)
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
        "environment",
        "programs",
    }
