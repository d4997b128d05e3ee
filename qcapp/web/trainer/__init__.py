"""The trainer's pages."""

from qcapp.web.trainer import api, drift, pages

ROUTERS = (pages.router, api.router, drift.router)
