"""Rendering of pages for people: Jinja2, escaped, in the language of whoever reads (language.py, template_words.py)."""

from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from qcapp.access.roles import may
from qcapp.access.sessions import NOBODY
from qcapp.errors import StoreError
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.store.registry.yard_facts import get_yard_name
from qcapp.web.layout.template_filters import install_filters
from qcapp.web.middleware.language import list_choices
from qcapp.web.rules import find_rule

TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent.parent),
    autoescape=select_autoescape(),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
install_filters(TEMPLATES)


# Address, words, other addresses that belong to it. A door is shown to whom the rules let in.
ROOMS = (
    ("/trainer", phrase("Trainer"), ()),
    ("/batches", phrase("Batches"), ()),
    ("/yard", phrase("Yard"), ()),
    ("/yard/accounts", phrase("Accounts"), ("/yard/trail", "/account")),
    ("/phone/", phrase("Inspect"), ()),
)


def render_page(request: Request, template: str, **values) -> str:
    state = request.app.state
    caller = getattr(request.state, "caller", NOBODY)
    path = request.url.path
    rooms = [
        (href, name) for href, name, _more in ROOMS if _is_open(request.app, href, caller.role)
    ]
    shared = {
        "base": state.shell.base,
        "yard_name": _find_yard_name(state),
        "path": path,
        "caller": caller,
        "rooms": rooms,
        "here": _find_room(path),
        "may": lambda action: may(caller.role, action),
        "words": get_active_locale(),
        "languages": list_choices(request),
    }
    return TEMPLATES.get_template(template).render(**shared, **values)


def _find_yard_name(state) -> str:
    """The setting where the database cannot be asked: a page that tells of this must still open."""
    try:
        with state.store.reading() as connection:
            return get_yard_name(connection, state.settings.yard_name)
    except StoreError:
        return state.settings.yard_name


def _is_open(app: FastAPI, href: str, role: str) -> bool:
    rule = find_rule(app, "GET", href)
    return rule is not None and role in rule.roles


def _find_room(path: str) -> str | None:
    """Of the rooms this address lies in, the innermost."""
    places = [
        (place, href)
        for href, _name, more in ROOMS
        for place in (href, *more)
        if path.startswith(place)
    ]
    return max(places, key=lambda found: len(found[0]), default=(None, None))[1]


def page(request: Request, template: str, **values) -> HTMLResponse:
    return HTMLResponse(render_page(request, template, **values))
