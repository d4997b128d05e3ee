"""Brings a database to the newest shape, whatever version it has."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory

from qcapp.store.engine import Store

SCRIPTS = Path(__file__).parent / "migrations"


def migrate(store: Store) -> None:
    """Runs the missing steps in one writer transaction: all of them, or none."""
    config = _build_config()
    with store.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def is_known_revision(revision: str | None) -> bool:
    """Whether a database of this shape can be brought to the newest one here."""
    known = {step.revision for step in ScriptDirectory.from_config(_build_config()).walk_revisions()}
    return revision in known


def _build_config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    return config
