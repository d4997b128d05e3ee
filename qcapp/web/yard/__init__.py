"""The yard lead's pages of the yard itself."""

from qcapp.web.yard import backups, batches, costs, people, phones, quarantine, setup

ROUTERS = (
    phones.router,
    quarantine.router,
    people.router,
    setup.router,
    batches.router,
    costs.router,
    backups.router,
)
