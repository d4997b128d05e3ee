"""Two phones, one server, seeded mishaps: after quiet everybody has everything,
each record once.
"""

import copy
import json
import random

import pytest

from tests.e2e.core.fake_yard import FakeYard, as_json, html
from tests.e2e.core.steps import save, sync

STEPS = 45


class Mishaps:
    """Spoils push and pull by chance: lost before the server, lost after it, answered by others,
    in part.
    """

    def __init__(self, yard: FakeYard, chance: random.Random):
        self.yard = yard
        self.chance = chance
        self.served = yard._call
        self.is_quiet = False
        yard._call = self.call

    def call(self, path, *more):
        spoilt = (
            path.startswith("/api/sync/pu") and not self.is_quiet and self.chance.random() < 0.4
        )
        if not spoilt:
            return self.served(path, *more)
        kind = self.chance.choice(["before", "after", "portal", "part"])
        if kind == "before":
            return html(502)
        status, headers, content = self.served(path, *more)
        if kind == "part" and path.endswith("push"):
            data = json.loads(content)
            return as_json({**data, "results": data["results"][: len(data["results"]) // 2]})
        return html(200) if kind == "portal" else (status, headers, content[: len(content) // 2])


def run_step(step: int, chance: random.Random, yard: FakeYard, pages: list, backups: list) -> None:
    page = chance.choice(pages)
    what = chance.choices(
        ["record", "sync", "start", "backup", "restore"], weights=[8, 8, 3, 2, 2]
    )[0]
    if what == "record":
        save(page, *(f"S{step}-{number}" for number in range(chance.randint(1, 4))))
    if what == "sync":
        sync(page)
    if what == "start":
        page.reload()
        page.wait_for_function("globalThis.core !== undefined")
    if what == "backup":
        backups.append(copy.deepcopy(yard.log))
    if what == "restore" and backups:
        yard.log = copy.deepcopy(chance.choice(backups))


def list_known(page) -> list[dict]:
    return page.evaluate(
        "core.withStores(['events'], 'readonly', ({events}) => core.ask(events.getAll()))"
    )


def settle(pages: list) -> None:
    """A new start and two good exchanges for each phone, twice:
    the second tells each of the other's.
    """
    for page in pages * 2:
        page.reload()
        page.wait_for_function("globalThis.core !== undefined")
        assert sync(page)["left"] == 0
        sync(page)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_after_any_mishaps_everybody_has_everything_once(chromium, yard, seed):
    chance = random.Random(seed)
    contexts = [chromium.new_context(base_url=yard.url) for _ in range(2)]
    pages = [context.new_page() for context in contexts]
    for page in pages:
        page.goto("/bare")
        page.wait_for_function("globalThis.core !== undefined")
        page.evaluate("core.enrol('ABCD2345')")
    mishaps, backups = Mishaps(yard, chance), []
    for step in range(STEPS):
        run_step(step, chance, yard, pages, backups)
    mishaps.is_quiet = True
    settle(pages)
    rows = [list_known(page) for page in pages]
    made = [row["id"] for known in rows for row in known if row["origin"] == "own"]
    assert len(made) > 10 and len(backups) > 0
    assert sorted(yard.stored_ids()) == sorted(made)
    for page, known in zip(pages, rows, strict=True):
        assert sorted(row["id"] for row in known) == sorted(made)
        numbers = sorted(row["event"]["dev_seq"] for row in known if row["origin"] == "own")
        assert numbers == list(range(1, len(numbers) + 1))
        assert page.evaluate("core.status()")["on_server"] == len(numbers)
    for context in contexts:
        context.close()
