"""Phones and their exchanges with the server, whole, half-way and at once,
as a part of the state machine.
"""

from collections import Counter, deque
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule

from tests.sync.simulation import checker
from tests.sync.simulation.checker import Before, Key, Ledger
from tests.sync.simulation.network import FAULTS, Network, Outcome
from tests.sync.simulation.phone import Edits, Job, Phone
from tests.sync.simulation.world import World

few = st.sampled_from((0, 0, 1, 2))
faults = st.lists(st.sampled_from(FAULTS), max_size=4)


@dataclass
class Held:
    """An exchange of a tab that waits for an answer which the server has given already."""

    phone: Phone
    job: Job
    outcome: Outcome


class Exchanges(RuleBasedStateMachine):
    """world is put in before a run; edits are where a shortcut can be made."""

    world: World
    edits: Edits = MappingProxyType({})
    runs = made = network_faults = signed = 0
    unproven: ClassVar[Counter[str]] = Counter()

    def __init__(self) -> None:
        super().__init__()
        type(self).runs += 1
        self.yard, self.ledger = self.world.yard, Ledger()
        self.yard.start_again()
        self.world.phones.forget()
        self.phones: list[Phone] = []
        self.backups = deque(maxlen=3)
        self.network = Network(self.yard)
        self.held: deque[Held] = deque(maxlen=4)
        self.profiles: dict[str, dict] = {}
        self.oversize: set[Key] = set()

    def _make_phone(self, name: str, device: str | None, **more) -> Phone:
        meta = {"reference_tag": self.yard.reference_tag}
        if device:
            meta |= {"device_id": device, "dev_seq": 0, "token": self.yard.tokens[device]}
        edits = {
            module: [*self.sizes.get(module, ()), *self.edits.get(module, ())]
            for module in {*self.sizes, *self.edits}
        }
        phone = self.world.phones.make(name, meta, edits, **more)
        phone.made = self.ledger.note_made
        return phone

    def _pick(self, number: int) -> Phone:
        return self.phones[number % len(self.phones)]

    # --- exchanges

    @rule(phone=few, tab=st.integers(0, 1), faults=faults, has_backup=st.booleans())
    def exchange(self, phone: int, tab: int, faults: list[str], has_backup: bool) -> None:
        if has_backup:
            self.backups.append(self.yard.backup())
        self._exchange(self._pick(phone), list(faults), tab)

    @rule(
        phone=few, tab=st.integers(0, 1), steps=st.sampled_from((1, 1, 2, 3)), has_new=st.booleans()
    )
    def begin_exchange(self, phone: int, tab: int, steps: int, has_new: bool) -> None:
        """An exchange that stops half-way, its last answer still on the way."""
        picked = self._pick(phone)
        if has_new:
            picked.record(**self.world.records.inspect("good", "S1"))
        job = picked.exchange(tab)
        while job.call is not None and steps > 0 and job.call.method != "PATCH":
            steps -= job.call.path != "/api/sync/hello"
            outcome = self.network.carry(job.call, "none")
            if steps <= 0:
                self.held.append(Held(picked, job, outcome))
                return
            self._hear(job, outcome)

    @precondition(lambda self: self.held)
    @rule(which=few, faults=faults)
    def end_exchange(self, which: int, faults: list[str]) -> None:
        held = self.held[which % len(self.held)]
        self.held.remove(held)
        if held.phone in self.phones and held.phone.busy.get(held.job.page) is held.job:
            self._hear(held.job, held.outcome)
            self._go_on(held.job, list(faults))

    @precondition(lambda self: self.network.requests)
    @rule(which=st.integers(0, 7))
    def deliver_again(self, which: int) -> None:
        """An old request arrives once more, or late; nobody waits for its answer."""
        self.yard.ask(self.network.requests[which % len(self.network.requests)])

    def _exchange(
        self, phone: Phone, faults: list[str], tab: int = 0, limits: Mapping | None = None
    ) -> dict | None:
        return self._go_on(phone.exchange(tab, limits), faults)

    def _go_on(self, job: Job, faults: list[str]) -> dict | None:
        while job.call is not None:
            self._hear(job, self.network.carry(job.call, faults.pop(0) if faults else "none"))
        return job.value

    def _hear(self, job: Job, outcome: Outcome) -> None:
        before, call = Before.of(job.phone), job.call
        job.hear(outcome.answer, has_timed_out=outcome.has_timed_out)
        checker.check_heard(before, job.phone, call, outcome)
        checker.check_positions(job.phone, self.yard.read_log())
