"""Attacks by slow and by many connections, against a real server on loopback."""

import http.client
import resource
import socket
import threading
import time
from contextlib import ExitStack, closing, suppress
from types import SimpleNamespace

import h11
import pytest

from qcapp.cli import bounded_protocol
from qcapp.cli.bounded_protocol import BoundedProtocol
from tests.access.test_attacks_size import read_peak_mb
from tests.bench.server import read_resident_mb
from tests.e2e.server import open_small_yard
from tests.lan.serving import make_server

MANY = 1_100
HALF = b"GET /sign-in HTTP/1.1\r\nHost: x\r\n"
FILE = b'--b\r\nContent-Disposition: form-data; name="photos"; filename="a"\r\n\r\n'
HALF_BODY = b"POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n\r\ncode="


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with open_small_yard(tmp_path_factory.mktemp("slow")) as made:
        yield made


def connect(port: int, host: str = "127.0.0.1") -> socket.socket:
    return socket.create_connection((host, port), timeout=20)


def ask(port: int) -> float:
    """Seconds that an honest request takes. Fails when it is not answered."""
    began = time.monotonic()
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as honest:
        honest.request("GET", "/sign-in")
        assert honest.getresponse().read().startswith(b"<!doctype html>")
    return time.monotonic() - began


def is_closed(one: socket.socket) -> bool:
    one.setblocking(False)
    try:
        return one.recv(65_536) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


@pytest.mark.slow
@pytest.mark.parametrize("sent", [b"", HALF, HALF_BODY], ids=["silent", "headers", "body"])
def test_eleven_hundred_half_sent_requests_do_not_stop_the_server(server, sent):
    _soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 4096), hard))
    with ExitStack() as held:
        callers = []
        for _ in range(MANY):
            callers.append(held.enter_context(closing(connect(server.port))))
            if sent:
                callers[-1].sendall(sent)
        assert ask(server.port) < 5
        # What the server ends is heard of a moment later, and long before the time limits.
        wanted = MANY - bounded_protocol.MAX_OF_PROXY
        until = time.monotonic() + bounded_protocol.HEADER_S / 2
        while sum(map(is_closed, callers)) < wanted and time.monotonic() < until:
            time.sleep(0.1)
        assert sum(map(is_closed, callers)) >= wanted, "those who waited longest went"
    assert ask(server.port) < 5


@pytest.mark.slow
def test_over_https_of_a_yard_without_internet_slow_callers_are_ended_too(tmp_path):
    server = make_server(tmp_path)
    server.start()
    origin = server.lan.origin
    try:
        with ExitStack() as held:

            def call(port: int) -> socket.socket:
                return held.enter_context(closing(connect(port, origin.host)))

            silent = [call(origin.port) for _ in range(100)]
            beside = [call(origin.bootstrap_port) for _ in range(100)]
            slow = call(origin.bootstrap_port)
            assert server.fetch(f"{origin.url}/sign-in").status == 200
            until = time.monotonic() + bounded_protocol.HANDSHAKE_S + bounded_protocol.CHECK_S + 1
            with suppress(OSError):
                # A byte at a time is no request either.
                slow.sendall(b"G")
                while time.monotonic() < until:
                    time.sleep(0.5)
                    slow.sendall(b"x")
            time.sleep(max(0, until - time.monotonic()))
            assert all(map(is_closed, [*silent, *beside, slow]))
    finally:
        server.stop()


# --- The limits themselves, without waiting for them


def make_connection(state, *, waited, body=0, unread=None, read_paused=False) -> BoundedProtocol:
    made = BoundedProtocol.__new__(BoundedProtocol)
    made.conn = SimpleNamespace(their_state=state)
    made.flow = SimpleNamespace(read_paused=read_paused)
    made._awaits_since, made._body_bytes = 1000.0 - waited, body
    made._unread_since = None if unread is None else 1000.0 - unread
    return made


@pytest.mark.parametrize(
    ("connection", "is_ended"),
    [
        (make_connection(h11.IDLE, waited=9), False),
        (make_connection(h11.IDLE, waited=11), True),
        (make_connection(h11.SEND_BODY, waited=29), False),
        (make_connection(h11.SEND_BODY, waited=31), True),
        # 262 kB over a link of 1,000 bytes a second.
        (make_connection(h11.SEND_BODY, waited=262, body=262_000), False),
        (make_connection(h11.SEND_BODY, waited=262, body=2_000), True),
        (make_connection(h11.SEND_BODY, waited=1801, body=60_000_000), True),
        (make_connection(h11.SEND_BODY, waited=300, read_paused=True), False),
        # The server thinks as long as it must.
        (make_connection(h11.DONE, waited=900), False),
        (make_connection(h11.DONE, waited=900, unread=59), False),
        (make_connection(h11.DONE, waited=900, unread=61), True),
    ],
)
def test_slow_caller_is_ended_and_an_honest_one_on_a_bad_link_is_not(connection, is_ended):
    assert connection.is_too_slow(1000.0) is is_ended


