"""create_app: the only place where everything is put together."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime
from pathlib import Path

from fastapi import FastAPI
from fastapi.middleware.gzip import GZipMiddleware

from qcapp import __version__
from qcapp.checklist.load import load_checklist
from qcapp.errors import StartTrouble
from qcapp.settings import Settings
from qcapp.store.checklists import publish_checklist
from qcapp.store.engine import Store
from qcapp.store.log import ensure_server_id
from qcapp.store.migrate import migrate
from qcapp.store.moment import as_text
from qcapp.web import aside, batch_desk, buyer, drift, limits, pace, paper, paper_entry, phone, shell, studies, summary_link, trainer, trainer_api, yard
from qcapp.web.deps import utc_now
from qcapp.web.errors import install_error_handlers
from qcapp.web.private import PrivateHeaders


def create_app(settings: Settings, store: Store | None = None, clock: Callable[[], datetime] = utc_now) -> FastAPI:
    """The server. A store and a clock can be handed in (tests); else they are made here."""
    app = FastAPI(
        title="qcapp", version=__version__, docs_url=None, redoc_url=None, openapi_url="/api/openapi.json", lifespan=_hold_store
    )
    app.state.settings = settings
    app.state.clock = clock
    app.state.shell = shell.load_shell(settings.static_dir)
    app.state.drawings = read_drawings(settings.checklists_dir)
    app.state.store = store or open_store(settings, clock)
    # The phone's files cross a slow link once; gzip makes them a third.
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_middleware(PrivateHeaders)
    install_error_handlers(app)
    for room in (shell, phone, trainer, trainer_api, buyer, batch_desk, summary_link, yard, aside, drift, limits, studies, pace, paper, paper_entry):
        app.include_router(room.router)
    return app


@asynccontextmanager
async def _hold_store(app: FastAPI) -> AsyncIterator[None]:
    app.state.store.hold()
    yield
    app.state.store.close()


def read_drawings(folder: Path) -> dict[str, str]:
    """SVG text by file name."""
    return {path.name: path.read_text(encoding="utf-8") for path in folder.glob("*.svg")}


def open_store(settings: Settings, clock: Callable[[], datetime] = utc_now) -> Store:
    """The database, brought up to date, with this server's checklists published."""
    store = Store(settings.database_url)
    migrate(store)
    publish_folder(store, settings.checklists_dir, as_text(clock()))
    return store


def publish_folder(store: Store, folder: Path, now: str) -> None:
    """Publishes every checklist file. Raises what is wrong with the first bad one."""
    paths = sorted(folder.glob("*.yaml"))
    if not paths:
        raise StartTrouble("no checklist file is here", str(folder), "put a .yaml checklist there or set QCAPP_CHECKLISTS_DIR")
    loaded = [load_checklist(path) for path in paths]
    with store.writing() as connection:
        ensure_server_id(connection)
        for checklist in loaded:
            publish_checklist(connection, checklist, origin="file", now=now)
