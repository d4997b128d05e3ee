"""A programme: several yards on one server, each with its own host name, database and log, and a
host of its own.

The host name is the wall. A browser keeps cookies and a phone keeps its records by origin, and each
yard knows only its own database, so nothing of one yard opens anything of another.
"""

from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Annotated
from urllib.parse import urlsplit

import yaml
from fastapi import FastAPI
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator
from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import Receive, Scope, Send

from qcapp.app import (
    add_middleware_stack,
    begin_work,
    create_app,
    end_work,
    include_rooms,
    open_app,
    open_signed_store,
)
from qcapp.errors import BadInput
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.usecases.open_store import utc_now
from qcapp.usecases.watch_yard import YardWatch
from qcapp.web.rooms import Room

PROGRAMME_ROOMS = (
    Room(["/", "/yards.csv"], "programme.pages:router"),
    Room(["/checklists"], "programme.roll_out:router"),
    Room(["/trail"], "accounts.audit_trail:programme_router"),
)


def _is_origin(text: str) -> str:
    parts = urlsplit(text)
    if (
        parts.scheme not in ("http", "https")
        or not parts.hostname
        or parts.path
        or parts.query
        or parts.username
    ):
        raise ValueError(f"{text!r} is not an address such as https://north.example.org")
    return text


Name = Annotated[str, Field(min_length=1, max_length=80)]
Origin = Annotated[str, AfterValidator(_is_origin)]


class Place(BaseModel):
    """A host of the programme. database: a file beside the programme's file, or a database URL."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    name: Name
    address: Origin
    database: Annotated[str, Field(min_length=1)]

    @property
    def host(self) -> str:
        return urlsplit(self.address).hostname or ""


class Programme(Place):
    yards: Annotated[tuple[Place, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _keeps_apart(self) -> "Programme":
        for what in ("host", "database"):
            values = [getattr(place, what) for place in (self, *self.yards)]
            double = sorted({value for value in values if values.count(value) > 1})
            if double:
                raise ValueError(f"two places share the same {what}: {', '.join(double)}")
        return self


def load_programme(file: Path) -> Programme:
    """Reads the YAML file. Raises BadInput with the place of the first mistake."""
    try:
        return Programme.model_validate(yaml.safe_load(file.read_text(encoding="utf-8")))
    except OSError as error:
        raise BadInput(
            "the file cannot be read", str(file), "name a programme's YAML file"
        ) from error
    except yaml.YAMLError as error:
        raise BadInput("the file is not YAML", str(file), str(error).splitlines()[0]) from error
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise BadInput(
            first["msg"], f"{file} {place}".strip(), "correct it; the guide shows one"
        ) from error


class ByHost:
    """ASGI: each host name its own app, nothing for any other (421, RFC 9110 section 15.5.20)."""

    def __init__(self, apps: Mapping[str, FastAPI]) -> None:
        self.apps = apps

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._live(receive, send)
            return
        host = urlsplit(f"//{Headers(scope=scope).get('host', '')}").hostname or ""
        refusal = PlainTextResponse("no yard has this address\n", status_code=421)
        await self.apps.get(host, refusal)(scope, receive, send)

    async def _live(self, receive: Receive, send: Send) -> None:
        """While the server runs, each database is held open, so that a restore can tell."""
        while True:
            message = await receive()
            for app in self.apps.values():
                begin_work(app) if message["type"] == "lifespan.startup" else end_work(app)
            await send({"type": f"{message['type']}.complete"})
            if message["type"] == "lifespan.shutdown":
                return


def create_programme(
    programme: Programme, settings: Settings, folder: Path, clock: Callable[[], datetime] = utc_now
) -> ByHost:
    """settings: shared by all; name and database are each place's own. folder: where database files
    lie.
    """
    stores = {
        place.address: open_signed_store(_own(place, settings, folder), clock)
        for place in (programme, *programme.yards)
    }
    apps = {
        yard.host: create_app(
            _own(yard, settings, folder),
            stores[yard.address],
            clock,
            address=f"{yard.address}/",
        )
        for yard in programme.yards
    }
    for yard in programme.yards:
        watch = YardWatch(stores[programme.address], stores[yard.address], yard.address, clock)
        apps[yard.host].state.keep_checkpoint = watch.keep
    own = open_app("qcapp programme", _own(programme, settings, folder), clock)
    own.state.store = stores[programme.address]
    own.state.address = f"{programme.address}/"
    own.state.yards = {yard.address: (yard.name, stores[yard.address]) for yard in programme.yards}
    add_middleware_stack(own)
    include_rooms(own, *PROGRAMME_ROOMS)
    return ByHost({**apps, programme.host: own})


def list_stores(served: ByHost) -> dict[str, Store]:
    """The store behind each host."""
    return {host: app.state.store for host, app in served.apps.items()}


def _own(place: Place, settings: Settings, folder: Path) -> Settings:
    url = place.database if "://" in place.database else f"sqlite:///{folder / place.database}"
    # Its own key too: a summary signed by one yard must not pass as another's.
    key_file = folder / f"{place.host}-key.pem"
    return settings.model_copy(
        update={"yard_name": place.name, "database_url": url, "key_file": key_file}
    )
