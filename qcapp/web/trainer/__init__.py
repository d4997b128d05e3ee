"""The trainer's pages."""

from qcapp.web.trainer import api, batch_charts, drift, gauges, lessons, pages, people, teach

ROUTERS = (
    teach.router,
    pages.router,
    people.router,
    lessons.router,
    api.router,
    drift.router,
    gauges.router,
    batch_charts.router,
)
