"""Who may use a route, said beside the route: `dependencies=[allow("see_figures")]`.

The middleware finds the rule of the route that a request will reach by the app's own routing, in
the app's own order (qcapp/web/rooms.py), and refuses what has none.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypedDict

from fastapi import Depends, Request
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute

from qcapp.access.roles import ACTIONS, ROLES
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase

MAX_BYTES = 262_144
# Of anybody who may be nobody: hundreds may leave theirs half sent at once.
OPEN_BYTES = 65_536
# A file of records, and the form around it.
MAX_FILE_BODY_BYTES = 64 * 1024 * 1024 + 10_000
# Of one form. A re-check brings the most, three photos; one more, so that it can say so.
MAX_FILES = 4


class FormLimits(TypedDict, total=False):
    """As the framework has it: a form's texts and files, and bytes of one text."""

    max_fields: int
    max_files: int
    max_part_size: int


# Of a form that brings large files: its texts are held in memory, however long the body may be. A
# re-check has one text for each check, and a note.
FEW_TEXTS: FormLimits = {"max_fields": 300, "max_part_size": 8192}


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


def allow(action: str, audit_message: str = "", *, max_bytes: int | None = None) -> Any:
    """The rule of a route, for its `dependencies`. action: a name of ACTIONS; max_bytes: where a
    body may have more than MAX_BYTES, or OPEN_BYTES of anybody.
    """
    if action not in ACTIONS:
        raise KeyError(f"{action} is no action of qcapp/access/roles.py")
    usual = OPEN_BYTES if "anyone" in ACTIONS[action][1] else MAX_BYTES
    return Depends(Allow(action, audit_message, max_bytes or usual))


def find_declared(route: BaseRoute) -> Allow | None:
    """What a route declares; None when it declares nothing."""
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
