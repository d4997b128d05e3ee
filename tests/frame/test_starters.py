"""The two commands of the README, as far as they go before anything is installed."""

import importlib.util
import stat
import subprocess
import sys

import pytest


def run(checkout, *command, cwd=None, **more):
    return subprocess.run(
        [sys.executable, *command],
        cwd=cwd or checkout,
        check=False,
        text=True,
        capture_output=True,
        **more,
    )


def test_demo_tells_its_flags_from_any_directory_without_installing(checkout, tmp_path):
    done = run(checkout, str(checkout / "demo" / "run.py"), "--help", cwd=tmp_path)
    assert done.returncode == 0
    assert all(flag in done.stdout for flag in ("--port", "--fresh", "--no-serve"))


@pytest.mark.parametrize("word", ["--quick", "quick"])
def test_unknown_word_of_the_test_command_is_bad_usage(checkout, word):
    done = run(checkout, "tests/run.py", word)
    assert done.returncode == 2
    assert word in done.stderr


def test_ci_runs_the_test_command(checkout):
    script = checkout / ".ci" / "run"
    assert stat.S_IMODE(script.stat().st_mode) & stat.S_IXUSR
    assert "exec python3 tests/run.py" in script.read_text()


def load_starter(checkout, monkeypatch, name):
    """The starter as a module, with its own folder forgotten afterwards."""
    monkeypatch.setattr(sys, "path", list(sys.path))
    spec = importlib.util.spec_from_file_location(
        "starter_" + name.replace("/", "_"), checkout / name / "run.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def runner(checkout, monkeypatch):
    return load_starter(checkout, monkeypatch, "tests")


def test_first_failing_step_gives_the_exit_code_and_the_others_still_run(runner, capsys):
    ran = []

    def step(code):
        return lambda: ran.append(code) or code

    assert runner.run_steps([("a", step(0)), ("b", step(3)), ("c", step(5))]) == 3
    assert ran == [0, 3, 5]
    assert [line.split()[1] for line in capsys.readouterr().out.splitlines()[-3:]] == [
        "ok",
        "FAILED",
        "FAILED",
    ]


def test_step_out_of_reach_is_said_and_is_neither_passed_nor_failed(runner, capsys):
    assert runner.run_steps([("a", lambda: 0), ("b", lambda: runner.SKIPPED)]) == 0
    assert capsys.readouterr().out.splitlines()[-1].split()[1] == "SKIPPED"


def test_browser_that_may_not_be_installed_stops_the_run(runner, monkeypatch):
    monkeypatch.setattr(runner.shutil, "which", lambda name, path=None: None)
    monkeypatch.setattr(runner, "find_postgresql", lambda: "here")
    with pytest.raises(runner.CannotPrepare, match=r"no chromium and libnss3-tools here.*fast"):
        runner.ready_programs(["tests"])


def test_quicker_browser_is_tried_for_and_the_run_goes_on_without_it(runner, monkeypatch):
    asked = []
    monkeypatch.setattr(runner.shutil, "which", lambda name, path=None: None)
    monkeypatch.setattr(runner, "may_install", lambda: True)
    monkeypatch.setattr(runner, "install_packages", asked.extend)
    runner.ready_quicker_browser(["lint"])
    assert asked == []
    runner.ready_quicker_browser(["browser"])
    assert asked == [runner.WINDOWLESS_CHROMIUM]


def test_database_that_may_not_be_installed_stops_the_run(runner, monkeypatch):
    monkeypatch.setattr(runner.shutil, "which", lambda name, path=None: name)
    monkeypatch.setattr(runner, "find_chromium", lambda: "here")
    monkeypatch.setattr(runner, "find_postgresql", lambda: None)
    monkeypatch.delattr(runner.os, "geteuid")
    with pytest.raises(runner.CannotPrepare, match="no postgresql here"):
        runner.ready_programs(["tests"])


def test_fast_step_needs_no_program_of_the_system(runner, monkeypatch):
    monkeypatch.setattr(runner.shutil, "which", lambda name, path=None: None)
    monkeypatch.setattr(runner, "find_postgresql", lambda: None)
    runner.ready_programs(["fast", "lint"])


def test_only_what_is_missing_is_asked_for(runner, monkeypatch):
    here = {"chromium", "certutil"}
    monkeypatch.setattr(
        runner.shutil, "which", lambda name, path=None: name if name in here else None
    )
    monkeypatch.setattr(runner, "find_postgresql", lambda: "here")
    assert runner.list_missing(runner.WHOLE) == []
    runner.ready_programs(runner.WHOLE)
    here.remove("certutil")
    with pytest.raises(runner.CannotPrepare, match="no libnss3-tools here"):
        runner.ready_programs(runner.WHOLE)


def test_without_a_step_everything_runs_and_with_arguments_pytest_alone(runner):
    assert runner.read_arguments([]) == (list(runner.WHOLE), False, [])
    assert runner.read_arguments(["lint", "types"]) == (["lint", "types"], False, [])
    assert runner.read_arguments(["--", "-k", "word"]) == (["tests"], False, ["-k", "word"])
    assert runner.read_arguments(["--newest", "fast", "--", "-x"]) == (["fast"], True, ["-x"])


def test_no_javascript_test_at_all_is_a_failure(runner, monkeypatch, tmp_path):
    monkeypatch.setattr(runner, "CHECKOUT", tmp_path)
    assert runner.run_node(runner.Tools("python", "node", [])) == 1


def test_script_that_does_not_parse_is_named(runner, monkeypatch, tmp_path, capsys):
    (tmp_path / "static" / "phone" / "js").mkdir(parents=True)
    (tmp_path / "static" / "phone" / "js" / "good.js").write_text(
        "export const good = await Promise.resolve(1);\n"
    )
    monkeypatch.setattr(runner, "CHECKOUT", tmp_path)
    tools = runner.Tools("python", "node", [])
    assert runner.run_scripts(tools) == 0
    (tmp_path / "static" / "phone" / "js" / "bad.js").write_text("export const = 1;\n")
    assert runner.run_scripts(tools) != 0
    assert "bad.js" in capsys.readouterr().err


def test_demo_uses_its_own_database_whatever_is_set(checkout, monkeypatch, tmp_path):
    demo = load_starter(checkout, monkeypatch, "demo")
    monkeypatch.setattr(demo, "HERE", tmp_path)
    monkeypatch.setenv("QCAPP_DATABASE_URL", "sqlite:///the-yards-own.db")
    assert (
        demo.demo_surroundings()["QCAPP_DATABASE_URL"]
        == f"sqlite:///{tmp_path.as_posix()}/.data/demo.sqlite3"
    )


def test_flags_of_the_demo_are_passed_on(checkout, monkeypatch):
    demo = load_starter(checkout, monkeypatch, "demo")
    assert demo.demo_command("python", ["--port", "9000", "--fresh"])[-4:] == [
        "demo",
        "--port",
        "9000",
        "--fresh",
    ]


def test_packages_of_the_scripts_are_installed_again_when_their_lock_changes(
    runner, monkeypatch, tmp_path
):
    asked = []
    monkeypatch.setattr(runner, "PACKAGES", tmp_path)
    monkeypatch.setattr(runner.shutil, "which", lambda name: name)
    monkeypatch.setattr(
        runner.subprocess, "call", lambda command, cwd: asked.append(command[:2]) or 0
    )
    (tmp_path / "node_modules").mkdir()
    for text in ("one", "one", "two"):
        (tmp_path / "package-lock.json").write_text(text)
        runner.ready_packages()
    assert asked == [["npm", "ci"]] * 2
    (tmp_path / "package-lock.json").write_text("three")
    monkeypatch.setattr(runner.subprocess, "call", lambda command, cwd: 1)
    with pytest.raises(runner.CannotPrepare, match="npm could not install"):
        runner.ready_packages()
