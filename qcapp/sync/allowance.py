"""What one phone may hand in on a day, so that one phone gone bad cannot fill the disk.

How it was chosen. A person checks a stove in about a minute: 600 in a day of ten hours, 2 kB
each. MAX_RECORDS is more than eight such days, for a phone that was out of reach or that sends
again after a restore; a larger backlog arrives over several days and is lost nowhere, since a phone
keeps what is not acknowledged. MAX_PHOTOS is a photo of three stoves in ten of these. MAX_BYTES is
twice what a phone keeps unsent in photos at most (60 MB, of about 100 kB each).
"""

from datetime import datetime, timedelta

from qcapp.errors import TooMany
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Connection
from qcapp.store.registry import intake
from qcapp.store.registry.intake import Taken

MAX_RECORDS = 5_000
MAX_PHOTOS = 1_500
MAX_BYTES = 120_000_000
# Records are sent before their photos, so an honest phone has none of these.
MAX_NAMELESS = 50
NAMELESS_DAYS = 7


class Allowance:
    """What is left of one phone's day. device_id None: whoever holds the server, without limits."""

    def __init__(self, connection: Connection, device_id: str | None, now: datetime) -> None:
        self._connection, self._device_id, self._now = connection, device_id, now
        self._day = now.date().isoformat()
        self._before = intake.find_taken(connection, device_id, self._day) if device_id else Taken()
        self._more = Taken()

    def take_record(self, size: int) -> bool:
        """Whether one more record of so many bytes may come today; counts it if so."""
        return self._take(Taken(records=1, bytes=size))

    def take_bytes(self, size: int) -> bool:
        """The same of what is neither record nor photo."""
        return self._take(Taken(bytes=size))

    def take_piece(self, sha256: str, size: int, *, is_first: bool, is_named: bool) -> None:
        """Counts a piece of a photo. Raises TooMany when it is too much for a day."""
        if self._device_id is None:
            return
        if is_first and not is_named:
            oldest = (self._now.date() - timedelta(days=NAMELESS_DAYS)).isoformat()
            intake.drop_nameless(self._connection, oldest)
            if intake.count_nameless(self._connection, self._device_id) >= MAX_NAMELESS:
                raise self._too_many(phrase("this phone sent photos that no record names"))
            intake.begin_upload(self._connection, sha256, self._device_id, self._day)
        if not self._take(Taken(photos=int(is_first), bytes=size)):
            raise self._too_many(phrase("this phone has sent all that one may send in a day"))

    def keep(self) -> None:
        """Writes down what was taken."""
        if self._device_id is not None and self._more != Taken():
            intake.add_taken(self._connection, self._device_id, self._day, self._more)

    def _take(self, more: Taken) -> bool:
        if self._device_id is None:
            return True
        found = Taken(*map(sum, zip(self._before, self._more, more, strict=True)))
        if found.records > MAX_RECORDS or found.photos > MAX_PHOTOS or found.bytes > MAX_BYTES:
            return False
        self._more = Taken(*map(sum, zip(self._more, more, strict=True)))
        return True

    def _too_many(self, what: str) -> TooMany:
        midnight = datetime.combine(self._now.date() + timedelta(days=1), datetime.min.time())
        wait_s = int((midnight - self._now.replace(tzinfo=None)).total_seconds()) + 1
        return TooMany(
            what, "", phrase("the phone keeps the rest and sends it tomorrow"), wait_s=wait_s
        )
