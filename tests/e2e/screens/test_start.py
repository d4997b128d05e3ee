"""What a start waits for: counted, because a count is the same on every machine."""

from tests.e2e.inspector import Inspector
from tests.e2e.server import read_checklist

# Transactions up to the first screen: all that it shows comes from one. What was found today is
# counted once it shows.
MOST = 1
# Transactions by the stores they name, what writes by a mark; and how often the home screen is
# drawn.
WATCH = """() => {
  window.started = { transactions: [], home: 0, order: [] };
  const begin = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (names, mode, options) {
    const words = [names].flat().join('+') + (mode === 'readwrite' ? '!' : '');
    if (!window.started.home) window.started.transactions.push(words);
    return begin.call(this, names, mode, options);
  };
  const open = IDBFactory.prototype.open;
  IDBFactory.prototype.open = function (...more) {
    window.started.order.push('database');
    return open.apply(this, more);
  };
  const ask = window.fetch;
  window.fetch = (...more) => {
    if (String(more[0]).includes('/words/')) window.started.order.push('words');
    return ask(...more);
  };
  const seen = new MutationObserver(() => {
    if (document.querySelector('#screen > *')) window.started.order.push('screen');
    if (document.querySelector('#ui-next')) window.started.home += 1;
  });
  const watch = () => seen.observe(document.querySelector('#screen'), { childList: true });
  addEventListener('DOMContentLoaded', watch);
}"""


def test_a_start_reads_at_once_writes_nothing_and_draws_the_screen_once(server, phone_page):
    inspector = Inspector(phone_page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    phone_page.add_init_script(f"({WATCH})()")
    phone_page.reload()
    phone_page.locator("#ui-next").wait_for()
    started = phone_page.evaluate("window.started")
    assert len(started["transactions"]) <= MOST, started["transactions"]
    assert [names for names in started["transactions"] if names.endswith("!")] == []
    assert set(started["order"][:2]) == {"database", "words"}
    assert started["home"] == 1


# When each script was asked for, by the end of its address.
ASKED = """() => performance.getEntriesByType('resource')
  .filter(({ name }) => name.endsWith('.js'))
  .sort((one, other) => one.startTime - other.startTime)
  .map(({ name }) => name.split('/').slice(-2).join('/'))"""


def test_what_a_person_waits_for_is_counted_before_anything_else_is_loaded(server, phone_page):
    inspector = Inspector(phone_page, read_checklist(server, "finished-stove"))
    inspector.join(server.address, server.make_code())
    phone_page.reload()
    phone_page.locator("#ui-figure-mend[data-n='0']").wait_for()
    phone_page.wait_for_function(f"() => ({ASKED})().includes('screens/walk.js')")
    asked = phone_page.evaluate(ASKED)
    day = (
        "screens/day_sheet.js",
        "store/projection.js",
        "inspection/day.js",
        "ui/drawing_counts.js",
    )
    later = ("sync/sync.js", "screens/walk.js", "screens/who.js")
    assert max(map(asked.index, day)) < min(map(asked.index, later)), asked
