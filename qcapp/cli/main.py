"""The commands by name; each is loaded when it is asked for. Errors go to stderr in one line; 1 bad
input, 2 bad usage.
"""

import sys
from typing import Any

import typer
from typer.core import TyperGroup

from qcapp.errors import QcappError
from qcapp.loading import load

PLAIN: dict[str, Any] = {
    "rich_markup_mode": None,
    "pretty_exceptions_enable": False,
    "add_completion": False,
}
# {name: module of qcapp.cli and its function, or (help, the same of a group)}
Table = dict[str, "str | tuple[str, Table]"]
COMMANDS: Table = {
    "start": "start:start",
    "serve": "serve:serve",
    "programme": "programme:serve_programme",
    "demo": "demo:demo",
    "yard": "yard:yard",
    "account": (
        "Accounts, managed on the machine itself.",
        {"link": "accounts:make_account_link", "list": "accounts:list_accounts"},
    ),
    "person": (
        "What is kept about a person.",
        {"export": "accounts:export_person", "erase": "accounts:erase_person"},
    ),
    "checklist": (
        "Check and show checklists.",
        {"check": "checklists:check_files", "show": "checklists:show_checklist"},
    ),
    "lan": (
        "A yard without internet: its own authority, address and phones.",
        {"init": "lan:init", "check": "lan_check:check", "move": "lan:move"},
    ),
    "sheet": "paper:sheet",
    "tags": "paper:tags",
    "export": "records:export",
    "rebuild": "records:rebuild",
    "verify": "trust:verify",
    "backup": "keep:make_backup",
    "restore": "keep:restore_backup",
    "import": "keep:import_file",
    "move": "keep:move_database",
    "update": "release:update",
    "release": (
        "For who publishes the program.",
        {"key": "release:make_key", "sign": "release:sign_release"},
    ),
    "rate": "figures:rate",
    "compare": "figures:compare",
    "rank": "figures:rank",
    "learn": "figures:learn",
    "plan": "figures:plan",
    "sample": "figures:sample",
    "curve": "figures:curve",
    "bound": "figures:bound",
    "chart": "measure:chart",
    "agree": "measure:agree",
    "capability": "measure:capability",
}
# typer carries click under its own roof in new versions and is built on click itself in older
# ones, so that neither its errors nor its contexts have one name.
UsageError: Any = typer.BadParameter.__base__


class LazyGroup(TyperGroup):
    """Knows its commands by name: one that prints a rate loads no web server and no database."""

    table: Table = COMMANDS

    def list_commands(self, _ctx: Any) -> list[str]:
        return list(self.table)

    def get_command(self, _ctx: Any, cmd_name: str) -> Any:
        entry = self.table.get(cmd_name)
        return None if entry is None else load_command(cmd_name, entry)


def load_command(name: str, entry: str | tuple[str, Table]) -> Any:
    """The command behind one line of the table."""
    single = typer.Typer(**PLAIN)
    if isinstance(entry, str):
        single.command(name)(load(f"qcapp.cli.{entry}"))
        return typer.main.get_command(single)
    words, table = entry
    single.callback(cls=type("LazySubgroup", (LazyGroup,), {"table": table}), help=words)(_group)
    group = typer.main.get_command(single)
    group.name = name
    return group


def _group() -> None:
    """A group does nothing of its own."""


app = typer.Typer(**PLAIN)
app.callback(cls=LazyGroup, help="Offline quality control for a stove yard.")(_group)


def run() -> None:
    """Entry of the `qcapp` command; without a command it shows the help."""
    groups = [name for name, entry in COMMANDS.items() if not isinstance(entry, str)]
    if sys.argv[1:] in ([], *([name] for name in groups)):
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
