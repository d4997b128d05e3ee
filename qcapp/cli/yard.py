"""Enters people and batches of a file."""

import json
from pathlib import Path
from typing import Annotated

import typer

from qcapp.scenario.yard_file import load_yard_file
from qcapp.settings import Settings
from qcapp.store.registry import batches, checklists, people
from qcapp.usecases.open_store import open_store

AsJson = Annotated[bool, typer.Option("--json", help="print JSON instead of text")]


def yard(
    file: Annotated[Path, typer.Argument(help="YAML with people and batches; the guide shows one")],
    as_json: AsJson = False,
) -> None:
    """Enters people and batches, or changes those whose code is already here."""
    store = open_store(Settings())
    with store.writing() as connection:
        current = checklists.list_current_checklists(connection)
        found = load_yard_file(file, {checklist.id: checklist for checklist in current})
        people.save_people(connection, found.list_people())
        batches.save_batches(connection, found.list_batches())
    answer = {"people": len(found.people), "batches": len(found.batches)}
    print(
        json.dumps(answer)
        if as_json
        else f"{answer['people']} people and {answer['batches']} batches entered; phones get them at their next contact"
    )
