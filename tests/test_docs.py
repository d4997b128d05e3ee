"""The guide and the README say what the code has: settings, commands, folders."""

import re
from pathlib import Path

import typer

from qcapp.cli import app
from qcapp.settings import Settings

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def list_commands():
    group = typer.main.get_command(app)
    for name, command in group.commands.items():
        inner = getattr(command, "commands", None)
        yield from ([f"{name} {sub}" for sub in inner] if inner else [name])


def test_every_setting_is_in_the_readme_and_no_other():
    named = set(re.findall(r"`(QCAPP_[A-Z_]+)`", README))
    assert named == {f"QCAPP_{name.upper()}" for name in Settings.model_fields}


def test_every_default_in_the_readme_is_the_codes():
    for name, field in Settings.model_fields.items():
        if isinstance(field.default, int):
            row = next(line for line in README.splitlines() if f"`QCAPP_{name.upper()}`" in line)
            assert f"({field.default})" in row, name


def test_every_command_is_in_the_readme():
    for command in list_commands():
        assert f"`qcapp {command}" in README, command


def test_every_folder_of_the_package_is_in_the_guide():
    for folder in (ROOT / "qcapp").iterdir():
        if folder.is_dir() and folder.name not in ("__pycache__", "bundled"):
            assert f"  {folder.name}/" in GUIDE, folder.name


def test_every_picture_in_the_readme_is_there():
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert len(pictures) >= 3
    for picture in pictures:
        assert (ROOT / picture).is_file(), picture


def test_relative_links_lead_somewhere():
    for page in (README, GUIDE):
        for link in re.findall(r"\]\((?!http)([^)#]+)", page):
            assert (ROOT / link).exists(), link
