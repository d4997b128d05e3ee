"""Brings a database to the newest shape, whatever version it has."""

# Alembic is loaded only where there is something to migrate: a server that starts on a database
# of today's shape, as nearly all do, needs neither its memory nor its time.
# ruff: noqa: PLC0415
from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import inspect, text

from qcapp.store.engine import Store
from qcapp.store.postgresql import sort_by_bytes

if TYPE_CHECKING:
    from alembic.config import Config

SCRIPTS = Path(__file__).parent.parent / "migrations"


def migrate(store: Store) -> None:
    """Runs the missing steps in one writer transaction: all of them, or none."""
    if is_newest_shape(store):
        return
    from alembic import command

    config = _build_config()
    with store.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        if not store.is_sqlite:
            sort_by_bytes(connection)


def is_newest_shape(store: Store) -> bool:
    """Whether the newest step here is the one that the database had last.

    The steps' files begin with their numbers.
    """
    names = (path.name for path in (SCRIPTS / "versions").glob("[0-9]*.py"))
    newest = max(name.split("_", 1)[0] for name in names)
    with store.reading() as connection:
        if not inspect(connection).has_table("alembic_version"):
            return False
        query = text("SELECT version_num FROM alembic_version")
        return bool(connection.execute(query).scalar() == newest)


def is_known_revision(revision: str | None) -> bool:
    """Whether a database of this shape can be brought to the newest one here."""
    from alembic.script import ScriptDirectory

    steps = ScriptDirectory.from_config(_build_config()).walk_revisions()
    return revision in {step.revision for step in steps}


def _build_config() -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    return config
