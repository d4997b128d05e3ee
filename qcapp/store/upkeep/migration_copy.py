"""The records as they were, before their shape is changed: there is no way back but a copy."""

from contextlib import suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy import text

from qcapp.errors import Clash, QcappError, StartError
from qcapp.store.engine import Store, has_tables
from qcapp.store.registry.facts import find_fact
from qcapp.store.upkeep.backup import back_up, get_sqlite_path
from qcapp.store.upkeep.migrate import is_known_revision, is_newest_shape


def copy_before_migration(store: Store, now: datetime) -> Path | None:
    """A checked copy beside the database, before migrate() changes its shape. None where there is
    nothing to change, nothing in it yet, or its copies are made by other means (PostgreSQL).

    Raises StartError for a database of a newer program, StoreError where the copy has no room:
    then nothing is changed.
    """
    if is_newest_shape(store):
        return None
    with store.reading() as connection:
        # Without its name nothing was ever written into it.
        if not has_tables(connection) or find_fact(connection, "server_id") is None:
            return None
        shape = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if not is_known_revision(shape):
        raise StartError(
            f"this database was made by a newer version of this program (schema {shape})",
            store.short_name,
            "start that version; nothing was changed",
        )
    try:
        path = get_sqlite_path(store.url)
    except QcappError:
        return None
    target = path.with_name(f"{path.stem}.before-{shape}-{now:%Y%m%d-%H%M%S}{path.suffix}")
    # Another process that starts in the same second makes the same copy.
    with suppress(Clash):
        back_up(store.url, target)
    return target
