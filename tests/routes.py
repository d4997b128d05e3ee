"""The routes of a yard's server and of a programme's own host, with who may use them.

python3 -m tests.routes prints the table of tests/access/ACCESS.md.
"""

from fastapi import FastAPI

from qcapp.app import include_rooms
from qcapp.programme_app import PROGRAMME_ROOMS
from qcapp.web.rooms import find_rule, list_rules
from qcapp.web.rules import write_table
from tests.builders import open_yard

APP = open_yard().client.app
PROGRAMME_APP = FastAPI(openapi_url=None)
include_rooms(PROGRAMME_APP, *PROGRAMME_ROOMS)

RULES = tuple(list_rules(APP))
PROGRAMME_RULES = tuple(list_rules(PROGRAMME_APP))


def find(method, address):
    """The rule of the route of a yard's server that this address reaches."""
    return find_rule(APP, method, address)


def write_access_table():
    return write_table((*RULES, *PROGRAMME_RULES))


if __name__ == "__main__":
    print(write_access_table())
