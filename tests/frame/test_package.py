"""What an installed copy carries: it must work where there is no checkout."""

import configparser
import json
import subprocess
import sys
import zipfile

import pytest

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def wheel_names(checkout, tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(
        build, cwd=checkout, check=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    (wheel,) = folder.glob("*.whl")
    return set(zipfile.ZipFile(wheel).namelist())


@pytest.mark.parametrize(
    ("folder", "place"),
    [
        ("static", "qcapp/bundled/static"),
        ("checklists", "qcapp/bundled/checklists"),
        ("qcapp/web", "qcapp/web"),
        ("qcapp/store/migrations", "qcapp/store/migrations"),
        ("qcapp/documents/templates", "qcapp/documents/templates"),
        ("qcapp/stats/tables", "qcapp/stats/tables"),
    ],
)
def test_wheel_carries_every_file_of_the_folder(checkout, wheel_names, folder, place):
    root = checkout / folder
    files = {
        path.relative_to(root).as_posix()
        for path in root.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert files
    assert {f"{place}/{name}" for name in files} <= wheel_names


def test_wheel_carries_the_demo_s_scenario(wheel_names):
    assert "qcapp/bundled/demo/scenario.yaml" in wheel_names


def test_wheel_carries_the_summary_s_schema(wheel_names):
    assert "qcapp/reports/summary.schema.json" in wheel_names


def test_wheel_carries_no_environment_or_database(wheel_names):
    assert not [
        name
        for name in wheel_names
        if "/.venv/" in name or "/.data/" in name or name.endswith(".sqlite3")
    ]


def read_block(checkout, kind):
    text = (checkout / "static" / "guide" / "install.md").read_text(encoding="utf-8")
    return text.split(f"```{kind}\n")[1].split("```")[0]


def test_commands_of_the_guide_s_service_and_container_are_commands(checkout):
    unit = configparser.ConfigParser(strict=False)
    unit.optionxform = str
    unit.read_string(read_block(checkout, "ini"))
    container = read_block(checkout, "dockerfile")
    lines = [
        unit["Service"]["ExecStart"].split()[1:],
        json.loads(container.split("CMD ")[1])[1:],
    ]
    for name, *options in lines:
        done = subprocess.run(
            [sys.executable, "-m", "qcapp", name, "--help"], check=True, capture_output=True
        )
        told = done.stdout.decode()
        assert all(one in told for one in options if one.startswith("--"))
    assert (checkout / "demo" / "requirements.lock").exists()
    assert "demo/requirements.lock" in container
