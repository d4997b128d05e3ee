"""A programme's server in this process, its yards by host name, and who visits them."""

from qcapp.access.devices import join_device, make_join_code
from qcapp.programme_app import create_programme, list_stores, load_programme
from qcapp.settings import Settings
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.people import save_people
from tests.builders import (
    BATCHES,
    NOW,
    PEOPLE,
    ROOT,
    Phone,
    build_small_checklist,
    make_cookie,
    open_client,
)

HEAD = """
name: River programme
address: http://programme.example
database: programme.db
yards:
"""


def write_programme(names) -> str:
    """The file of a programme with these yards: South is "South yard" at south.example."""
    lines = (
        f'  - {{name: {name} yard, address: "http://{name.lower()}.example",'
        f" database: {name.lower()}.db}}\n"
        for name in names
    )
    return HEAD + "".join(lines)


def serve_programme(folder, names):
    """Each yard with the small checklist, its people and batches."""
    (folder / "programme.yaml").write_text(write_programme(names))
    settings = Settings(static_dir=ROOT / "static", checklists_dir=ROOT / "checklists")
    served = create_programme(
        load_programme(folder / "programme.yaml"), settings, folder, clock=lambda: NOW
    )
    for name in names:
        with list_stores(served)[f"{name.lower()}.example"].writing() as connection:
            publish_checklist(
                connection, build_small_checklist(), origin="file", now="2026-11-01T00:00:00.000Z"
            )
            save_people(connection, PEOPLE)
            save_batches(connection, BATCHES)
    return served


def browse(served, host, cookie=None):
    return open_client(served, cookie=cookie, address=f"http://{host}")


def sign_in(served, host, role):
    return make_cookie(list_stores(served)[host], code=f"{host[:3].upper()}1", role=role)


def join(served, host, device_id=Phone.device_id):
    store = list_stores(served)[host]
    code = make_join_code(store, name="Phone", minutes=15, now=NOW)
    token = join_device(store, code=code, device_id=device_id, now=NOW).token
    return {"Authorization": f"Bearer {token}"}
