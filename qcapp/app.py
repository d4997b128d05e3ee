"""create_app: the only place where everything is put together."""

import functools
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, nullcontext
from datetime import datetime
from pathlib import Path

from fastapi import FastAPI
from fastapi.middleware.gzip import GZipMiddleware
from starlette.formparsers import MultiPartParser

from qcapp import __version__
from qcapp.errors import StartError
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.registry.facts import DEMO_DAY, DEMO_FILLED, find_fact
from qcapp.usecases.keep_backups import make_keeper
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.open_store import open_store, utc_now
from qcapp.usecases.yard_key import refuse_missing_key
from qcapp.web.guide.files import UserGuide, load_user_guide
from qcapp.web.middleware.authorisation import AuthorisationMiddleware
from qcapp.web.middleware.errors import install_error_handlers
from qcapp.web.middleware.language import LanguageMiddleware
from qcapp.web.middleware.private_headers import PrivateHeadersMiddleware
from qcapp.web.middleware.request_log import RequestLogMiddleware
from qcapp.web.middleware.security_headers import SecurityHeadersMiddleware
from qcapp.web.phone import app_files
from qcapp.web.rooms import Room, refuse_unruled_routes
from qcapp.web.rules import MAX_FILES

# What every server has. In each room the order of its modules is the order of its routes.
# Of a file in a form, held in memory.
SPOOL_BYTES = 8192
COMMON_ROOMS = (
    Room(["/static"], "phone.app_files:assets"),
    Room(["/sign-in", "/sign-out", "/welcome", "/account"], "accounts.sign_in:router"),
    Room(["/guide"], "guide.pages:router"),
)
ROOMS = (
    Room(["/phone", "/sw.js", "/manifest.webmanifest"], "phone.app_files:router"),
    Room(
        [
            "/api/devices",
            "/api/sync",
            "/api/practice",
            "/api/photos",
            "/photos",
            "/api/lesson-media",
            "/lesson-media",
        ],
        "phone.sync_api:router",
    ),
    Room(
        ["/trainer", "/api/trainer"],
        "trainer.teach:router",
        "trainer.pages:router",
        "trainer.people:router",
        "trainer.lessons:router",
        "trainer.lesson_parts:router",
        "trainer.cards:router",
        "trainer.skills:router",
        "trainer.api:router",
        "trainer.drift:router",
        "trainer.gauges:router",
        "trainer.batch_charts:router",
    ),
    Room(["/c"], "cards.pages:router"),
    Room(["/stoves"], "stoves.pages:router"),
    Room(
        ["/batches", "/api/batches"],
        "batches.overview:router",
        "batches.figures:router",
        "batches.review:router",
    ),
    # What the buyer will see, before it is issued, is the buyer's page at an address of the batch.
    Room(["/batches"], "buyer.preview:router"),
    Room(
        ["/s"],
        "buyer.pages:router",
        "buyer.recheck:router",
        "buyer.answers:router",
        "buyer.files:router",
    ),
    Room(["/"], "yard.start:router"),
    Room(
        ["/yard"],
        "yard.phones:router",
        "yard.quarantine:router",
        "yard.brought_checklist:router",
        "yard.quarantined_record:router",
        "yard.people:router",
        "yard.setup:router",
        "yard.batches:router",
        "yard.buyers:router",
        "yard.costs:router",
        "yard.hours:router",
        "yard.backups:router",
    ),
    Room(
        ["/yard/limits", "/yard/studies", "/yard/pace"],
        "measuring.limits:router",
        "measuring.studies:router",
        "measuring.pace:router",
    ),
    Room(
        [
            "/yard/sheets",
            "/yard/sheets.pdf",
            "/yard/photo-frame.pdf",
            "/yard/tags",
            "/yard/tags.pdf",
            "/yard/entry",
        ],
        "papers.printing:router",
        "papers.entry:router",
    ),
    Room(
        ["/yard/accounts", "/yard/sessions", "/yard/trail"],
        "accounts.pages:router",
        "accounts.audit_trail:router",
    ),
    # The list and its files first: an id with an ending is no draft.
    Room(
        ["/yard/checklists", "/yard/checklist-text", "/yard/offered-checklists"],
        "checklists.pages:router",
        "checklists.draft:router",
        "checklists.draft_lists:router",
        "checklists.draft_stages:router",
        "checklists.draft_drawing:router",
        "checklists.draft_changes:router",
        "checklists.draft_check:router",
        "checklists.new_check:router",
        "checklists.text:router",
        "checklists.offered:router",
    ),
    Room(
        ["/laptop"],
        "laptop.first:router",
        "laptop.pages:router",
        "laptop.restoring:router",
        "laptop.updating:router",
    ),
    Room(["/api/openapi.json"], "openapi:router"),
)


