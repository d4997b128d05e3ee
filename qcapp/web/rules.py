"""Who may use a route, said beside the route: `dependencies=[allow("see_figures")]`.

The middleware finds the rule of the route that a request will reach by the app's own routing, in
the app's own order, and refuses what has none. create_app starts no app with such a route.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from fastapi import Depends, FastAPI, Request
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute, Match

from qcapp.access.roles import ACTIONS, ROLES
from qcapp.errors import NotFound, StartError
from qcapp.i18n.phrase import phrase

MAX_BYTES = 262_144
# A file of records, and the form around it.
MAX_FILE_BODY_BYTES = 64 * 1024 * 1024 + 10_000


@dataclass(frozen=True, eq=False)
class Allow:
    """What a route declares.

    audit_message: a code of qcapp/access/audit_messages.py; max_bytes: of a request's body.
    """

    action: str
    audit_message: str
    max_bytes: int

    def __call__(self, request: Request) -> None:
        """The route asks: was I let in by my own rule?"""
        rule = request.state.rule
        if rule is None or rule.declared is not self:
            raise NotFound(
                phrase("there is no page at this address"),
                request.url.path,
                phrase("check the address"),
            )


@dataclass(frozen=True)
class Rule:
    """What one route of an app declares. path: the route's template."""

    method: str
    path: str
    declared: Allow

    @property
    def action(self) -> str:
        return self.declared.action

    @property
    def audit_message(self) -> str:
        return self.declared.audit_message

    @property
    def max_bytes(self) -> int:
        return self.declared.max_bytes

    @property
    def roles(self) -> tuple[str, ...]:
        return ACTIONS[self.action][1]

    @property
    def is_change(self) -> bool:
        return self.method not in ("GET", "HEAD")


def allow(action: str, audit_message: str = "", *, max_bytes: int = MAX_BYTES) -> Any:
    """The rule of a route, for its `dependencies`. action: a name of ACTIONS."""
    if action not in ACTIONS:
        raise KeyError(f"{action} is no action of qcapp/access/roles.py")
    return Depends(Allow(action, audit_message, max_bytes))


def list_rules(app: FastAPI) -> list[Rule]:
    """The rules of all routes, in the order in which they are tried."""
    return [
        Rule(method, route.path, declared)
        for route in _list_routes(app.routes)
        if (declared := _find_declared(route)) and isinstance(route, APIRoute)
        for method in sorted(route.methods or ())
    ]


def find_rule(app: FastAPI, method: str, path: str) -> Rule | None:
    """The rule of the route that this address reaches; None when it reaches none, or one without a
    rule.
    """
    for route, match in _match(app, method, path):
        if match is Match.FULL:
            declared = _find_declared(route)
            return Rule(method, getattr(route, "path", path), declared) if declared else None
    return None


def list_methods(app: FastAPI, path: str) -> list[str]:
    """What may be asked of this address at all; empty when it is none of ours."""
    return sorted(
        {
            method
            for route, _how in _match(app, "GET", path)
            if isinstance(route, APIRoute) and _find_declared(route)
            for method in route.methods or ()
        }
    )


def refuse_unruled_routes(app: FastAPI) -> None:
    """Raises StartError when a route says nothing of who may use it; FastAPI's own, or a mount,
    says nothing ever.
    """
    for route in _list_routes(app.routes):
        if _find_declared(route) is None:
            raise StartError(
                "this route does not say who may use it",
                getattr(route, "path", str(route)),
                "declare it: dependencies=[allow(...)] of qcapp/web/rules.py",
            )


def _match(app: FastAPI, method: str, path: str) -> Iterator[tuple[BaseRoute, Match]]:
    scope = {"type": "http", "method": method, "path": path, "root_path": "", "headers": []}
    for route in _list_routes(app.routes):
        match, _more = route.matches(scope)
        if match is not Match.NONE:
            yield route, match


def _list_routes(routes: Iterable[BaseRoute]) -> Iterator[BaseRoute]:
    """Every route, those of included routers too, whatever shape FastAPI keeps them in."""
    for route in routes:
        inner = getattr(route, "original_router", None)
        if inner is None:
            yield route
        else:
            yield from _list_routes(inner.routes)


def _find_declared(route: BaseRoute) -> Allow | None:
    declared = (
        given.dependency for given in (route.dependencies if isinstance(route, APIRoute) else ())
    )
    return next((one for one in declared if isinstance(one, Allow)), None)


def write_table(rules: Iterable[Rule]) -> str:
    """Markdown: a line an action, a column a role, then the routes."""
    rules = list(rules)
    lines = [
        f"| action | {' | '.join(role.replace('_', ' ') for role in ROLES)} | routes |",
        f"|---|{'---|' * len(ROLES)}---|",
    ]
    for action, (words, roles) in ACTIONS.items():
        marks = " | ".join("yes" if role in roles else "–" for role in ROLES)
        # dict.fromkeys: once each, in this order.
        routes = ", ".join(
            dict.fromkeys(f"`{rule.method} {rule.path}`" for rule in rules if rule.action == action)
        )
        lines.append(f"| **{action}**: {words} | {marks} | {routes} |")
    return "\n".join(lines)
