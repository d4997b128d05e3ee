"""Commands: parse, call, print. Errors go to stderr in one line; 1 bad input, 2 bad usage."""

import csv
import json
import sys
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Annotated

import typer
from typer.core import TyperGroup

from qcapp.app import open_store
from qcapp.checklist.load import find_errors, load_checklist
from qcapp.checklist.model import Checklist
from qcapp.cli_accounts import add_account_commands
from qcapp.cli_figures import add_figure_commands
from qcapp.cli_keep import add_keep_commands
from qcapp.cli_measure import add_measure_commands
from qcapp.cli_paper import add_paper_commands
from qcapp.cli_progress import Progress, told_if_interrupted
from qcapp.cli_serve import add_serve_commands
from qcapp.cli_trust import add_trust_commands
from qcapp.demo import prepare_demo, serve_demo
from qcapp.errors import BadInput, NotFound, QcappError
from qcapp.scenario.yard_file import load_yard_file
from qcapp.settings import Settings
from qcapp.store import batches, checklists, log, people, projections
from qcapp.store.exports import COLUMNS, list_rows
from qcapp.web.tables import disarm

PLAIN = {"rich_markup_mode": None, "pretty_exceptions_enable": False, "add_completion": False}


class LanCommands(TyperGroup):
    """The commands of `qcapp lan`, loaded when one is asked for: their library weighs 8 MB, which no other command needs."""

    def __init__(self, **given) -> None:
        super().__init__(**given)
        # An empty table, in whose place the property comes.
        del self.commands

    @cached_property
    def commands(self) -> dict:
        from qcapp.cli_lan import add_lan_commands

        group = typer.Typer(**PLAIN)
        add_lan_commands(group)
        return typer.main.get_group(group).commands


app = typer.Typer(help="Offline quality control for a stove yard.", **PLAIN)
account_app = typer.Typer(help="Accounts, from the machine itself.", **PLAIN)
person_app = typer.Typer(help="What is kept of a person.", **PLAIN)
checklist_app = typer.Typer(help="Check and show checklists.", **PLAIN)
app.add_typer(checklist_app, name="checklist")
app.add_typer(
    typer.Typer(
        cls=LanCommands,
        help="A yard without internet: its own authority, address and phones.",
        **PLAIN,
    ),
    name="lan",
)
app.add_typer(account_app, name="account")
app.add_typer(person_app, name="person")
add_account_commands(account_app, person_app)
add_serve_commands(app)
add_figure_commands(app)
add_paper_commands(app)
add_trust_commands(app)
add_keep_commands(app)
add_measure_commands(app)

AsJson = Annotated[bool, typer.Option("--json", help="print JSON instead of text")]
# typer carries click's errors under its own roof in new versions, click's own in older ones.
UsageError = typer.BadParameter.__base__


def run() -> None:
    """Entry of the `qcapp` command; without a command it shows the help."""
    if sys.argv[1:] in ([], ["account"], ["checklist"], ["lan"], ["person"]):
        sys.argv.append("--help")
    try:
        sys.exit(app(standalone_mode=False) or 0)
    except UsageError as error:
        print(f"qcapp: {error.format_message()} (command line): see qcapp --help", file=sys.stderr)
        sys.exit(2)
    except (typer.Abort, KeyboardInterrupt):
        sys.exit(130)
    except QcappError as error:
        print(f"qcapp: {error}", file=sys.stderr)
        sys.exit(1)


@app.command()
def demo(
    port: Annotated[int, typer.Option(help="port to listen on")] = 8000,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="throw the demo's database away first")
    ] = False,
    no_serve: Annotated[
        bool, typer.Option("--no-serve", help="fill the database and stop")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Fills a scratch database (demo.db unless QCAPP_DATABASE_URL names one) with an invented yard and shows it."""
    named = Settings()
    if "database_url" not in named.model_fields_set:
        named = named.model_copy(update={"database_url": "sqlite:///demo.db"})
    now = datetime.now(UTC)
    with told_if_interrupted("what is filled in is kept; the same command goes on with it"):
        settings, figures = prepare_demo(named, fresh=fresh, now=now, show=not as_json)
    if as_json:
        print(json.dumps(figures))
    else:
        print(
            f"{figures['stoves']} stoves in {figures['batches']} batches, {figures['records']} records"
        )
    if not no_serve:
        serve_demo(settings, port=port, now=now)


@app.command()
def export(
    what: Annotated[str, typer.Argument(help="stoves, readings or log")],
    out: Annotated[
        Path | None, typer.Option(help="file to write; without it, to the screen")
    ] = None,
    batch: Annotated[str | None, typer.Option(help="one batch only")] = None,
    as_json: AsJson = False,
) -> None:
    """Writes stoves or readings as CSV, or the log as one JSON record a line."""
    if what != "log" and what not in COLUMNS:
        raise typer.BadParameter(f"{what!r} cannot be exported; say stoves, readings or log")
    store = open_store(Settings())
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


@app.command()
def yard(
    file: Annotated[
        Path, typer.Argument(help="YAML with people and batches; the README shows one")
    ],
    as_json: AsJson = False,
) -> None:
    """Enters people and batches, or changes those whose code is already here."""
    store = open_store(Settings())
    with store.writing() as connection:
        current = [
            Checklist.from_compiled(compiled)
            for _key, compiled in checklists.list_current(connection)
        ]
        found = load_yard_file(file, {checklist.id: checklist for checklist in current})
        people.save_people(connection, found.list_people())
        batches.save_batches(connection, found.list_batches())
    answer = {"people": len(found.people), "batches": len(found.batches)}
    print(
        json.dumps(answer)
        if as_json
        else f"{answer['people']} people and {answer['batches']} batches entered; phones get them at their next contact"
    )


@app.command()
def rebuild(as_json: AsJson = False) -> None:
    """Makes every figure again from the log, after checking its running hash."""
    store = open_store(Settings())
    progress = Progress()
    # One transaction: phones that send meanwhile are told to come again.
    with told_if_interrupted("nothing was changed; start it again"), store.writing() as connection:
        broken = log.find_broken_link(connection)
        if broken is not None:
            raise BadInput(
                "the log's running hash does not fit",
                f"record {broken}",
                "somebody altered it; restore a backup",
            )
        made = projections.rebuild(connection, lambda done, total: progress("stoves", done, total))
        head = log.get_head(connection)
    answer = {"stoves": made, "records": head.seq, "chain": head.chain}
    print(
        json.dumps(answer)
        if as_json
        else f"{made} stoves made again from {head.seq} records; running hash {head.chain[:16]}"
    )


@checklist_app.command("check")
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


@checklist_app.command("show")
def show_checklist(
    checklist_id: Annotated[str, typer.Argument(metavar="ID")], as_json: AsJson = False
) -> None:
    """Shows the current revision of a checklist."""
    store = open_store(Settings())
    with store.reading() as connection:
        current = {
            compiled["id"]: (key, compiled) for key, compiled in checklists.list_current(connection)
        }
    if checklist_id not in current:
        raise NotFound(
            "there is no such checklist", checklist_id, f"there are {', '.join(sorted(current))}"
        )
    key, compiled = current[checklist_id]
    if as_json:
        print(json.dumps({"hash": key, **compiled}, ensure_ascii=False))
        return
    print(
        f"{compiled['title']['en']} ({compiled['id']} revision {compiled['revision']}, hash {key[:12]})"
    )
    for check in compiled["checks"]:
        print(
            f"  {check['part']:16} {check['severity']:8} {check['kind']:10} {check['ask']['en']}  [{check['basis']}]"
        )
