"""The programme lead's page: the yards of a programme, each in a few counts."""

from datetime import datetime, timedelta

from fastapi import APIRouter, Request

from qcapp.errors import StoreError
from qcapp.i18n.phrase import phrase
from qcapp.reports.programme import YardLine, build_yard_line
from qcapp.store.queries.overview import count_yard
from qcapp.store.timestamps import format_timestamp
from qcapp.web.deps import NowDep, SettingsDep
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
SILENT_DAYS = 7


@router.get("/", dependencies=[allow("see_programme")])
def show_programme(request: Request, settings: SettingsDep, now: NowDep):
    """The app's state has `yards`: {address: (name, store)}."""
    lines = [
        _read_yard(name, address, store, settings.min_count, now)
        for address, (name, store) in request.app.state.yards.items()
    ]
    lines.sort(key=lambda line: line.name)
    return page(
        request,
        "programme/programme.html",
        title=phrase("Yards"),
        lines=lines,
        silent_days=SILENT_DAYS,
        min_count=settings.min_count,
    )


def _read_yard(name: str, address: str, store, min_count: int, now: datetime) -> YardLine:
    """A yard whose database cannot be read must not hide the others."""
    try:
        with store.reading() as connection:
            counts = count_yard(
                connection, silent_before=format_timestamp(now - timedelta(days=SILENT_DAYS))
            )
    except StoreError as error:
        return YardLine(name, address, error=error.what)
    return build_yard_line(name, address, counts, min_count=min_count)
