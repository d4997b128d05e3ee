"""The records as files, and the figures made from them again."""

import csv
import json
import sys
from typing import Annotated

import typer

from qcapp.cli.options import AsJson, TextFile
from qcapp.cli.progress import Progress, explain_interrupt
from qcapp.cli.yard_place import open_existing
from qcapp.documents.table_files import disarm
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.queries.exports import COLUMNS, list_rows
from qcapp.usecases.rebuild_figures import rebuild_figures


def export(
    what: Annotated[str, typer.Argument(help="stoves, readings or log")],
    out: TextFile = None,
    batch: Annotated[str | None, typer.Option(help="one batch only")] = None,
    as_json: AsJson = False,
) -> None:
    """Writes stoves or readings as CSV, or the log as one JSON record a line."""
    if what != "log" and what not in COLUMNS:
        raise typer.BadParameter(f"{what!r} cannot be exported; choose stoves, readings or log")
    store = open_existing(Settings())
    with store.reading() as connection:
        if what == "log":
            lines = [row.raw for row in log.list_after(connection, 0, None)]
        else:
            rows = list_rows(connection, what, batch)
    stream = out.open("w", encoding="utf-8", newline="") if out else sys.stdout
    try:
        if what == "log":
            stream.writelines(f"{line}\n" for line in lines)
        elif as_json:
            stream.write(
                json.dumps(
                    [dict(zip(COLUMNS[what], row, strict=True)) for row in rows], ensure_ascii=False
                )
                + "\n"
            )
        else:
            csv.writer(stream).writerows(
                [COLUMNS[what], *([disarm(cell) for cell in row] for row in rows)]
            )
    finally:
        if out:
            stream.close()


def rebuild(as_json: AsJson = False) -> None:
    """Calculates every figure again from the log, after checking its running hash."""
    store = open_existing(Settings())
    progress = Progress()
    with explain_interrupt("nothing was changed; run it again"):
        made, head = rebuild_figures(store, lambda done, total: progress("stoves", done, total))
    answer = {"stoves": made, "records": head.seq, "chain": head.chain}
    print(
        json.dumps(answer)
        if as_json
        else f"figures of {made} stoves calculated again from {head.seq} records; "
        f"running hash {head.chain[:16]}"
    )
