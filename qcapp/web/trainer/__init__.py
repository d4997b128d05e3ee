"""The trainer's pages."""

from qcapp.web.trainer import (
    api,
    batch_charts,
    cards,
    drift,
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
    cards.router,
    skills.router,
    api.router,
    drift.router,
    batch_charts.router,
)
