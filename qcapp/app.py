"""create_app: the only place where everything is put together."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime
from pathlib import Path

from fastapi import Depends, FastAPI
from fastapi.middleware.gzip import GZipMiddleware

from qcapp import __version__
from qcapp.access.roles import RULES, Rule
from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import PICTURES
from qcapp.errors import StartTrouble
from qcapp.settings import Settings
from qcapp.store.checklists import publish_checklist
from qcapp.store.engine import Store
from qcapp.store.log import ensure_server_id, find_fact
from qcapp.store.migrate import migrate
from qcapp.store.moment import as_text
from qcapp.store.move import refuse_half_filled
from qcapp.web import (
    accounts,
    aside,
    batch_desk,
    buyer,
    checklist_desk,
    description,
    drift,
    limits,
    pace,
    paper,
    paper_entry,
    people,
    phone,
    shell,
    sign_in,
    studies,
    summary_link,
    trail,
    trainer,
    trainer_api,
    yard,
    yard_batches,
    yard_start,
)
from qcapp.web.deps import utc_now
from qcapp.web.errors import install_error_handlers
from qcapp.web.gate import Gate, confirm_rule
from qcapp.web.headers import SafeHeaders
from qcapp.web.language import Languages
from qcapp.web.private import PrivateHeaders
from qcapp.web.request_log import RequestLog

ROOMS = (
    shell,
    phone,
    trainer,
    trainer_api,
    buyer,
    batch_desk,
    summary_link,
    yard,
    aside,
    drift,
    limits,
    studies,
    pace,
    paper,
    paper_entry,
    accounts,
    trail,
    people,
    description,
    yard_start,
    yard_batches,
    checklist_desk,
)


def create_app(
    settings: Settings,
    store: Store | None = None,
    clock: Callable[[], datetime] = utc_now,
    *,
    has_no_passwords: bool = False,
) -> FastAPI:
    """The server. A store and a clock can be handed in (tests); else they are made here.

    has_no_passwords: whoever asks from this machine is the yard lead; only for a demo's database.
    """
    app = open_app("qcapp", settings, clock)
    app.state.drawings = read_drawings(settings.checklists_dir)
    app.state.store = store or open_store(settings, clock)
    app.state.has_no_passwords = has_no_passwords
    if has_no_passwords:
        refuse_real_yard(app.state.store)
    add_doors(app, RULES)
    for room in ROOMS:
        app.include_router(room.router)
    return app


def open_app(title: str, settings: Settings, clock: Callable[[], datetime]) -> FastAPI:
    """Without FastAPI's own pages and its route for the description: they would stand outside the rules."""
    own = {"docs_url": None, "redoc_url": None, "openapi_url": None}
    app = FastAPI(
        title=title,
        version=__version__,
        **own,
        dependencies=[Depends(confirm_rule)],
        lifespan=_hold_store,
    )
    app.state.settings = settings
    app.state.clock = clock
    app.state.shell = shell.load_shell(settings.static_dir)
    app.state.has_no_passwords = False
    return app


def add_doors(app: FastAPI, rules: tuple[Rule, ...]) -> None:
    """What every request passes, the innermost first, and the rooms every server has."""
    app.state.rules = rules
    app.add_middleware(Gate, rules=rules)
    # The phone's files cross a slow link once; gzip makes them a third.
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_middleware(RequestLog)
    # Outside the log too, so that an unforeseen error is told in the reader's language.
    app.add_middleware(Languages)
    app.add_middleware(PrivateHeaders)
    # Outside the log, because there an error becomes an answer, which needs the headers too.
    app.add_middleware(SafeHeaders)
    install_error_handlers(app)
    app.include_router(shell.assets)
    app.include_router(sign_in.router)


def refuse_real_yard(store: Store) -> None:
    """Raises StartTrouble unless the database is one that the demo filled."""
    with store.reading() as connection:
        if (
            find_fact(connection, "demo_day") is None
            or find_fact(connection, "demo_filled") is None
        ):
            raise StartTrouble(
                "this database is not a demo's, so it needs accounts",
                store.short_name,
                "start it with qcapp serve",
            )


@asynccontextmanager
async def _hold_store(app: FastAPI) -> AsyncIterator[None]:
    app.state.store.hold()
    yield
    app.state.store.close()


def read_drawings(folder: Path) -> dict[str, str]:
    """SVG text by file name: the drawings, and the checks' pictures in their own folder (pictures/tape-across.svg)."""
    paths = [*folder.glob("*.svg"), *folder.glob(f"{PICTURES}/*.svg")]
    return {path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8") for path in paths}


def open_store(settings: Settings, clock: Callable[[], datetime] = utc_now) -> Store:
    """The database, brought up to date, with this server's checklists published."""
    store = Store(settings.database_url)
    try:
        migrate(store)
        with store.reading() as connection:
            refuse_half_filled(connection, store.short_name)
        publish_folder(store, settings.checklists_dir, as_text(clock()))
    except Exception:
        store.close()
        raise
    return store


def publish_folder(store: Store, folder: Path, now: str) -> None:
    """Publishes every checklist file. Raises what is wrong with the first bad one."""
    paths = sorted(folder.glob("*.yaml"))
    if not paths:
        raise StartTrouble(
            "no checklist file is here",
            str(folder),
            "put a .yaml checklist there or set QCAPP_CHECKLISTS_DIR",
        )
    loaded = [load_checklist(path) for path in paths]
    with store.writing() as connection:
        ensure_server_id(connection)
        for checklist in loaded:
            publish_checklist(connection, checklist, origin="file", now=now)
