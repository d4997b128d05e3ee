"""One week: who records what and when, which fault falls where, all drawn from one seed."""

import io
import random
from collections import Counter, deque
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from PIL import Image

from tests.builders import build_small_checklist
from tests.sync.simulation import checker
from tests.sync.simulation.call import Call
from tests.sync.simulation.checker import Before
from tests.sync.simulation.machine import make_small
from tests.sync.simulation.network import Network
from tests.sync.simulation.phone import Edits, Job, Phone, Phones
from tests.sync.week import records
from tests.sync.week.records import GOOD, KINDS
from tests.sync.week.yard import INSPECTORS, OPEN_BATCHES, Key, WeekYard, build_second_revision

MINUTES_A_TURN = 3
NIGHT = timedelta(hours=12)
# Of a phone's turns: how many have signal, a correction or void, a photo with a record.
HAS_SIGNAL, MENDS, TAKES_PHOTO, SEES_AGAIN = 0.6, 0.1, 0.12, 0.1
STOVES_A_TURN = (0, 1, 1, 2, 2, 3)
PATHS = {"push": "/api/sync/push", "pull": "/api/sync/pull", "photo": "/api/photos/"}


@dataclass(frozen=True)
class Size:
    """rounds: turns of each phone a day; plays: what a fault's own number is multiplied by (at
    least once); checklist_day, checklist_round: when the second revision is published.
    """

    phones: int
    days: int
    rounds: int
    plays: int
    checklist_day: int
    checklist_round: int = 0


WEEK = Size(phones=20, days=7, rounds=6, plays=3, checklist_day=3)
DAY = Size(phones=5, days=1, rounds=6, plays=0, checklist_day=0, checklist_round=2)


@dataclass
class Gone:
    """A database that the browser threw away: its id, and what was in it and nowhere else."""

    device_id: str
    lost: set[Key]


