"""Where the yard lies that a command works on: named aloud, and never an empty one by a slip."""

from pathlib import Path

from qcapp.access.signing_key import load_or_make_key
from qcapp.errors import Clash, NotFound
from qcapp.settings import Settings
from qcapp.store.db_errors import get_short_name
from qcapp.store.engine import Store, find_missing, refuse_missing
from qcapp.usecases.open_store import open_store


def open_existing(settings: Settings) -> Store:
    """Raises NotFound where there is no yard: a command about one makes none."""
    refuse_missing(settings.database_url)
    return open_store(settings)


def prepare_place(settings: Settings, *, is_new: bool) -> None:
    """Says where a server keeps its records.

    Raises NotFound for a named database that is not there, unless a new yard is wanted: else a
    server that was started elsewhere, or with a slip in the name, would show an empty yard.
    """
    missing = find_missing(settings.database_url)
    if missing and not is_new and "database_url" in settings.model_fields_set:
        raise NotFound(
            "there is no yard here",
            str(missing),
            "correct QCAPP_DATABASE_URL; for a new, empty yard in this place start once with --new",
        )
    print(f"Records are kept in {describe_place(settings.database_url)}", flush=True)
    print(f"The yard's key is {settings.key_file.expanduser().resolve()}", flush=True)
    if missing:
        print("There was no yard there: a new, empty one is made.", flush=True)


def make_key(settings: Settings, *, is_wanted: bool) -> None:
    """Raises Clash when there is a key already: it is never written over."""
    if not is_wanted:
        return
    if settings.key_file.exists():
        raise Clash(
            "the yard has its key", str(settings.key_file), "start without --new-key to use it"
        )
    key = load_or_make_key(settings.key_file)
    print(f"A new key was made. Tell your buyers its public half: {key.public_hex}", flush=True)


def describe_place(url: str) -> str:
    """The whole path of a file; of a database on a server its name alone, without a password."""
    path = url.removeprefix("sqlite:///")
    is_file = url.startswith("sqlite:///") and path not in ("", ":memory:")
    return str(Path(path).expanduser().resolve()) if is_file else get_short_name(url)
