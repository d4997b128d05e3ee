"""The trainer's pages."""

from qcapp.web.trainer import api, drift, lessons, pages

ROUTERS = (pages.router, lessons.router, api.router, drift.router)
