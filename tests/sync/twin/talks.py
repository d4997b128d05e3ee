"""Phones and their exchanges with the server, whole, half-way and at once,
as a part of the state machine.
"""

import itertools
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule

from tests.sync.twin import checker
from tests.sync.twin.call import Answer, Call
from tests.sync.twin.checker import Before, Handset, Key, Ledger
from tests.sync.twin.exchange import Tab, Talk
from tests.sync.twin.memory import Memory
from tests.sync.twin.way import FAULTS, Way
from tests.sync.twin.world import World

few = st.sampled_from((0, 0, 1, 2))
faults = st.lists(st.sampled_from(FAULTS), max_size=4)


@dataclass
class Held:
    """An exchange of a tab that waits for an answer which the server has given already."""

    handset: Handset
    talk: Talk
    call: Call
    answer: Answer | None
    is_junk: bool


class Talks(RuleBasedStateMachine):
    """world is put in before a run; make_tab and Tab's methods are where a shortcut can be made."""

    world: World
    make_tab: Callable[..., Tab] = Tab
    runs = 0

    def __init__(self) -> None:
        super().__init__()
        type(self).runs += 1
        self.yard, self.ledger, self.numbers = self.world.yard, Ledger(), itertools.count(1)
        self.yard.start_again()
        self.handsets: list[Handset] = []
        self.backups = deque(maxlen=3)
        self.way = Way(self.yard, self.numbers)
        self.held: deque[Held] = deque(maxlen=4)
        self.copies: dict[str, tuple] = {}
        self.oversize: set[Key] = set()

    def _make_handset(self, name: str, device: str | None) -> Handset:
        handset = Handset(name, None)
        meta = (
            {"device_id": device, "dev_seq": 0, "token": self.yard.tokens[device]} if device else {}
        )
        meta["reference_tag"] = self.yard.reference_tag
        handset.memory = Memory(
            lambda: self.yard.now_ms + handset.offset_ms, self._random_bits, meta=meta
        )
        handset.tabs = [self._make_tab(handset), self._make_tab(handset)]
        return handset

    def _make_tab(self, handset: Handset) -> Tab:
        return type(self).make_tab(
            handset.memory,
            lambda: f"request-{next(self.numbers)}",
            **self.sizes,
            passed=lambda: self.yard.now_ms,
        )

    def _random_bits(self) -> int:
        return next(self.numbers) * 0x9E3779B97F4A7C15 % 2**80

    def _pick(self, number: int) -> Handset:
        return self.handsets[number % len(self.handsets)]

    def _record(self, handset: Handset, **fields) -> dict:
        return self.ledger.note_made(handset.memory.record(**fields))

    # --- exchanges

    @rule(phone=few, tab=st.integers(0, 1), errors=faults, has_backup=st.booleans())
    def exchange(self, phone: int, tab: int, errors: list[str], has_backup: bool) -> None:
        handset = self._pick(phone)
        if has_backup:
            self.backups.append(self.yard.backup())
        self._go_on(handset, handset.tabs[tab].exchange(), list(errors))

    @rule(
        phone=few, tab=st.integers(0, 1), steps=st.sampled_from((1, 1, 2, 3)), has_new=st.booleans()
    )
    def begin_exchange(self, phone: int, tab: int, steps: int, has_new: bool) -> None:
        """An exchange that stops half-way, its last answer still on the way."""
        handset = self._pick(phone)
        if has_new:
            self._record(handset, **self.world.records.inspect("good", "S1"))
        talk = handset.tabs[tab].exchange()
        call = self._start(handset, talk)
        while call is not None and steps > 0 and call.method != "PATCH":
            steps -= call.path != "/api/sync/hello"
            answer, is_junk = self.way.carry(call, "none")
            if steps <= 0:
                self.held.append(Held(handset, talk, call, answer, is_junk))
                return
            call = self._hear(handset, talk, call, answer, is_junk)

    @precondition(lambda self: self.held)
    @rule(which=few, errors=faults)
    def end_exchange(self, which: int, errors: list[str]) -> None:
        held = self.held[which % len(self.held)]
        self.held.remove(held)
        if held.handset in self.handsets:
            call = self._hear(held.handset, held.talk, held.call, held.answer, held.is_junk)
            self._go_on(held.handset, held.talk, list(errors), call)

    @precondition(lambda self: self.way.requests)
    @rule(which=st.integers(0, 7))
    def deliver_again(self, which: int) -> None:
        """An old request arrives once more, or late; nobody waits for its answer."""
        self.yard.ask(self.way.requests[which % len(self.way.requests)])

    def _start(self, handset: Handset, talk: Talk) -> Call | None:
        call = self._next(talk, None)
        # An exchange may have recorded a loss.
        for row in handset.memory.rows.values():
            if row["event"]["kind"] == "device_report":
                self.ledger.note_made(row["event"])
        return call

    def _go_on(
        self, handset: Handset, talk: Talk, errors: list[str], call: Call | None = None
    ) -> dict | None:
        self.ended = None
        call = call or self._start(handset, talk)
        while call is not None:
            error = errors.pop(0) if errors else "none"
            call = self._hear(handset, talk, call, *self.way.carry(call, error))
        return self.ended

    def _hear(
        self, handset: Handset, talk: Talk, call: Call, answer: Answer | None, is_junk: bool
    ) -> Call | None:
        before = Before.of(handset.memory)
        following = self._next(talk, answer)
        checker.check_heard(before, handset.memory, call, answer, is_junk)
        checker.check_positions(handset, self.yard.read_log())
        return following

    def _next(self, talk: Talk, answer: Answer | None) -> Call | None:
        try:
            return talk.send(answer)
        except StopIteration as end:
            self.ended = end.value
            return None
