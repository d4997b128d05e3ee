"""Opens the database, brought up to date, with this server's checklists published."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from qcapp.checklist.drawing import check_shown, read_svg_file
from qcapp.checklist.earlier_checks import find_unknown_checks, list_check_ids, names_unknown_check
from qcapp.checklist.folder_digest import digest_folder
from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import Checklist
from qcapp.checklist.pictures import list_shown
from qcapp.checklist.source import ChecklistErrors
from qcapp.errors import BadInput, StartError
from qcapp.settings import Settings
from qcapp.store.engine import Connection, Store
from qcapp.store.log import ensure_server_id
from qcapp.store.registry import drawings
from qcapp.store.registry.checklists import load_checklists, publish_checklist
from qcapp.store.registry.facts import FOLDER_READ, find_fact, set_fact
from qcapp.store.timestamps import format_timestamp
from qcapp.store.upkeep.migrate import migrate
from qcapp.store.upkeep.migration_copy import copy_before_migration
from qcapp.store.upkeep.move import refuse_half_filled


def utc_now() -> datetime:
    return datetime.now(UTC)


def open_store(settings: Settings, clock: Callable[[], datetime] = utc_now) -> Store:
    """The database, brought up to date, with this server's checklists published."""
    store = Store(settings.database_url)
    try:
        copy_before_migration(store, clock())
        migrate(store)
        with store.reading() as connection:
            refuse_half_filled(connection, store.short_name)
        publish_folder(store, settings.checklists_dir, format_timestamp(clock()))
    except Exception:
        store.close()
        raise
    return store


def publish_folder(store: Store, folder: Path, now: str) -> None:
    """Publishes every checklist file. Raises what is wrong with the first bad one.

    A folder that was published into this database as it is now, by the same program, is not read
    again.
    """
    paths = sorted(folder.glob("*.yaml"))
    if not paths:
        raise StartError(
            "there is no checklist file here",
            str(folder),
            "put a .yaml checklist there, or set QCAPP_CHECKLISTS_DIR",
        )
    digest = digest_folder(folder)
    with store.reading() as connection:
        is_read = find_fact(connection, FOLDER_READ) == digest
    loaded = {} if is_read else {path: load_checklist(path) for path in paths}
    _refuse_unknown_checks(loaded)
    with store.writing() as connection:
        ensure_server_id(connection)
        for checklist in loaded.values():
            publish_checklist(connection, checklist, origin="file", now=now)
            if not drawings.has_all(connection, checklist.hash, list_shown(checklist.compiled())):
                shown = read_shown(folder, checklist)
                drawings.keep_drawings(connection, checklist.hash, shown)
        _draw_older(connection, folder)
        if not is_read:
            set_fact(connection, FOLDER_READ, digest)


def _refuse_unknown_checks(loaded: Mapping[Path, Checklist]) -> None:
    by_stage = list_check_ids(loaded.values())
    errors = [
        error
        for path, checklist in loaded.items()
        if names_unknown_check(checklist, by_stage)
        for error in find_unknown_checks(
            checklist, by_stage, file=path.name, text=path.read_text(encoding="utf-8")
        )
    ]
    if errors:
        raise ChecklistErrors(errors)


def read_shown(
    folder: Path, checklist: Checklist, kept: Mapping[str, str] | None = None
) -> dict[str, str]:
    """SVG texts that show a checklist, by name (list_shown): kept ones, which were let in before,
    else from the folder of its file. Raises BadInput.
    """
    return {
        name: (kept or {}).get(name) or read_svg_file(folder / name)
        for name in sorted(list_shown(checklist.compiled()))
    }


def read_what_is_there(
    folder: Path, checklist: Checklist, kept: Mapping[str, str]
) -> dict[str, str]:
    """As read_shown, without what is missing or not let in."""
    shown = {}
    for name in sorted(list_shown(checklist.compiled())):
        with suppress(BadInput):
            check_shown(name, source := kept.get(name) or read_svg_file(folder / name))
            shown[name] = source
    return shown


def find_redrawn(folder: Path, kept: Mapping[str, str]) -> list[str]:
    """Names of those whose file in the folder is another one now than a revision keeps."""
    return [
        name
        for name, source in kept.items()
        if (folder / name).is_file() and read_svg_file(folder / name) != source
    ]


def _draw_older(connection: Connection, folder: Path) -> None:
    """What an older version published keeps from now on what the folder has for it today."""
    undrawn = drawings.list_undrawn(connection)
    for checklist_hash, checklist in load_checklists(connection, undrawn).items():
        drawings.keep_drawings(
            connection, checklist_hash, read_what_is_there(folder, checklist, {})
        )