def create_app(
    settings: Settings,
    store: Store | None = None,
    clock: Callable[[], datetime] = utc_now,
    *,
    has_no_passwords: bool = False,
    address: str | None = None,
) -> FastAPI:
    """The server. A store and a clock can be handed in (tests); else they are made here.

    Raises StartError when the key of the issued summaries is missing. address: where people reach
    the server, ending with /; None: wherever a request says it was sent. has_no_passwords: whoever
    asks from this machine is the yard lead; only for a demo's database.
    """
    app = open_app("qcapp", settings, clock)
    app.state.store = store or open_signed_store(settings, clock)
    app.state.drawings = KeptDrawings(app.state.store)
    app.state.backups = make_keeper(settings, app.state.store.url, clock)
    app.state.has_no_passwords = has_no_passwords
    app.state.address = address
    if has_no_passwords:
        refuse_real_yard(app.state.store)
    add_middleware_stack(app)
    include_rooms(app, *ROOMS)
    return app


def open_signed_store(settings: Settings, clock: Callable[[], datetime]) -> Store:
    """As open_store. Raises StartError too when the key of the issued summaries is missing."""
    store = open_store(settings, clock)
    try:
        refuse_missing_key(store, settings.key_file)
    except StartError:
        store.close()
        raise
    return store


def open_app(title: str, settings: Settings, clock: Callable[[], datetime]) -> FastAPI:
    """Without FastAPI's own pages and its route for the description: they would stand outside the
    rules.
    """
    # Several hundred callers may send a file at once; more of each goes to the disk.
    MultiPartParser.spool_max_size = SPOOL_BYTES
    app = FastAPI(
        title=title,
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        form_limits={"max_files": MAX_FILES},
        lifespan=_hold_store,
    )
    app.state.settings = settings
    app.state.clock = clock
    app.state.shell, app.state.user_guide = read_static(settings.static_dir)
    app.state.has_no_passwords = False
    app.state.address = None
    # What a programme's server does with a checkpoint of a yard's log; None: nobody keeps them.
    app.state.keep_checkpoint = None
    app.state.backups, app.state.are_backups_daily = None, False
    # Whoever runs this server on the lead's own laptop (usecases/laptop.py), and what it runs
    # beside.
    app.state.laptop, app.state.beside = None, nullcontext
    return app


@functools.cache
def read_static(static_dir: Path) -> tuple[app_files.Shell, UserGuide]:
    """Once, for all the yards of a programme."""
    return app_files.load_shell(static_dir), load_user_guide(static_dir)


def add_middleware_stack(app: FastAPI) -> None:
    """What every request passes, the innermost first."""
    app.add_middleware(AuthorisationMiddleware)
    # The phone's files cross a slow link once; gzip makes them a third.
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_middleware(RequestLogMiddleware)
    # Outside the log too, so that an unforeseen error is told in the reader's language.
    app.add_middleware(LanguageMiddleware)
    app.add_middleware(PrivateHeadersMiddleware)
    # Outside the log, because there an error becomes an answer, which needs the headers too.
    app.add_middleware(SecurityHeadersMiddleware)
    install_error_handlers(app)


def include_rooms(app: FastAPI, *rooms: Room) -> None:
    """What every server has, and these. Raises StartError for a route outside of the rooms that
    does not say who may.
    """
    app.router.routes.extend((*COMMON_ROOMS, *rooms))
    refuse_unruled_routes(app.routes)


def refuse_real_yard(store: Store) -> None:
    """Raises StartError unless the database is one that the demo filled."""
    with store.reading() as connection:
        if find_fact(connection, DEMO_DAY) is None or find_fact(connection, DEMO_FILLED) is None:
            raise StartError(
                "this database is not from a demo, so it needs accounts",
                store.short_name,
                "start it with qcapp serve",
            )


@asynccontextmanager
async def _hold_store(app: FastAPI) -> AsyncIterator[None]:
    begin_work(app)
    async with app.state.beside():
        yield
    end_work(app)


def begin_work(app: FastAPI) -> None:
    """What an app holds and does by itself from its server's start to its end."""
    app.state.store.hold()
    if app.state.backups and app.state.are_backups_daily:
        app.state.backups.start()


def end_work(app: FastAPI) -> None:
    if app.state.backups:
        app.state.backups.stop()
    app.state.store.close()
