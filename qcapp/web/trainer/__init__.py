"""The trainer's pages."""

from qcapp.web.trainer import api, batch_charts, drift, lessons, pages, people, teach

ROUTERS = (
    teach.router,
    pages.router,
    people.router,
    lessons.router,
    api.router,
    drift.router,
    batch_charts.router,
)
