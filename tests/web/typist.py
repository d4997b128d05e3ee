"""Someone at a laptop without scripts: reads the form on a page, types into it,
presses a button.
"""

from html.parser import HTMLParser


class FormReader(HTMLParser):
    """Fields of the page's last form as a browser would send them; labels:
    what a screen reader says, by name.
    """

    def __init__(self, html: str) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}
        self.labels: dict[str, str] = {}
        self.wrong: dict[str, str] = {}
        self._select: str | None = None
        self._wrong: str | None = None
        self.feed(html)

    def handle_starttag(self, tag, pairs):
        given = dict(pairs)
        name = given.get("name")
        if tag == "form":
            self.fields, self.labels = {}, {}
        elif tag == "input" and (
            given.get("type") not in ("radio", "checkbox") or "checked" in given
        ):
            self.fields[name] = given.get("value") or ""
        elif tag == "select":
            self._select, self.fields[name] = name, ""
        elif tag == "option" and self._select and "selected" in given:
            self.fields[self._select] = given.get("value", "\0")
        elif tag == "span" and given.get("class") == "wrong":
            self._wrong = given["id"].removesuffix("-wrong")
        if name and "aria-label" in given:
            self.labels[name] = given["aria-label"]

    def handle_data(self, data):
        if self._wrong:
            self.wrong[self._wrong] = self.wrong.get(self._wrong, "") + data
        elif self._select and self.fields[self._select] == "\0":
            self.fields[self._select] = data

    def handle_endtag(self, tag):
        self._select = None if tag == "select" else self._select
        self._wrong = None if tag == "span" else self._wrong


class Typist:
    """client: of the app; page: the last answer; form: its fields."""

    def __init__(self, client, address: str) -> None:
        self.client = client
        self._take(client.get(address))

    def _take(self, page):
        self.page, read = page, FormReader(page.text)
        self.form, self.labels, self.wrong = read.fields, read.labels, read.wrong

    def press(self, do: str, **typed) -> "Typist":
        """typed: by field name, _ for -."""
        values = {**self.form, **dict(typed.items()), "do": do}
        self._take(self.client.post("/yard/entry", data=values))
        return self
