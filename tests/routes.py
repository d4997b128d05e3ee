"""The routes of a yard's server and of a programme's own host, with who may use them.

python3 -m tests.routes prints the table of tests/access/ACCESS.md.
"""

from fastapi import FastAPI

from qcapp.app import include_routers
from qcapp.web.accounts import audit_trail
from qcapp.web.programme import pages as programme_pages
from qcapp.web.programme import roll_out
from qcapp.web.rules import find_rule, list_rules, write_table
from tests.builders import open_yard

APP = open_yard().client.app
PROGRAMME_APP = FastAPI(openapi_url=None)
include_routers(
    PROGRAMME_APP, programme_pages.router, roll_out.router, audit_trail.programme_router
)

RULES = tuple(list_rules(APP))
PROGRAMME_RULES = tuple(list_rules(PROGRAMME_APP))


def find(method, address):
    """The rule of the route of a yard's server that this address reaches."""
    return find_rule(APP, method, address)


def write_access_table():
    return write_table((*RULES, *PROGRAMME_RULES))


if __name__ == "__main__":
    print(write_access_table())
