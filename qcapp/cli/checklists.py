"""Check and show checklists."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from qcapp.checklist.load import find_errors, load_checklist
from qcapp.cli.yard_place import open_existing
from qcapp.settings import Settings
from qcapp.usecases.load_checklists import load_current

AsJson = Annotated[bool, typer.Option("--json", help="print JSON instead of text")]


def check_files(
    files: Annotated[list[Path], typer.Argument(help="YAML files")], as_json: AsJson = False
) -> None:
    """Prints every error of checklist files with file, line and key."""
    found = [(path, find_errors(path)) for path in files]
    if as_json:
        print(
            json.dumps(
                {str(path): [vars(error) for error in errors] for path, errors in found},
                default=str,
            )
        )
    for path, errors in found:
        for error in errors:
            print(f"qcapp: {error}", file=sys.stderr)
        if not errors and not as_json:
            checklist = load_checklist(path)
            print(f"{path}: good, {len(checklist.checks)} checks, hash {checklist.hash[:12]}")
    if any(errors for _path, errors in found):
        raise typer.Exit(1)


def show_checklist(
    checklist_id: Annotated[str, typer.Argument(metavar="ID")], as_json: AsJson = False
) -> None:
    """Shows the current revision of a checklist."""
    checklist = load_current(open_existing(Settings()), checklist_id)
    key, compiled = checklist.hash, checklist.compiled()
    if as_json:
        print(json.dumps({"hash": key, **compiled}, ensure_ascii=False))
        return
    print(
        f"{compiled['title']['en']} ({compiled['id']} revision {compiled['revision']}, hash "
        f"{key[:12]})"
    )
    for check in compiled["checks"]:
        print(
            f"  {check['part']:16} {check['severity']:8} {check['kind']:10} {check['ask']['en']}  "
            f"[{check['basis']}]"
        )
