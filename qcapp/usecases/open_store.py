"""Opens the database, brought up to date, with this server's checklists published."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path

from qcapp.checklist.earlier_checks import find_unknown_checks, list_check_ids
from qcapp.checklist.load import ChecklistErrors, load_checklist
from qcapp.checklist.model import PICTURES, Checklist
from qcapp.errors import StartError
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.log import ensure_server_id
from qcapp.store.registry import yard_drawings
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.timestamps import format_timestamp
from qcapp.store.upkeep.migrate import migrate
from qcapp.store.upkeep.move import refuse_half_filled


def utc_now() -> datetime:
    return datetime.now(UTC)


def open_store(settings: Settings, clock: Callable[[], datetime] = utc_now) -> Store:
    """The database, brought up to date, with this server's checklists published."""
    store = Store(settings.database_url)
    try:
        migrate(store)
        with store.reading() as connection:
            refuse_half_filled(connection, store.short_name)
        publish_folder(store, settings.checklists_dir, format_timestamp(clock()))
    except Exception:
        store.close()
        raise
    return store


def publish_folder(store: Store, folder: Path, now: str) -> None:
    """Publishes every checklist file. Raises what is wrong with the first bad one."""
    paths = sorted(folder.glob("*.yaml"))
    if not paths:
        raise StartError(
            "there is no checklist file here",
            str(folder),
            "put a .yaml checklist there, or set QCAPP_CHECKLISTS_DIR",
        )
    loaded = {path: load_checklist(path) for path in paths}
    _refuse_unknown_checks(loaded)
    with store.writing() as connection:
        ensure_server_id(connection)
        for checklist in loaded.values():
            publish_checklist(connection, checklist, origin="file", now=now)


def _refuse_unknown_checks(loaded: Mapping[Path, Checklist]) -> None:
    by_stage = list_check_ids(loaded.values())
    errors = [
        error
        for path, checklist in loaded.items()
        for error in find_unknown_checks(
            checklist, by_stage, file=path.name, text=path.read_text(encoding="utf-8")
        )
    ]
    if errors:
        raise ChecklistErrors(errors)


def read_drawings(folder: Path) -> dict[str, str]:
    """SVG text by file name: the drawings, and the checks' pictures in their own folder
    (pictures/tape-across.svg).
    """
    paths = [*folder.glob("*.svg"), *folder.glob(f"{PICTURES}/*.svg")]
    return {path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8") for path in paths}


def load_yard_drawings(store: Store) -> dict[str, str]:
    """SVG text by name of those that the yard uploaded and a published revision names."""
    with store.reading() as connection:
        return yard_drawings.load_drawings(connection, only_published=True)
