"""Many phones push at once to one server process on SQLite: none lost, none twice, how long,
how large.
"""

import math
import statistics
import tempfile
import threading
import time
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from qcapp.access.devices import join_device, make_join_code
from qcapp.checklist.model import Checklist
from qcapp.inspection.event import build_uuid7
from qcapp.settings import Settings
from qcapp.store.engine import Store
from tests.builders import open_small_store
from tests.e2e.server import YardServer
from tests.sync.simulation.call import Answer, Call
from tests.sync.simulation.phone import Phone, Phones, running_phones
from tests.sync.simulation.records import build_records
from tests.sync.simulation.wire import Wire

MAX_SECONDS = 120
PAUSE_S = 0.5


@dataclass(frozen=True)
class Figures:
    """Times are those of single push calls, in seconds;
    peak_mb is the server's largest memory in 10^6 bytes.
    """

    phones: int
    inspections_each: int
    lost: int
    twice: int
    still_waiting: int
    busy_answers: int
    failed_calls: int
    seconds: float
    push_p50_s: float
    push_p99_s: float
    push_longest_s: float
    peak_mb: float


@dataclass
class Caller:
    """A phone whose calls go out on a thread of its own. failed: calls without an answer, or with
    one that is no 200 and no 503.

    It hears nothing more once its own work is sent. What phones fetch of each other grows as the square of
    their number (200 phones x 50 are two million records fetched), and would hide what is measured
    here.
    """

    phone: Phone
    wire: Wire
    push_s: list[float] = field(default_factory=list)
    busy: int = 0
    failed: int = 0
    wait_s: float = 0
    deadline: float = math.inf

    def ask(self, call: Call) -> Answer | None:
        if call.path == "/api/sync/pull" or time.monotonic() > self.deadline:
            return None
        began = time.perf_counter()
        answer = self.wire.ask(call)
        if call.path == "/api/sync/push" and answer is not None and answer.status == 200:
            self.push_s.append(time.perf_counter() - began)
        if answer is not None and answer.status == 503:
            self.busy += 1
            # A phone waits as long as it is told, and a little by chance; here the chance is left
            # out.
            self.wait_s = float(answer.headers["retry-after"])
        elif answer is None or answer.status != 200:
            self.failed += 1
        return answer

    def send_all(self, deadline: float) -> None:
        self.deadline = deadline
        while self.phone.count_unsent() and time.monotonic() < deadline:
            self.wait_s = PAUSE_S
            self.phone.exchange().run(self.ask)
            if self.phone.count_unsent():
                time.sleep(min(self.wait_s, max(0.0, deadline - time.monotonic())))
        self.wire.close()


def measure_load(phones: int, inspections: int) -> Figures:
    with (
        tempfile.TemporaryDirectory() as folder,
        running_phones(lambda: round(time.time() * 1000)) as made_in,
    ):
        store, checklist = open_small_store(Path(folder) / "yard.db")
        server = YardServer(Settings(database_url=store.url), Path(folder))
        callers = [
            _build_caller(made_in, store, checklist, server.address, number, inspections)
            for number in range(phones)
        ]
        made = {row["id"] for caller in callers for row in caller.phone.rows.values()}
        with server:
            seconds = _push_at_once(callers)
            peak_mb = _read_peak_mb(server.process.pid)
        with store.reading() as connection:
            kept = list(connection.exec_driver_sql("SELECT id FROM log").scalars())
        store.close()
    times = sorted(moment for caller in callers for moment in caller.push_s) or [0.0]
    return Figures(
        phones,
        inspections,
        len(made - set(kept)),
        len(kept) - len(set(kept)),
        sum(caller.phone.count_unsent() for caller in callers),
        sum(caller.busy for caller in callers),
        sum(caller.failed for caller in callers),
        seconds,
        statistics.median(times),
        times[min(len(times) - 1, int(0.99 * len(times)))],
        times[-1],
        peak_mb,
    )


def _build_caller(
    phones: Phones, store: Store, checklist: Checklist, address: str, number: int, inspections: int
) -> Caller:
    now = datetime.now(UTC)
    device = build_uuid7(round(now.timestamp() * 1000), number)
    code = make_join_code(store, name=f"Phone {number + 1}", minutes=15, now=now)
    token = join_device(store, code=code, device_id=device, now=now).token
    meta = {"device_id": device, "dev_seq": 0, "token": token}
    phone = phones.make(f"Phone {number + 1}", meta)
    records = build_records(checklist)
    for stove in range(inspections):
        phone.record(
            **records.inspect(
                ("good", "narrow", "sharp", "by another")[stove % 4], f"{number}-{stove}"
            )
        )
    return Caller(phone, Wire(address))


def _push_at_once(callers: list[Caller]) -> float:
    start = threading.Barrier(len(callers) + 1)
    deadline = time.monotonic() + MAX_SECONDS

    def run(caller: Caller) -> None:
        start.wait()
        caller.send_all(deadline)

    threads = [threading.Thread(target=run, args=(caller,)) for caller in callers]
    for thread in threads:
        thread.start()
    start.wait()
    began = time.monotonic()
    for thread in threads:
        thread.join()
    return time.monotonic() - began


def _read_peak_mb(pid: int) -> float:
    """VmHWM of Linux: the largest resident set so far; 0 where there is no such file."""
    status = Path(f"/proc/{pid}/status")
    lines = status.read_text().splitlines() if status.exists() else []
    return next(
        (int(line.split()[1]) * 1024 / 1e6 for line in lines if line.startswith("VmHWM")), 0.0
    )


def as_table(figures: Figures) -> str:
    rows = [
        f"| {name.replace('_', ' ')} | {value:,.2f} |"
        if isinstance(value, float)
        else f"| {name.replace('_', ' ')} | {value:,} |"
        for name, value in asdict(figures).items()
    ]
    return "\n".join(["| load on one server process, SQLite | |", "|---|---|", *rows])
