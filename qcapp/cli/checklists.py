"""Check and show checklists."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from qcapp.checklist.earlier_checks import find_unknown_checks, list_check_ids
from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.source import ChecklistError
from qcapp.cli.options import AsJson
from qcapp.cli.yard_place import open_existing
from qcapp.settings import Settings
from qcapp.usecases.load_checklists import load_current


def check_files(
    files: Annotated[list[Path], typer.Argument(help="YAML files")], as_json: AsJson = False
) -> None:
    """Prints every error of checklist files with file, line and key."""
    found = [(path, find_errors(path) or _find_unknown(path)) for path in files]
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


def _find_unknown(path: Path) -> list[ChecklistError]:
    """What it names of earlier stages, held against the checklists that lie beside it."""
    checklist = load_checklist(path)
    if not any(check.should_be_caught_by for check in checklist.checks):
        return []
    beside = [other for other in sorted(path.parent.glob("*.yaml")) if not find_errors(other)]
    by_stage = list_check_ids(load_checklist(other) for other in beside)
    text = path.read_text(encoding="utf-8")
    return find_unknown_checks(checklist, by_stage, file=path.name, text=text)


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
