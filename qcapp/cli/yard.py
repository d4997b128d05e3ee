"""Enters people and batches of a file."""

import json
from pathlib import Path
from typing import Annotated

import typer

from qcapp.cli.options import AsJson
from qcapp.cli.yard_place import open_existing
from qcapp.settings import Settings
from qcapp.usecases.enter_yard import enter_yard


def yard(
    file: Annotated[Path, typer.Argument(help="YAML with people and batches; the guide shows one")],
    as_json: AsJson = False,
) -> None:
    """Enters people and batches, or changes those whose code is already here."""
    found = enter_yard(open_existing(Settings()), file)
    answer = {"people": len(found.people), "batches": len(found.batches)}
    print(
        json.dumps(answer)
        if as_json
        else f"{answer['people']} people and {answer['batches']} batches entered; "
        "phones get them at their next contact"
    )
