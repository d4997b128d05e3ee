"""Rendering of pages for people: Jinja2, escaped, with figures written one way."""

from pathlib import Path

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from qcapp.access.roles import find_rule, may
from qcapp.access.sessions import NOBODY
from qcapp.charts.frame import percent
from qcapp.errors import StoreTrouble
from qcapp.inspection.loss import describe_loss
from qcapp.store.yard_facts import get_yard_name

TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates"),
    autoescape=select_autoescape(),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def as_percent(share: float | None) -> str:
    """0.1234 -> "12 %"; as in the charts; a dash where there is nothing to divide by."""
    return "–" if share is None else percent(share)


def as_points(difference: float) -> str:
    """A difference of shares in stoves of a hundred, signed, with a real minus."""
    points = difference * 100
    text = f"{points:+.1f}" if abs(points) < 9.95 else f"{points:+.0f}"
    return "0" if float(text) == 0 else text.replace("-", "−")


def as_interval(interval) -> str:
    return f"{as_percent(interval.low)} to {as_percent(interval.high)}"


def as_minute(moment: str) -> str:
    """2026-11-25T10:27:28.217Z -> 2026-11-25 10:27 UTC"""
    return f"{moment[:10]} {moment[11:16]} UTC"


def as_clock(offset_ms: int | None) -> str:
    """How far a phone's clock is from the server's, in the largest unit that says it."""
    if offset_ms is None:
        return "not known"
    minutes = abs(offset_ms) / 60_000
    if minutes < 2:
        return "right"
    size, unit = next((size, unit) for size, unit in ((2880, "days"), (120, "hours"), (1, "minutes")) if minutes >= size)
    length = {"days": 1440, "hours": 60, "minutes": 1}[unit]
    return f"{round(minutes / length)} {unit} {'fast' if offset_ms > 0 else 'slow'}"


TEMPLATES.filters.update(minute=as_minute, clock=as_clock, loss=describe_loss, percent=as_percent, points=as_points, interval=as_interval)


# Address, words, other addresses that belong to it. A door is shown to whom the rules let in.
ROOMS = (
    ("/trainer", "Trainer", ()),
    ("/batches", "Batches", ()),
    ("/yard", "Yard", ()),
    ("/yard/accounts", "Accounts", ("/yard/trail", "/account")),
    ("/phone/", "Inspect", ()),
)


def render_page(request: Request, template: str, **values) -> str:
    state = request.app.state
    caller = getattr(request.state, "caller", NOBODY)
    path = request.url.path
    rooms = [(href, name) for href, name, _more in ROOMS if _is_open(state.rules, href, caller.role)]
    shared = {
        "base": state.shell.base, "yard_name": _find_yard_name(state), "path": path, "caller": caller,
        "rooms": rooms, "here": _find_room(path), "may": lambda action: may(caller.role, action),
    }
    return TEMPLATES.get_template(template).render(**shared, **values)


def _find_yard_name(state) -> str:
    """The setting where the database cannot be asked: a page that tells of this must still open."""
    try:
        with state.store.reading() as connection:
            return get_yard_name(connection, state.settings.yard_name)
    except StoreTrouble:
        return state.settings.yard_name


def _is_open(rules: tuple, href: str, role: str) -> bool:
    rule = find_rule(rules, "GET", href)
    return rule is not None and role in rule.roles


def _find_room(path: str) -> str | None:
    """Of the rooms this address lies in, the innermost."""
    places = [(place, href) for href, _name, more in ROOMS for place in (href, *more) if path.startswith(place)]
    return max(places, key=lambda found: len(found[0]), default=(None, None))[1]


def page(request: Request, template: str, **values) -> HTMLResponse:
    return HTMLResponse(render_page(request, template, **values))
