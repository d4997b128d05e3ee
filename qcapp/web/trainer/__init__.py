"""The trainer's pages."""

from qcapp.web.trainer import api, batch_charts, drift, lessons, pages, teach

ROUTERS = (
    teach.router,
    pages.router,
    lessons.router,
    api.router,
    drift.router,
    batch_charts.router,
)
