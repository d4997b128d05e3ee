"""Every page is reached by links from the start page within two clicks; no group is too long."""

import re
from html import unescape

import pytest

from qcapp.web.layout.page import NAV
from qcapp.web.layout.yard_groups import GROUPS, find_here
from tests.builders import open_yard
from tests.routes import RULES, find

# What no link leads to: it needs a value, is a file, is for programs or strangers, or follows a
# button (of an update) or the start of the program (before anybody signed in).
NO_LINK = re.compile(
    r"^/(api/|sw\.js|manifest|welcome|sign-in|stoves$|photos|lesson-media|phone$|laptop/)|\.\w+$"
)
MAX_GROUPS = 6


def list_links(client, address):
    page = client.get(address)
    assert page.status_code == 200, address
    found = re.findall(r'href="(/[^"#?]*)', page.text)
    return {unescape(link) for link in found if not link.startswith(("/static/", "/guide/"))}


def test_every_page_is_two_clicks_from_the_start():
    client = open_yard().client
    first = list_links(client, "/")
    second = {link for one in first if one != "/phone/" for link in list_links(client, one)}
    pages = {rule.path for rule in RULES if rule.method == "GET" and "{" not in rule.path}
    wanted = {path for path in pages if not NO_LINK.search(path)}
    assert len(wanted) > 25
    assert wanted - first - second - {"/"} == set()


def test_a_link_is_shown_to_whom_the_rule_of_its_page_lets_in():
    linked = [(href, action) for href, action, _name, _more in NAV]
    linked += [(one.href, one.action) for group in GROUPS for one in group.pages]
    assert linked == [(href, find("GET", href).action) for href, _action in linked]


def test_groups_are_few_and_none_of_their_pages_is_there_twice():
    pages = [one.href for group in GROUPS for one in group.pages]
    assert len(GROUPS) <= MAX_GROUPS and len(set(pages)) == len(pages)


@pytest.mark.parametrize("href", [one.href for group in GROUPS for one in group.pages])
def test_each_page_of_a_group_says_where_one_is(href):
    group, page = find_here(href)
    assert page is not None and page.href == href and page in group.pages
    assert find_here(f"{href}/something")[1].href == href
    shown = open_yard().client.get(href)
    assert shown.status_code == 200
