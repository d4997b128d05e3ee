"""Templates and gauges with their checks, read from the records."""

import json

from sqlalchemy import Connection, select

from qcapp.inspection.gauges import Gauge, GaugeRecord, build_gauges
from qcapp.store.log import list_by_kind
from qcapp.store.tables import LOG


def list_gauges(connection: Connection) -> list[Gauge]:
    """Those in use, by name."""
    query = (
        select(LOG.c.raw, LOG.c.received_at)
        .where(LOG.c.kind.in_(("gauge", "gauge_check")), LOG.c.state == "counted")
        .order_by(LOG.c.seq)
    )
    return build_gauges(
        GaugeRecord(json.loads(row.raw), row.received_at) for row in connection.execute(query)
    )


def load_gauge_terms(connection: Connection) -> dict[str, str]:
    """{id of a record that describes a gauge: id of the gauge}; also of those no longer used: a
    phone may come late with a check.
    """
    return {
        event["id"]: event["body"].get("gauge") or event["id"]
        for event in list_by_kind(connection, "gauge")
        if not event["body"].get("withdraws")
    }
