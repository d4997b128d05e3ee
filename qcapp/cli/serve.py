"""The command that starts a server for one yard."""

import gc
import ipaddress
import json
import os
import socket
from typing import Any
from urllib.parse import urlsplit

from fastapi import FastAPI
from starlette.types import ASGIApp
from uvicorn.supervisors import Multiprocess

from qcapp.app import create_app
from qcapp.cli.bounded_protocol import allow_many_files
from qcapp.cli.first_lead import welcome_first_lead
from qcapp.cli.listening import build_config, listening, run_bound
from qcapp.cli.options import (
    HostOrLan,
    HstsDays,
    LanFolder,
    NewKey,
    NewYard,
    PortOrLan,
    Proxy,
    PublicAddress,
    WithLan,
    Workers,
)
from qcapp.cli.yard_place import make_key, prepare_place
from qcapp.errors import BadInput
from qcapp.settings import Settings, find_lan_folder
from qcapp.web.middleware.request_log import start_logging
from qcapp.web.middleware.transport import OnlyHttps, StrictTransport

LOOPBACK = ("127.0.0.1", "::1", "localhost")
PROXIES = ("127.0.0.1", "::1")
# A worker loads everything before it answers; one that does is not to be ended for it.
WORKER_SILENCE_S = 60
WORKER = "QCAPP_WORKER_OPTIONS"


def serve(
    host: HostOrLan = None,
    port: PortOrLan = None,
    proxy: Proxy = None,
    address: PublicAddress = None,
    lan: WithLan = False,
    folder: LanFolder = None,
    hsts_days: HstsDays = 0,
    workers: Workers = 1,
    new: NewYard = False,
    new_key: NewKey = False,
) -> None:
    """Starts the server for phones and pages."""
    settings = Settings()
    if lan:
        refuse_workers(workers, "sqlite")
        _refuse_beside_lan(hsts_days, proxy, address)
        from qcapp.cli.lan_server import serve_lan

        folder = folder or find_lan_folder()
        serve_lan(settings, folder=folder, host=host, port=port, is_new=new, is_new_key=new_key)
        return
    host, port = host or LOOPBACK[0], port or 8000
    refuse_open_address(host, proxy)
    refuse_workers(workers, settings.database_url)
    at = read_address(address) if address else f"http://{_as_host(host)}:{port}/"
    with listening(host, port) as bound:
        prepare_place(settings, is_new=new)
        make_key(settings, is_wanted=new_key)
        # Without --address the same server may be reached by several names of this machine.
        options = {"hsts_days": hsts_days, "proxy": proxy, "address": at if address else None}
        _serve_yard(settings, bound, at, workers, options)


def _refuse_beside_lan(hsts_days: int, proxy: str | None, address: str | None) -> None:
    if hsts_days or proxy or address:
        raise BadInput(
            "--lan has its own https and address",
            "--hsts-days, --proxy or --address with --lan",
            "leave them out; the first would keep phones from the plain-http page with the "
            "certificate",
        )


def _serve_yard(
    settings: Settings, bound: socket.socket, at: str, workers: int, options: dict[str, Any]
) -> None:
    """at: where people reach it. options: as build_worker reads them."""
    server = build_server(settings, options["hsts_days"], options["address"])
    print(f"qcapp is at {at}  (stop with Ctrl+C)", flush=True)
    welcome_first_lead(server.state.store, address=at, role="yard_lead")
    if workers == 1:
        run_server(server, bound, proxy=options["proxy"])
        return
    # What was opened here made the database ready and told what is wrong with it; each worker
    # opens it anew.
    server.state.store.close()
    run_workers(workers, bound, options)


def _as_host(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def build_server(settings: Settings, hsts_days: int, address: str | None) -> FastAPI:
    server = create_app(settings, address=address)
    server.state.are_backups_daily = True
    # What is here now stays as long as the process: the collector need not look through it at every
    # page.
    gc.collect()
    gc.freeze()
    if hsts_days:
        server.add_middleware(StrictTransport, days=hsts_days)
    return server


def refuse_workers(workers: int, url: str) -> None:
    """Raises BadInput for several processes on one SQLite file.

    It takes one writer at a time, whom the processes could only choose by chance: phones would time
    out.
    """
    if workers > 1 and url.startswith("sqlite"):
        raise BadInput(
            "a SQLite database is served by one process: several would block each other when "
            "they write",
            f"--workers {workers}",
            "leave it out, or move the yard to PostgreSQL with qcapp move",
        )


def refuse_open_address(host: str, proxy: str | None) -> None:
    """Raises BadInput for an address that other machines reach, unless a proxy that speaks https is
    named.
    """
    if host not in LOOPBACK and proxy is None:
        raise BadInput(
            "this address can be reached from other machines, and without https passwords can be "
            "read on the way",
            f"--host {host}",
            "leave it at 127.0.0.1 behind a proxy that speaks https, name that proxy with --proxy, "
            "or use --lan",
        )
    try:
        proxy is None or ipaddress.ip_address(proxy)
    except ValueError as error:
        raise BadInput(
            f"{proxy!r} is not an IP address",
            "--proxy",
            "name the machine from which the proxy's requests come, such as 10.0.0.2",
        ) from error


def read_address(text: str) -> str:
    """The address as an origin that ends with /. Raises BadInput."""
    parts = urlsplit(text)
    if (
        parts.scheme not in ("http", "https")
        or not parts.hostname
        or parts.path.strip("/")
        or parts.query
        or parts.username
    ):
        raise BadInput(
            f"{text!r} is not the address of a server",
            "--address",
            "write it such as https://yard.example.org",
        )
    return f"{parts.scheme}://{parts.netloc}/"


def run_server(app: ASGIApp, bound: socket.socket, *, proxy: str | None) -> None:
    """Serves until stopped. Only a proxy on this machine, or the one named, may say that a request
    came over https.
    """
    start_logging()
    run_bound(build_config(OnlyHttps(app) if proxy else app, **describe_listening(proxy)), bound)


def run_workers(workers: int, bound: socket.socket, options: dict[str, Any]) -> None:
    """The same with several processes on one port; one that dies is started again.

    options: what build_worker needs to know.
    """
    # A worker starts as a program of its own: what was said on the command line goes by the
    # environment, as settings do.
    os.environ[WORKER] = json.dumps(options)
    start_logging()
    config = build_config(
        f"{__name__}:build_worker",
        factory=True,
        workers=workers,
        timeout_worker_healthcheck=WORKER_SILENCE_S,
        **describe_listening(options["proxy"]),
    )
    bound.set_inheritable(True)
    allow_many_files()
    Multiprocess(config, sockets=[bound]).run()


def build_worker() -> ASGIApp:
    """Called in each process of its own."""
    start_logging()
    options = json.loads(os.environ[WORKER])
    server = build_server(Settings(), options["hsts_days"], options["address"])
    return OnlyHttps(server) if options["proxy"] else server


def describe_listening(proxy: str | None) -> dict[str, Any]:
    """Given here, so that the environment cannot widen whom the server believes."""
    believed = [*PROXIES, proxy] if proxy else list(PROXIES)
    return {
        "proxy_headers": True,
        "forwarded_allow_ips": believed,
    }
