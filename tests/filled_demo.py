"""The demo's yard, filled so that every page has something to show, each time the same."""

from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from unittest.mock import patch

from qcapp.settings import Settings
from qcapp.store.log import chain
from qcapp.usecases.fill_demo import prepare_demo


def fill_demo(file: Path, now: datetime) -> Settings:
    """The server's identity draws the stoves to be looked at twice: with one in thirty none would
    wait, and a page be missed.
    """
    with patch.object(chain, "secrets", SimpleNamespace(token_hex=lambda length: "5f" * length)):
        settings, _figures = prepare_demo(
            Settings(database_url=f"sqlite:///{file}"), fresh=False, now=now
        )
    return settings
