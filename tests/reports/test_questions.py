"""Ten questions of each person, answered on the demo within a few clicks of their first page."""

from collections import Counter

import pytest

from qcapp.access.roles import SIGNED_IN
from qcapp.access.summary_links import make_summary_link
from tests.builders import NOW, make_cookie, open_client
from tests.reports.questions import Seen, has_answer, read_questions, walk
from tests.reports.seen_page import parse_page

pytestmark = pytest.mark.slow

# Where each person begins, and with which role they are signed in.
STARTS = {
    "Trainer": ("/trainer", "trainer"),
    "Yard lead": ("/", "yard_lead"),
    "Buyer": ("/s/{link}", "buyer"),
}
QUESTIONS = read_questions()
MAX_CLICKS = 2
MIN_AT_ONCE = 8


@pytest.fixture(scope="module")
def clients(demo_yard):
    """A browser for each person, signed in as themselves."""
    app = demo_yard[0].app
    store = app.state.store
    signed_in = {
        person: make_cookie(store, code=role[:8], role=role)
        for person, (_start, role) in STARTS.items()
        if role in SIGNED_IN
    }
    return {person: open_client(app, cookie=signed_in.get(person)) for person in STARTS}


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: f"{one.person}: {one.words}")
def test_answer_is_found_where_the_clicks_lead(clients, question):
    start, _role = STARTS[question.person]
    client = clients[question.person]
    if "{link}" in start:
        store, made = client.app.state.store, {"label": "buyer", "made_by": "lead", "days": 9}
        start = start.format(link=make_summary_link(store, batch="B5", now=NOW, **made))
    seen = walk(client, start, question.clicks)
    assert has_answer(seen, question.answer), seen.text


def test_each_person_asks_ten_and_most_take_one_click_or_none():
    assert set(STARTS) == {one.person for one in QUESTIONS}
    assert Counter(one.person for one in QUESTIONS) == dict.fromkeys(STARTS, 10)
    assert max(len(one.clicks) for one in QUESTIONS) <= MAX_CLICKS
    at_once = Counter(one.person for one in QUESTIONS if len(one.clicks) <= 1)
    assert min(at_once.values()) >= MIN_AT_ONCE


def test_what_is_folded_away_or_outside_is_no_answer():
    html = """<nav>12 of 40</nav><main><p>3 of&nbsp;<b>17</b><br>met</p>
    <details><summary>More</summary><p>5 of 9</p></details></main>"""
    page = parse_page(html)
    assert has_answer(Seen(page), "# of 17 met") and not has_answer(Seen(page), "# of 1")
    assert not has_answer(Seen(page), "12 of 40") and not has_answer(Seen(page), "5 of 9")
    assert has_answer(Seen(page, ("More",)), "3 of … 5 of #")


def test_a_name_that_is_not_there_is_told(clients):
    with pytest.raises(AssertionError, match="nothing to click"):
        walk(clients["Trainer"], "/trainer", ("Rank the artisans",))
