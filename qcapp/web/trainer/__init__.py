"""The trainer's pages."""

from qcapp.web.trainer import (
    api,
    batch_charts,
    cards,
    drift,
    gauges,
    lesson_parts,
    lessons,
    pages,
    people,
    skills,
    teach,
)

ROUTERS = (
    teach.router,
    pages.router,
    people.router,
    lessons.router,
    lesson_parts.router,
    cards.router,
    skills.router,
    api.router,
    drift.router,
    gauges.router,
    batch_charts.router,
)
