"""The pictures of the README and the guide show what the app shows now:
each carries the words of the screen it was taken of.
"""

from tests.pictures import NAMES, read_kept, read_shown, walk


def test_every_picture_shows_the_screen_as_it_is_now(chromium, tmp_path):
    shown = {name: read_shown(page) for name, page in walk(chromium, tmp_path)}
    assert tuple(shown) == NAMES
    stale = [name for name, words in shown.items() if words != read_kept(name)]
    assert not stale, (
        "take them again with python3 tests/pictures.py, look at them, and mend what the guide"
        f" says of them: {stale}"
    )


def test_words_of_a_screen_leave_out_what_is_not_seen_and_what_is_counted(chromium):
    page = chromium.new_page()
    page.set_content(
        "<h1>Batch B5</h1><h2 hidden>Not seen</h2><button>Send\n 12"
        " records</button><p>text</p><label>Serial</label>"
    )
    assert read_shown(page) == "Batch B#\nSend # records\nSerial"
