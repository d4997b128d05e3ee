"""The demo's yard, filled once for all tests that only look at it."""

import pytest

from qcapp.app import create_app
from qcapp.inspection.filters import Filters
from qcapp.settings import Settings
from qcapp.usecases.fill_demo import prepare_demo
from qcapp.usecases.load_trainer import load_figures
from tests.builders import NOW, make_cookie, open_client


@pytest.fixture(scope="session")
def demo_yard(tmp_path_factory):
    """(signed-in client, the trainer's figures)."""
    folder = tmp_path_factory.mktemp("demo")
    settings, _figures = prepare_demo(
        Settings(database_url=f"sqlite:///{folder / 'demo.db'}"), fresh=False, now=NOW
    )
    app = create_app(settings, clock=lambda: NOW)
    client = open_client(app, cookie=make_cookie(app.state.store))
    return client, load_figures(app.state.store, settings, Filters())