class Transport:
    def __init__(self) -> None:
        self.is_aborted = False

    def abort(self) -> None:
        self.is_aborted = True


def join(connections, address, n, *, believed=(), state=h11.IDLE) -> BoundedProtocol:
    made = make_connection(state, waited=1000 - n)
    made.client, made.connections, made.transport = (address, n), connections, Transport()
    made.config = SimpleNamespace(forwarded_allow_ips=list(believed))
    connections.add(made)
    if not made._make_room():
        made.transport.abort()
        connections.discard(made)
    return made


def test_one_address_has_few_connections_and_a_proxy_has_many():
    connections = set()
    one = [join(connections, "192.0.2.1", n) for n in range(50)]
    assert len(connections) == bounded_protocol.MAX_OF_ADDRESS
    assert [made.transport.is_aborted for made in one] == [True] * 18 + [False] * 32
    proxied = [join(connections, "10.0.0.2", n, believed=["10.0.0.2"]) for n in range(100)]
    local = [join(connections, "127.0.0.1", n) for n in range(100)]
    assert not any(made.transport.is_aborted for made in (*proxied, *local))


def test_many_addresses_share_a_limit_and_who_is_being_answered_stays():
    connections = set()
    busy = [join(connections, f"192.0.2.{n}", n, state=h11.DONE) for n in range(200)]
    for n in range(1000):
        join(connections, f"198.51.{n // 200}.{n % 200}", n)
    assert len(connections) == bounded_protocol.MAX_CONNECTIONS
    assert not any(made.transport.is_aborted for made in busy)
    full = {made for made in connections if made.conn.their_state is h11.IDLE}
    for made in full:
        made.conn.their_state = h11.DONE
    late = join(connections, "203.0.113.1", 0)
    assert late.transport.is_aborted, "nobody who is being answered makes room"


def test_callers_who_read_no_answers_make_room_and_keep_nobody_out():
    """Each kept its place for a minute, and asked again from a new one."""
    connections = set()
    greedy = [
        join(connections, f"192.0.2.{n // 20}", n, state=h11.DONE)
        for n in range(bounded_protocol.MAX_CONNECTIONS)
    ]
    for made in greedy[10:20]:
        made._unread_since = 900.0
    late = join(connections, "203.0.113.1", 0)
    assert not late.transport.is_aborted and greedy[10].transport.is_aborted
    assert sum(made.transport.is_aborted for made in greedy) == 1


@pytest.mark.slow
@pytest.mark.parametrize(
    ("path", "form", "body"),
    [
        ("/api/devices/enrol", "application/json", b" " * 261_000),
        ("/sign-in", "application/x-www-form-urlencoded", b"x" * 261_000),
        ("/s/x/recheck/stove", "multipart/form-data; boundary=b", FILE + b"x" * 65_000),
    ],
    ids=["json", "form", "file"],
)
def test_bodies_that_anybody_leaves_half_sent_stay_under_twice_an_idle_server(
    tmp_path, path, form, body
):
    head = (
        f"POST {path} HTTP/1.1\r\nHost: x\r\nSec-Fetch-Site: same-origin\r\n"
        f"Content-Type: {form}\r\nContent-Length: {len(body) + 100}\r\n\r\n"
    )
    with open_small_yard(tmp_path) as fresh, ExitStack() as held:
        ask(fresh.port)
        idle = read_resident_mb(fresh.process.pid)
        for _ in range(bounded_protocol.MAX_OF_PROXY):
            caller = held.enter_context(closing(connect(fresh.port)))
            with suppress(OSError):
                caller.sendall(head.encode() + body)
        assert ask(fresh.port) < 5
        assert read_peak_mb(fresh.process.pid) < 2 * idle


@pytest.mark.slow
def test_caller_who_reads_no_answer_does_not_hold_the_server(server):
    """Many who never read: an honest caller is answered meanwhile."""
    asked = b"GET /static/guide HTTP/1.1\r\nHost: x\r\n\r\n" * 20
    with ExitStack() as held:
        for _ in range(100):
            held.enter_context(closing(connect(server.port))).sendall(asked)
        times: list[float] = []
        threads = [
            threading.Thread(target=lambda: times.append(ask(server.port))) for _ in range(5)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert len(times) == 5 and max(times) < 15
