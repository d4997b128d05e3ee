"""Commands of accounts and of names: for whoever holds the machine, without signing in."""

import json
from datetime import UTC, datetime
from typing import Annotated

import typer

from qcapp.access.roles import SIGNED_IN
from qcapp.cli.first_lead import MINUTES
from qcapp.cli.options import AsJson, TextFile
from qcapp.cli.yard_place import open_existing
from qcapp.settings import Settings
from qcapp.store.queries.personal_record import build_personal_record
from qcapp.store.registry import accounts
from qcapp.usecases.enter_people import erase_person_from_terminal
from qcapp.usecases.manage_accounts import invite_from_terminal

Code = Annotated[str, typer.Argument(help="code of an artisan, inspector or account")]


def make_account_link(
    code: Annotated[
        str | None,
        typer.Option(help="account that gets a new password; without it a new yard lead"),
    ] = None,
    role: Annotated[
        str,
        typer.Option(
            help="of a new account: yard_lead, or programme_lead in a programme's own database"
        ),
    ] = "yard_lead",
    address: Annotated[
        str, typer.Option(help="address at which people reach the server")
    ] = "http://127.0.0.1:8000/",
) -> None:
    """Prints a one-time link: for a new lead, or for an account whose password is lost."""
    if role not in SIGNED_IN:
        raise typer.BadParameter(f"{role!r} is no role of an account; say {', '.join(SIGNED_IN)}")
    store, now = open_existing(Settings()), datetime.now(UTC)
    token = invite_from_terminal(store, code=code, role=role, now=now)
    print(f"It works once, within {MINUTES} minutes:\n  {address.rstrip('/')}/welcome/{token}")


def list_accounts(
    as_json: AsJson = False,
) -> None:
    """Lists accounts with their role."""
    store = open_existing(Settings())
    with store.reading() as connection:
        rows = [row._asdict() for row in accounts.list_accounts(connection)]
    if as_json:
        print(json.dumps(rows, ensure_ascii=False))
    for row in [] if as_json else rows:
        state = f", disabled {row['disabled_at'][:10]}" if row["disabled_at"] else ""
        print(f"{row['code']:20} {row['role'].replace('_', ' '):14} {row['name']}{state}")


def export_person(
    code: Code,
    out: TextFile = None,
) -> None:
    """Writes what is kept about a person, as JSON."""
    store = open_existing(Settings())
    with store.reading() as connection:
        text = json.dumps(build_personal_record(connection, code), ensure_ascii=False, indent=1)
    if out:
        out.write_text(text + "\n", encoding="utf-8")
    else:
        print(text)


def erase_person(
    code: Code, yes: Annotated[bool, typer.Option("--yes", help="do not ask")] = False
) -> None:
    """Replaces the name of a person by the code; no count and no record changes."""
    store = open_existing(Settings())
    if not yes:
        typer.confirm(f"Erase the name of {code}? This cannot be undone", abort=True)
    erase_person_from_terminal(store, code, datetime.now(UTC))
    print(
        f"the name of {code} is erased; phones get the change at their next contact, backups made "
        "before still have the name"
    )
