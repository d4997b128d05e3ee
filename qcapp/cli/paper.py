"""Commands that print: the check sheet of a checklist, the tags of a batch."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from qcapp.cli.options import AsJson
from qcapp.errors import BadInput
from qcapp.settings import Settings
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.open_store import open_store
from qcapp.usecases.print_paper import print_sheet, print_tags
from qcapp.usecases.yard_state import read_yard_name

Out = Annotated[Path, typer.Option(help="PDF file to write")]


def sheet(
    checklist_id: Annotated[
        str, typer.Argument(metavar="ID", help="checklist, such as finished-stove")
    ],
    out: Out,
    size: Annotated[str | None, typer.Option(help="limits of this size only")] = None,
    stoves: Annotated[int, typer.Option(help="stoves on a sheet: 1 or 5")] = 1,
    batch: Annotated[str | None, typer.Option(help="fill in what is known of this batch")] = None,
    as_json: AsJson = False,
) -> None:
    """Writes the paper check sheet of a checklist as PDF (A4), to fill in by hand and type in
    later.
    """
    settings = Settings()
    store = open_store(settings)
    content = print_sheet(
        store,
        KeptDrawings(store),
        checklist_id,
        yard=read_yard_name(store, settings.yard_name),
        now=datetime.now(UTC),
        size=size,
        stoves=stoves,
        batch_code=batch,
    )
    _write(content, out, as_json=as_json)


def tags(
    batch: Annotated[str, typer.Argument(help="code of the batch")],
    out: Out,
    first: Annotated[int, typer.Option(help="number of the first stove")] = 1,
    last: Annotated[
        int | None, typer.Option(help="number of the last stove; without it, the planned count")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Writes stove tags of a batch as PDF (A4, 24 a page): serial in large characters and as a QR
    code.
    """
    settings = Settings()
    store = open_store(settings)
    yard = read_yard_name(store, settings.yard_name)
    content = print_tags(store, batch, yard=yard, now=datetime.now(UTC), first=first, last=last)
    _write(content, out, as_json=as_json)


def _write(content: bytes, out: Path, *, as_json: bool) -> None:
    try:
        out.write_bytes(content)
    except OSError as error:
        raise BadInput(
            f"the file cannot be written: {error.strerror}",
            str(out),
            "name a file in an existing folder",
        ) from error
    print(
        json.dumps({"file": str(out), "bytes": len(content)})
        if as_json
        else f"{out}: {len(content)} bytes, to print on A4"
    )
