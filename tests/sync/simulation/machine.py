"""Phones, a server and everything that goes wrong between them, as a hypothesis state machine."""

import math

from hypothesis import strategies as st
from hypothesis.stateful import initialize, precondition, rule

from qcapp.inspection.event import canonical, stove_key
from qcapp.sync.protocol import MAX_EVENT_BYTES
from tests.sync.simulation import checker
from tests.sync.simulation.exchanges import Exchanges, faults, few
from tests.sync.simulation.phone import Edits, Phone, PhoneError
from tests.sync.simulation.records import KINDS, PADDING, alter
from tests.sync.simulation.yard import DEVICES

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


def make_small(batch: int, page: int) -> Edits:
    """Sizes at which few records make many batches, pages and pieces."""
    return {
        "session": [("FIRST_BATCH = 50;", f"FIRST_BATCH = {batch};")],
        "photo_upload": [("PIECE_BYTES = 32_768;", "PIECE_BYTES = 200;")],
        "pull": [("&limit=200&", f"&limit={page}&")],
    }


class Faults(Exchanges):
    """The yard's work, what happens to server and phones, and the reckoning when all is quiet."""

    @initialize(phones=st.integers(2, 3), batch=st.integers(1, 3), page=st.integers(1, 4), last=few)
    def begin(self, phones: int, batch: int, page: int, last: int) -> None:
        """last: whose exchange comes last when all is quiet."""
        self.last = last
        self.sizes = make_small(batch, page)
        for number, device in enumerate(DEVICES[:phones]):
            self.phones.append(self._make_phone(f"phone {number + 1}", device))

    # --- the yard's work

    @rule(
        phone=few,
        kind=kinds,
        stove=st.sampled_from(STOVES),
        photo=st.sampled_from((None, None, 0, 1, 2)),
        is_sent=st.booleans(),
    )
    def record(self, phone: int, kind: str, stove: str, photo: int | None, is_sent: bool) -> None:
        picked = self._pick(phone)
        photos = [] if photo is None else [picked.save_photo(self.world.photos[photo])]
        picked.record(**self.world.records.inspect(kind, stove), photos=photos)
        if is_sent:
            self.backups.append(self.yard.backup())
            self._exchange(picked, [])

    @rule(phone=few, kind=kinds, step=st.integers(1, 6), is_sent=st.booleans())
    def kill_in_a_record(self, phone: int, kind: str, step: int, is_sent: bool) -> None:
        """The record is there whole, or nothing of it is; who is not sure makes another one."""
        fields = self.world.records.inspect(kind, "S3")
        self._pick(phone).do("record", fields=fields, limits={"stepsLeft": step})
        if is_sent:
            self.record(phone=phone, kind=kind, stove="S3", photo=None, is_sent=True)

    @rule(phone=few, kind=kinds, step=st.integers(1, 45))
    def kill_in_an_exchange(self, phone: int, kind: str, step: int) -> None:
        """The page dies before or after one of its commits, with something to pull."""
        self.record(phone=phone + 1, kind=kind, stove="S2", photo=None, is_sent=True)
        self._exchange(self._pick(phone), [], 1, {"stepsLeft": step})

    @rule(phone=few, kind=kinds, stove=st.sampled_from(STOVES), writes=st.sampled_from((1, 2, 99)))
    def record_without_room(self, phone: int, kind: str, stove: str, writes: int) -> None:
        """The phone is full, for good or until something was given up for the record."""
        picked, fields = self._pick(phone), self.world.records.inspect(kind, stove)
        rows, number = dict(picked.rows), picked.meta.get("dev_seq")
        try:
            picked.do("record", fields=fields, limits={"fullFor": writes})
        except PhoneError as error:
            if error.name != "QuotaExceededError":
                raise
            same = (picked.rows, picked.meta.get("dev_seq")) == (rows, number)
            checker.expect(12, same, f"{picked.name} kept something of a record it had no room for")

    @rule(phone=few, kind=kinds, which=st.integers(0, 9), is_void=st.booleans())
    def correct(self, phone: int, kind: str, which: int, is_void: bool) -> None:
        picked = self._pick(phone)
        known = sorted(
            key
            for key, row in picked.rows.items()
            if row["event"]["kind"] in ("inspection", "correction")
        )
        if known:
            target = picked.rows[known[which % len(known)]]["event"]
            records = self.world.records
            picked.record(**(records.void(target) if is_void else records.correct(target, kind)))

    def _record_too_much(self, phone: Phone) -> None:
        event = phone.record(**self.world.records.inspect("good", "S3"), padding=PADDING)
        assert len(canonical(event)) > MAX_EVENT_BYTES
        self.oversize.add((event["id"], event["hash"]))

    def _copy_an_id(self, phone: Phone) -> None:
        """Another phone offers another content under an id that is taken."""
        other = self._pick(self.phones.index(phone) + 1)
        own = sorted(
            key
            for key, row in other.rows.items()
            if row["origin"] == "own" and row["event"]["stove"]
        )
        if not own or own[0] in phone.rows or "padding" in other.rows[own[0]]["event"]:
            return
        event = alter(other.rows[own[0]]["event"])
        key = stove_key("finished", event["stove"])
        row = {"id": event["id"], "key": key, "event": event, "origin": "own", "state": "unsent"}
        phone.ask("put_row", row=row)

    @rule(phone=few)
    def hand_over(self, phone: int) -> None:
        """A file with all that waits, taken in by the next phone; the first keeps its own."""
        text = self._pick(phone).do("export_file")
        taken = self._pick(phone + 1).do("import_file", text=text)
        assert taken["damaged"] == taken["left"] == 0, taken

    @rule(phone=few, steps=st.sampled_from((1, 1, 2)), faults=faults)
    def exchange_in_two_tabs(self, phone: int, steps: int, faults: list[str]) -> None:
        """The second tab has come and gone before the first hears its answer."""
        self.begin_exchange(phone=phone, tab=1, steps=steps, has_new=True)
        self.record(phone=phone, kind="good", stove="S2", photo=None, is_sent=True)
        if self.held:
            self.end_exchange(which=-1, faults=faults)

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
        for phone in self.phones:
            self.ledger.photos_undone |= {
                name for name, photo in phone.photos.items() if photo["state"] == "sent"
            } - set(whole)

    @rule(phone=few, kind=kinds)
    def lose_the_last_exchange(self, phone: int, kind: str) -> None:
        """The server dies after it has answered, and the backup from just before is put back."""
        self.record(phone=phone, kind=kind, stove="S1", photo=None, is_sent=True)
        self.restore(which=0)

    @rule(phone=few)
    def empty_phone(self, phone: int) -> None:
        """The browser gives the phone a new, empty database; the counts noted beside it live on."""
        self._replace(self._pick(phone), {})

    @rule(phone=few)
    def copy_phone(self, phone: int) -> None:
        picked = self._pick(phone)
        picked.ask("keep_profile", profile=picked.name)
        self.profiles[picked.name] = dict(picked.rows)

    @precondition(lambda self: self.profiles)
    @rule(phone=few)
    def roll_back_phone(self, phone: int) -> None:
        """The phone's database is that of an earlier day; the noted counts are today's."""
        picked = self._pick(phone)
        if picked.name in self.profiles:
            self._replace(picked, self.profiles.pop(picked.name), profile=picked.name)

    def _replace(self, old: Phone, rows: dict, **more) -> None:
        """Another database beside the same counts; what is not in it is lost,
        and owed where the server has it.
        """
        here = {(row.id, row.hash) for row in self.yard.read_log()}
        back = set(map(checker.key_of, rows.values()))
        own = {checker.key_of(row) for row in old.rows.values() if row["origin"] == "own"}
        self.ledger.owed |= (own - back) & here
        device, loss = old.meta.get("device_id"), old.meta.get("loss")
        if loss and not loss["is_reported"]:
            # Emptied twice without an exchange between: the first loss was noted only in what is
            # gone now.
            self._forget_report(loss["device_id"])
        if device is None:
            # Never opened since it was emptied: the phone meets both losses at once, as one.
            device = (old.counts or {}).get("device_id")
            self._forget_report(device)
        # A page that died between its commit and the note of it: the last record is in neither.
        noted = old.counts["created"] if old.was_killed and old.counts else math.inf
        made = {
            key
            for key, event in self.ledger.made.items()
            if event["device_id"] == device
            and event["app_build"] != "altered"
            and event["dev_seq"] <= noted
        }
        if made - back:
            self.ledger.reports.append((device, len(made - back - here)))
        old.reload()
        fresh = self._make_phone(old.name, None, replaces=old.number, **more)
        fresh.offset_ms = old.offset_ms
        # What stands beside the database still lacks that record.
        fresh.was_killed = old.was_killed
        self.phones[self.phones.index(old)] = fresh

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
        picked = self._pick(phone)
        if mishap == "backup":
            self.backups.append(self.yard.backup())
        elif mishap == "too much":
            self._record_too_much(picked)
        elif mishap == "copied id":
            self._copy_an_id(picked)
        elif mishap == "clock":
            picked.offset_ms = CLOCKS_MS[number]
        elif mishap == "rest":
            self.yard.wait(minutes=(1, 6, 1440)[number % 3])
        elif mishap == "reload":
            picked.reload()
        else:
            self._join(picked)

    def _join(self, phone: Phone) -> None:
        assert self._go_on(phone.enrol(self.yard.make_code()), []) == {"name": "Phone again"}

    # --- quiet, and the whole reckoning

    def teardown(self) -> None:
        if not self.phones:
            return
        self.yard.wait(minutes=6)
        turn = self.last % len(self.phones)
        for phone in (*self.phones[turn:], *self.phones[:turn]):
            self._exchange_quietly(phone)
        rows = self.yard.read_log()
        checker.check_log(self.yard, self.ledger, self.phones, rows, self.oversize)
        for phone in self.phones:
            self._exchange_quietly(phone)
            checker.check_positions(phone, rows)
            checker.check_views(phone, rows)
        checker.expect(
            3, self.yard.read_log() == rows, "an exchange with nothing new changed the log"
        )
        checker.check_numbers(self.ledger, rows)
        checker.check_authors(self.yard, self.ledger, self.phones)
        checker.check_photos(self.yard, self.ledger, self.phones)
        checker.check_figures(self.yard)
        type(self).made += len(self.ledger.made)
        type(self).network_faults += self.network.faults
        type(self).signed += self.ledger.signed
        type(self).unproven.update(self.ledger.unproven)

    def _exchange_quietly(self, phone: Phone) -> None:
        done = self._go_on(phone.exchange(job="send_now"), [])
        if done["status"] == "pair-again":
            self._join(phone)
            done = self._go_on(phone.exchange(job="send_now"), [])
        assert done["status"] in ("sent", "nothing"), f"{phone.name} ended with {done}"
