"""Phones, a server and everything that goes wrong between them, as a hypothesis state machine."""

from hypothesis import strategies as st
from hypothesis.stateful import initialize, precondition, rule

from qcapp.inspection.event import canonical
from qcapp.sync.protocol import MAX_EVENT_BYTES
from tests.sync.twin import checker
from tests.sync.twin.checker import Handset
from tests.sync.twin.records import KINDS, PADDING, alter
from tests.sync.twin.talks import Talks, faults, few
from tests.sync.twin.yard import DEVICES

CLOCKS_MS = (
    0,
    60_000,
    -60_000,
    40 * 86_400_000,
    -40 * 86_400_000,
    90 * 365 * 86_400_000,
    -50 * 365 * 86_400_000,
)
STOVES = ("S1", "S2", "S3")
kinds = st.sampled_from(tuple(KINDS))


class Faults(Talks):
    """The yard's work, what happens to server and phones, and the reckoning when all is quiet."""

    @initialize(phones=st.integers(2, 3), batch=st.integers(1, 3), page=st.integers(1, 4), last=few)
    def begin(self, phones: int, batch: int, page: int, last: int) -> None:
        """last: whose exchange comes last when all is quiet."""
        self.last = last
        self.sizes = {"batch_size": batch, "pull_limit": page, "piece_bytes": 200}
        for number, device in enumerate(DEVICES[:phones]):
            self.handsets.append(self._make_handset(f"phone {number + 1}", device))

    # --- the yard's work

    @rule(
        phone=few,
        kind=kinds,
        stove=st.sampled_from(STOVES),
        photo=st.sampled_from((None, None, 0, 1, 2)),
        is_sent=st.booleans(),
    )
    def record(self, phone: int, kind: str, stove: str, photo: int | None, is_sent: bool) -> None:
        handset = self._pick(phone)
        photos = [] if photo is None else [handset.memory.save_photo(self.world.photos[photo])]
        self._record(handset, **self.world.records.inspect(kind, stove), photos=photos)
        if is_sent:
            self.backups.append(self.yard.backup())
            self._go_on(handset, handset.tabs[0].exchange(), [])

    @rule(phone=few, kind=kinds, which=st.integers(0, 9), is_void=st.booleans())
    def correct(self, phone: int, kind: str, which: int, is_void: bool) -> None:
        handset = self._pick(phone)
        known = sorted(
            key
            for key, row in handset.memory.rows.items()
            if row["event"]["kind"] in ("inspection", "correction")
        )
        if known:
            target = handset.memory.rows[known[which % len(known)]]["event"]
            records = self.world.records
            self._record(
                handset, **(records.void(target) if is_void else records.correct(target, kind))
            )

    def _record_too_much(self, handset: Handset) -> None:
        event = self._record(handset, **self.world.records.inspect("good", "S3"), padding=PADDING)
        assert len(canonical(event)) > MAX_EVENT_BYTES
        self.oversize.add((event["id"], event["hash"]))

    def _copy_an_id(self, handset: Handset) -> None:
        """Another phone offers another content under an id that is taken."""
        other = self._pick(self.handsets.index(handset) + 1)
        own = sorted(
            key
            for key, row in other.memory.rows.items()
            if row["origin"] == "own" and row["event"]["stove"]
        )
        if (
            not own
            or own[0] in handset.memory.rows
            or "padding" in other.memory.rows[own[0]]["event"]
        ):
            return
        event = self.ledger.note_made(alter(other.memory.rows[own[0]]["event"]))
        handset.memory.rows[event["id"]] = {
            "id": event["id"],
            "key": f"finished/{event['stove']}",
            "event": event,
            "origin": "own",
            "state": "unsent",
        }

    @rule(phone=few)
    def hand_over(self, phone: int) -> None:
        """A file with all that waits, taken in by the next phone; the first keeps its own."""
        handset, other = self._pick(phone), self._pick(phone + 1)
        other.memory.take_relayed([row["event"] for row in handset.memory.list_unsent()])

    @rule(phone=few, steps=st.sampled_from((1, 1, 2)), errors=faults)
    def exchange_in_two_tabs(self, phone: int, steps: int, errors: list[str]) -> None:
        """The second tab has come and gone before the first hears its answer."""
        self.begin_exchange(phone=phone, tab=1, steps=steps, has_new=True)
        self.record(phone=phone, kind="good", stove="S2", photo=None, is_sent=True)
        if self.held:
            self.end_exchange(which=-1, errors=errors)

    # --- what happens to server and phones

    @rule(which=st.sampled_from((0, 0, 1, 2, 3)))
    def restore(self, which: int) -> None:
        """Back to the first day, or to a backup made since."""
        self.yard.restore(
            (*reversed(self.backups), self.yard.template)[which % (len(self.backups) + 1)]
        )
        self.ledger.restores += 1
        self.ledger.owed &= {(row.id, row.hash) for row in self.yard.read_log()}
        whole = checker.read_whole_photos(self.yard)
        for handset in self.handsets:
            self.ledger.photos_undone |= {
                name for name, photo in handset.memory.photos.items() if photo["state"] == "sent"
            } - set(whole)

    @rule(phone=few, kind=kinds)
    def lose_the_last_exchange(self, phone: int, kind: str) -> None:
        """The server dies after it has answered, and the backup from just before is put back."""
        self.record(phone=phone, kind=kind, stove="S1", photo=None, is_sent=True)
        self.restore(which=0)

    @rule(phone=few)
    def empty_phone(self, phone: int) -> None:
        """The browser gives the phone a new, empty database; the canary beside it lives on."""
        self._replace(self._pick(phone), {}, {}, {})

    @rule(phone=few)
    def copy_phone(self, phone: int) -> None:
        handset = self._pick(phone)
        memory = handset.memory
        self.copies[handset.name] = (
            dict(memory.rows),
            dict(memory.meta),
            {name: dict(photo) for name, photo in memory.photos.items()},
        )

    @precondition(lambda self: self.copies)
    @rule(phone=few)
    def roll_back_phone(self, phone: int) -> None:
        """The phone's database is that of an earlier day; the canary beside it is today's."""
        handset = self._pick(phone)
        if handset.name in self.copies:
            self._replace(handset, *self.copies.pop(handset.name))

    def _replace(self, old: Handset, rows: dict, meta: dict, photos: dict) -> None:
        """Another database under the same canary; what is not in it is lost,
        and owed where the server has it.
        """
        here = {(row.id, row.hash) for row in self.yard.read_log()}
        back = set(map(checker.key_of, rows.values()))
        self.ledger.owed |= (
            {checker.key_of(row) for row in old.memory.rows.values() if row["origin"] == "own"}
            - back
        ) & here
        device, loss = old.memory.meta.get("device_id"), old.memory.meta.get("loss")
        if loss and not loss["is_reported"]:
            # Emptied twice without an exchange between: the first loss was noted only in what is
            # gone now.
            self._forget_report(loss["device_id"])
        if device is None:
            # Never opened since it was emptied: the phone meets both losses at once, as one.
            device = (old.memory.canary or {}).get("device_id")
            self._forget_report(device)
        made = {
            key
            for key, event in self.ledger.made.items()
            if event["device_id"] == device and event["app_build"] != "altered"
        }
        if made - back:
            self.ledger.reports.append((device, len(made - back - here)))
        fresh = self._make_handset(old.name, None)
        fresh.memory.canary, fresh.offset_ms = old.memory.canary, old.offset_ms
        fresh.memory.rows, fresh.memory.photos = rows, photos
        fresh.memory.meta |= meta
        self.handsets[self.handsets.index(old)] = fresh

    def _forget_report(self, device: str | None) -> None:
        self.ledger.reports = [report for report in self.ledger.reports if report[0] != device]

    @rule(
        phone=few,
        mishap=st.sampled_from(
            (
                "backup",
                "backup",
                "backup",
                "too much",
                "copied id",
                "clock",
                "clock",
                "rest",
                "reload",
                "join again",
            )
        ),
        number=st.integers(0, len(CLOCKS_MS) - 1),
    )
    def happen(self, phone: int, mishap: str, number: int) -> None:
        handset = self._pick(phone)
        if mishap == "backup":
            self.backups.append(self.yard.backup())
        elif mishap == "too much":
            self._record_too_much(handset)
        elif mishap == "copied id":
            self._copy_an_id(handset)
        elif mishap == "clock":
            handset.offset_ms = CLOCKS_MS[number]
        elif mishap == "rest":
            self.yard.wait(minutes=(1, 6, 1440)[number % 3])
        elif mishap == "reload":
            handset.tabs = [self._make_tab(handset), self._make_tab(handset)]
        else:
            self._join(handset)

    def _join(self, handset: Handset) -> None:
        self._go_on(handset, handset.tabs[0].enrol(self.yard.make_code()), [])
        assert self.ended == {"status": "enrolled"}

    # --- quiet, and the whole reckoning

    def teardown(self) -> None:
        if not self.handsets:
            return
        self.yard.wait(minutes=6)
        turn = self.last % len(self.handsets)
        for handset in (*self.handsets[turn:], *self.handsets[:turn]):
            self._exchange_quietly(handset)
        rows = self.yard.read_log()
        checker.check_log(self.yard, self.ledger, self.handsets, rows, self.oversize)
        for handset in self.handsets:
            self._exchange_quietly(handset)
            checker.check_positions(handset, rows)
            checker.check_views(handset, rows)
        checker.expect(
            3, self.yard.read_log() == rows, "an exchange with nothing new changed the log"
        )
        checker.check_numbers(self.ledger, rows)
        checker.check_photos(self.yard, self.ledger, self.handsets)
        checker.check_figures(self.yard)

    def _exchange_quietly(self, handset: Handset) -> None:
        handset.memory.offer_refused_photos()
        done = self._go_on(handset, handset.tabs[0].exchange(), [])
        if done["status"] == "pair-again":
            self._join(handset)
            done = self._go_on(handset, handset.tabs[0].exchange(), [])
        assert done["status"] == "ok", f"{handset.name} ended with {done}"
