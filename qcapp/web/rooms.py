"""The rooms of a server, and which route an address reaches.

All rooms with what they need are half of what a start would load, and who opens one page needs one
room. So a room is loaded when an address of it is first asked, never before the first answer.
"""

from collections.abc import Iterable, Iterator
from functools import cached_property

from fastapi import APIRouter, FastAPI
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute, Match
from starlette.types import Receive, Scope, Send

from qcapp.errors import StartError
from qcapp.loading import load
from qcapp.web.rules import Rule, find_declared


class Room(BaseRoute):
    """Routes that are loaded together. In an app it stands in the place of its routes.

    addresses: beginnings of its routes' addresses, whole up to a slash; modules: of qcapp.web with
    their routers, such as buyer.pages:router, in the order in which their routes are tried.
    """

    def __init__(self, addresses: Iterable[str], *modules: str) -> None:
        self.addresses, self.modules = tuple(addresses), modules

    def holds(self, path: str) -> bool:
        return any(path == one or path.startswith(f"{one}/") for one in self.addresses)

    @cached_property
    def routes(self) -> list[BaseRoute]:
        """Loads them. Raises StartError for one that does not say who may use it."""
        routers: list[APIRouter] = [load(f"qcapp.web.{module}") for module in self.modules]
        # To include a router would build each route anew for each app.
        routes = [route for router in routers for route in router.routes]
        refuse_unruled_routes(routes)
        return routes

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Of its first route that fits best, as the app does it."""
        best: tuple[Match, Scope] = (Match.NONE, {})
        for route in self.routes if self.holds(scope["path"]) else ():
            match, found = route.matches(scope)
            if match is Match.FULL:
                return match, found
            if match is Match.PARTIAL and best[0] is Match.NONE:
                best = match, found
        return best

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        route: APIRoute = scope["route"]
        await route.handle(scope, receive, send)


def refuse_unruled_routes(routes: Iterable[BaseRoute]) -> None:
    """Raises StartError when a route says nothing of who may use it; FastAPI's own, or a mount,
    says nothing ever. A room is asked when it is loaded.
    """
    for route in routes:
        if not isinstance(route, Room) and find_declared(route) is None:
            raise StartError(
                "this route does not say who may use it",
                getattr(route, "path", str(route)),
                "declare it: dependencies=[allow(...)] of qcapp/web/rules.py",
            )


def list_routes(app: FastAPI) -> list[BaseRoute]:
    """Every route, in the order in which they are tried; loads every room."""
    return list(_expand(app.routes))


def list_rules(app: FastAPI) -> list[Rule]:
    """The rules of all routes, in the order in which they are tried; loads every room."""
    return [
        Rule(method, route.path, declared)
        for route in _expand(app.routes)
        if (declared := find_declared(route)) and isinstance(route, APIRoute)
        for method in sorted(route.methods or ())
    ]


def find_rule(app: FastAPI, method: str, path: str) -> Rule | None:
    """The rule of the route that this address reaches; None when it reaches none, or one without a
    rule. Loads the rooms that hold the address.
    """
    for route, match in _match(app, method, path):
        if match is Match.FULL:
            declared = find_declared(route)
            return Rule(method, getattr(route, "path", path), declared) if declared else None
    return None


def list_methods(app: FastAPI, path: str) -> list[str]:
    """What may be asked of this address at all; empty when it is none of ours."""
    return sorted(
        {
            method
            for route, _how in _match(app, "GET", path)
            if isinstance(route, APIRoute) and find_declared(route)
            for method in route.methods or ()
        }
    )


def has_room(app: FastAPI, path: str) -> bool:
    """Whether a room holds this address; loads none."""
    return any(isinstance(route, Room) and route.holds(path) for route in app.routes)


def _match(app: FastAPI, method: str, path: str) -> Iterator[tuple[BaseRoute, Match]]:
    scope = {"type": "http", "method": method, "path": path, "root_path": "", "headers": []}
    for route in _expand(app.routes, path):
        match, _more = route.matches(scope)
        if match is not Match.NONE:
            yield route, match


def _expand(routes: Iterable[BaseRoute], path: str | None = None) -> Iterator[BaseRoute]:
    """Each room's routes in its place. path: those of other rooms are left out."""
    for route in routes:
        if not isinstance(route, Room):
            yield route
        elif path is None or route.holds(path):
            yield from route.routes
