"""The phone: its files, and the calls by which it sends and fetches."""

from qcapp.web.phone import app_files, sync_api

ROUTERS = (app_files.router, sync_api.router)
