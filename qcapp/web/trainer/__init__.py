"""The trainer's pages."""

from qcapp.web.trainer import (
    api,
    batch_charts,
    drift,
    gauges,
    lesson_parts,
    lessons,
    pages,
    people,
    teach,
)

ROUTERS = (
    teach.router,
    pages.router,
    people.router,
    lessons.router,
    lesson_parts.router,
    api.router,
    drift.router,
    gauges.router,
    batch_charts.router,
)
