"""What each phone said of itself at its last contact, for a yard without internet."""

from dataclasses import dataclass

from qcapp.settings import Settings
from qcapp.store.engine import find_missing
from qcapp.store.registry import devices
from qcapp.usecases.open_store import open_store
from qcapp.web.phone.app_files import load_shell


@dataclass(frozen=True)
class PhoneLine:
    """What a phone said of itself at its last contact."""

    name: str
    last_seen_at: str | None
    unsent: int
    build: str | None
    is_current: bool
    clock_offset_ms: int | None


def list_devices_seen(settings: Settings) -> list[PhoneLine]:
    if find_missing(settings.database_url):
        # Asked before the first start: no phone has been here, and no yard is made by asking.
        return []
    build = load_shell(settings.static_dir).build
    store = open_store(settings)
    with store.reading() as connection:
        rows = devices.list_devices(connection)
    return [
        PhoneLine(
            row.name,
            row.last_seen_at,
            row.unsent,
            row.app_build,
            row.app_build == build,
            row.clock_offset_ms,
        )
        for row in rows
    ]


def write_phones(phones: list[PhoneLine]) -> list[str]:
    if not phones:
        return ["phones       none has joined"]
    return ["phones", *(f"  {phone.name:16} {_describe(phone)}" for phone in phones)]


def _describe(phone: PhoneLine) -> str:
    if not phone.last_seen_at:
        return "has not sent anything yet"
    offset = phone.clock_offset_ms
    clock = "clock unknown" if offset is None else f"clock {offset / 60_000:+.0f} min"
    build = (
        f"build {phone.build or 'unknown'}{'' if phone.is_current else ' (not the current one)'}"
    )
    last = phone.last_seen_at[:16].replace("T", " ")
    return f"last contact {last} UTC, unsent {phone.unsent}, {build}, {clock}"
