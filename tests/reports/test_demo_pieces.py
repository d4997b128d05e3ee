"""A page that shows only liners speaks of no stove, whatever it says."""

import re

import pytest

from qcapp.usecases.load_batch import count_inspected, list_batches, load_batch
from qcapp.usecases.load_stove import load_stove

pytestmark = pytest.mark.slow

# Of a page that can be filtered by stage; /trainer/pieces is about liners and stoves together.
PAGES = (
    "/trainer",
    "/trainer/steps",
    "/trainer/faults",
    "/trainer/inspectors",
    "/trainer/artisans/A08",
    "/trainer/artisans/A09",
)


def read_statements(page: str) -> str:
    """What the page says, without navigation, filters, explanations and attributes of links."""
    main = re.search(r"<main.*</main>", page, re.DOTALL)[0]
    main = re.sub(r'<details class="filters".*?</details>', " ", main, flags=re.DOTALL)
    main = re.sub(
        r"<details>\s*<summary>How these figures are calculated.*?</details>",
        " ",
        main,
        flags=re.DOTALL,
    )
    return " ".join(re.sub(r"<[^>]*>", " ", main).split())


@pytest.mark.parametrize("address", PAGES)
def test_page_of_liners_speaks_of_no_stove(demo_yard, address):
    said = read_statements(demo_yard[0].get(f"{address}?stage=fired-liner").text)
    assert "Pierce the grate" in said or "Amerith Zolu" in said
    explained = said.replace("A piece is what was inspected at once: a stove", "")
    found = [
        explained[max(0, at.start() - 60) : at.end() + 20] for at in re.finditer("stove", explained)
    ]
    assert not found


def test_faulty_liners_are_called_liners(demo_yard):
    said = read_statements(demo_yard[0].get("/trainer").text)
    assert re.search(r"\d+ faulty liners, \d+ of them by one person: Lusin Kedarro", said)


def test_what_is_held_is_counted_by_what_it_is_with_each_fault_and_its_photo(demo_yard):
    page = demo_yard[0].get("/batches/B5").text
    assert "Decide about 1 stove, 2 liners" in page
    held = re.search(r'<ul class="waiting">.*?</form>', page, re.DOTALL)[0]
    assert "1 too few" in held and "1 holes" not in held
    assert held.count('name="stoves"') == held.count('<span class="mark worse">') == 3
    page = demo_yard[0].get("/batches/B6").text
    held = re.search(r'<ul class="waiting">.*?</form>', page, re.DOTALL)[0]
    assert "105 mm" in held and 'src="/photos/' in held


def test_preview_shows_a_concession_as_its_buyer_will_see_it(demo_yard):
    page = demo_yard[0].get("/batches/B5/issue").text
    own = re.search(r'<ul class="fault-cards">.*</main>', page, re.DOTALL)[0]
    assert "Too wide" in own and "105 mm" in own and 'src="/photos/' in own


@pytest.mark.parametrize("number", range(1, 18))
def test_every_stage_is_seen_after_what_it_is_made_of(demo_yard, number):
    way = load_stove(demo_yard[0].app.state.store, "finished", f"B5-{number:03}")
    seen = {stage.stage: stage.visits[0].captured_at for stage in way.stages}
    for order in (
        ("blanks", "cladding", "bedding", "finished"),
        ("green-liner", "firing", "fired-liner", "bedding"),
    ):
        days = [seen[stage] for stage in order if stage in seen]
        assert days == sorted(days), seen


def test_stages_of_a_batch_stand_against_the_making(demo_yard):
    store = demo_yard[0].app.state.store
    stages = list(load_batch(store, "B5").stages)
    (listed,) = (
        [stage for stage, _counts in rows]
        for batch, rows in list_batches(store, newest=9, skip=0)
        if batch["code"] == "B5"
    )
    assert stages == listed == list(count_inspected(store, ["B5"])["B5"])
    assert stages[0] == "finished" and len(stages) > 4
    metal = [stage for stage in stages if stage in ("bedding", "cladding", "blanks")]
    clay = [stage for stage in stages if stage in ("bedding", "fired-liner", "firing")]
    assert metal == ["bedding", "cladding", "blanks"]
    assert clay == ["bedding", "fired-liner", "firing"]