@dataclass
class Week:
    """made: every record that a phone sealed and kept, by (id, hash). forged: what no phone made.
    removed: numbers of phones that the lead removed for good. copies: phones that run on a copied
    profile, with the one it was copied from. played: how often each fault was met. held_for: why a
    record must be held back whatever it says. keys: public keys by the phone's id, as phones have
    them. photos_undone: that a restored server had and then had no more; photos_given_up: by full
    phones.
    """

    yard: WeekYard
    pool: Phones
    size: Size
    seed: int
    made: dict[Key, dict] = field(default_factory=dict)
    forged: dict[Key, dict] = field(default_factory=dict)
    held_for: dict[Key, str] = field(default_factory=dict)
    keys: dict[str, set[str]] = field(default_factory=dict)
    photos_undone: set[str] = field(default_factory=set)
    photos_given_up: set[str] = field(default_factory=set)
    gone: list[Gone] = field(default_factory=list)
    removed: set[int] = field(default_factory=set)
    copies: set[int] = field(default_factory=set)
    played: Counter[str] = field(default_factory=Counter)
    ends: Counter[str] = field(default_factory=Counter)
    phones: list[Phone] = field(default_factory=list)
    old: deque[Call] = field(default_factory=lambda: deque(maxlen=40))
    round: int = 0
    stoves: int = 0

    def __post_init__(self) -> None:
        self.random = random.Random(self.seed)
        self.yard.start_again()
        self.pool.forget()
        self.network = Network(self.yard, requests=self.old)
        self.checklists = {1: build_small_checklist(), 2: build_second_revision()}
        self.sizes = make_small(batch=8, page=50)
        for number in range(1, self.size.phones + 1):
            self.phones.append(self.make_phone(f"phone {number}"))
        self.backup = self.yard.backup()

    def make_phone(self, name: str, **more: Any) -> Phone:
        edits: Edits = self.sizes
        phone = self.pool.make(name, {}, edits, **more)
        phone.made = self._note_made
        return phone

    def _note_made(self, event: dict) -> None:
        self.made.setdefault((event["id"], event["hash"]), event)

    # --- what goes on without a fault

    def pick_other(self, phone: Phone) -> Phone:
        """Another phone in service, with a profile of its own."""
        fit = [one for one in self.phones if one is not phone and self.is_plain(one)]
        return self.random.choice(fit)

    def is_plain(self, phone: Phone) -> bool:
        return phone.number not in self.removed and phone.number not in self.copies

    def draw_kind(self) -> str:
        names = list(KINDS)
        return self.random.choices(names, [KINDS[name][1] for name in names])[0]

    def build_inspection(
        self, phone: Phone, kind: str, stove: str | None = None, revision: int | None = None
    ) -> dict:
        """revision: of the checklist, the one that the phone has without it."""
        revision = revision or self.yard.revisions[phone.meta["reference_tag"]]
        batch = self.random.choice(OPEN_BATCHES)
        if stove is None:
            self.stoves += 1
            stove = f"{batch}-{self.stoves:04}"
        else:
            batch = stove.partition("-")[0]
        return records.build_fields(
            self.checklists[revision], kind, stove, self.random.choice(INSPECTORS), batch
        )

    def inspect(
        self,
        phone: Phone,
        kind: str,
        stove: str | None = None,
        *,
        has_photo: bool = False,
        revision: int | None = None,
    ) -> dict:
        photos = [self.take_photo(phone)] if has_photo else []
        fields = self.build_inspection(phone, kind, stove, revision)
        return phone.record(**fields, photos=photos)

    def take_photo(self, phone: Phone) -> str:
        """A small JPEG unlike any other of the week."""
        colour = tuple(self.random.randrange(256) for _ in range(3))
        file = io.BytesIO()
        Image.new("RGB", (8, 8), colour).save(file, "JPEG")
        return phone.save_photo(file.getvalue())

    def list_inspections(self, phone: Phone, origins: tuple[str, ...] = ("own", "other")):
        """Inspections on a phone that count, in the order of their ids."""
        return [
            row["event"]
            for _, row in sorted(phone.rows.items())
            if row["event"]["kind"] == "inspection"
            and row["origin"] in origins
            and (row["id"], row["event"]["hash"]) in self.made
            and records.expect_reason(row["event"]) is None
        ]

    def correct(self, phone: Phone, target: Mapping[str, Any]) -> dict:
        revision = next(
            number
            for number, one in self.checklists.items()
            if one.hash == target["checklist_hash"]
        )
        kind = self.random.choice(GOOD)
        fields = self.build_inspection(phone, kind, target["stove"], revision)
        return phone.record(**records.correct(target, fields))

    def void(self, phone: Phone, target: Mapping[str, Any]) -> dict:
        return phone.record(**records.void(target, self.random.choice(INSPECTORS)))

    # --- exchanges

    def exchange(
        self,
        phone: Phone,
        fault: str | None = None,
        at: str | None = None,
        limits: Mapping | None = None,
        job: str = "sync",
    ) -> Any:
        """fault: what happens to the first call of this kind, to the first of all without one."""
        done = self.go_on(phone.exchange(limits=limits, job=job), fault, at)
        if done and done["status"] == "pair-again" and phone.number not in self.removed:
            self.join(phone)
            done = self.go_on(phone.exchange(job=job))
        self.keep_key(phone)
        self.ends[done["status"] if done else "killed"] += 1
        return done

    def go_on(self, job: Job, fault: str | None = None, at: str | None = None) -> Any:
        while job.call is not None:
            is_met = fault is not None and (at is None or job.call.path.startswith(PATHS[at]))
            outcome = self.network.carry(job.call, fault if is_met and fault else "none")
            if is_met and fault:
                self.played[fault] += 1
                fault = None
            before, call = Before.of(job.phone), job.call
            job.hear(outcome.answer, has_timed_out=outcome.has_timed_out)
            checker.check_heard(before, job.phone, call, outcome)
        return job.value

    def keep_key(self, phone: Phone) -> None:
        key = phone.meta.get("signing_key")
        if key and "device_id" in phone.meta:
            self.keys.setdefault(phone.meta["device_id"], set()).add(key["public_key"])

    def join(self, phone: Phone) -> None:
        """By a code of the lead's, as on the first day."""
        assert self.go_on(phone.enrol(self.yard.make_code())) == {"name": "Phone again"}

    def put_back(self, *, is_told: bool) -> None:
        """This morning's backup takes the database's place."""
        self.photos_undone |= set(checker.read_whole_photos(self.yard))
        self.yard.put_back(self.backup, is_told=is_told)
        self.photos_undone -= set(checker.read_whole_photos(self.yard))

    @contextmanager
    def giving_up(self, phone: Phone) -> Iterator[None]:
        """What a full phone gives up for room: photos that the server has, as far as it knows."""
        before = set(phone.photos)
        try:
            yield
        finally:
            self.photos_given_up |= before - set(phone.photos)

    # --- the week

    def play(self, deck: Mapping[tuple[int, int, int], list]) -> None:
        """deck: the faults of each (day, round, place of a phone)."""
        for phone in self.phones:
            self.join(phone)
            self.exchange(phone)
        for day in range(self.size.days):
            self.backup = self.yard.backup()
            for round_ in range(self.size.rounds):
                self.round = round_
                if (day, round_) == (self.size.checklist_day, self.size.checklist_round):
                    self.yard.publish_second()
                for number in range(len(self.phones)):
                    self.take_turn(number, deck.get((day, round_, number), []))
            self.yard.now += NIGHT
        self.come_to_rest()

    def take_turn(self, number: int, faults: list) -> None:
        self.yard.wait(minutes=MINUTES_A_TURN)
        phone = self.find_in_service(number)
        for _ in range(self.random.choice(STOVES_A_TURN)):
            again = self.list_inspections(phone) if self.random.random() < SEES_AGAIN else []
            stove = self.random.choice(again)["stove"] if again else None
            has_photo = self.random.random() < TAKES_PHOTO
            self.inspect(phone, self.draw_kind(), stove, has_photo=has_photo)
        known = self.list_inspections(phone) if self.random.random() < MENDS else []
        if known:
            mend = self.random.choice((self.correct, self.correct, self.void))
            mend(phone, self.random.choice(known))
        for fault in faults:
            fault.play(self, self.find_in_service(number))
        if self.random.random() < HAS_SIGNAL:
            self.exchange(self.find_in_service(number))

    def find_in_service(self, number: int) -> Phone:
        phone = self.phones[number]
        return self.pick_other(phone) if phone.number in self.removed else phone

    def come_to_rest(self) -> None:
        """All faults are over; every phone in service sends what it has and fetches the rest."""
        self.yard.wait(minutes=6)
        for _ in range(2):
            for phone in self.phones:
                if phone.number in self.removed:
                    continue
                done = self.go_on(phone.exchange(job="send_now"))
                if done["status"] == "pair-again":
                    self.join(phone)
                    done = self.go_on(phone.exchange(job="send_now"))
                assert done["status"] in ("sent", "nothing"), f"{phone.name} ended with {done}"
