"""A page that shows only liners speaks of no stove, whatever it says."""

import re

import pytest

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
