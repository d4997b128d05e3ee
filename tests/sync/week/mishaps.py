"""What goes wrong on phones, among people and with the server. Each gives whether it was met."""

import json

import pytest

from qcapp.inspection.event import seal_event
from tests.signing_phones import sign
from tests.sync.simulation.machine import CLOCKS_MS
from tests.sync.simulation.phone import Phone, PhoneError
from tests.sync.simulation.records import alter
from tests.sync.week.play import Gone, Week
from tests.sync.week.yard import Key

# Steps at the database: of a save, and of an exchange with something to send and to fetch.
SAVE_STEPS, EXCHANGE_STEPS = 6, 45
STRANGER = "0197f000-0000-7000-8000-0000000000ff"


def kill_in_a_save(week: Week, phone: Phone) -> bool:
    fields = week.build_inspection(phone, "good")
    phone.do("record", fields=fields, limits={"stepsLeft": week.random.randint(1, SAVE_STEPS)})
    return True


def kill_in_an_exchange(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "good")
    week.exchange(phone, limits={"stepsLeft": week.random.randint(1, EXCHANGE_STEPS)})
    return True


def fill_up(week: Week, phone: Phone) -> bool:
    before = (dict(phone.rows), phone.meta.get("dev_seq"))
    fields = week.build_inspection(phone, "good")
    with week.giving_up(phone), pytest.raises(PhoneError, match="QuotaExceededError"):
        phone.do("record", fields=fields, limits={"fullFor": 99})
    assert before == (phone.rows, phone.meta.get("dev_seq")), "something of it was kept"
    return True


def make_room(week: Week, phone: Phone) -> bool:
    fields = week.build_inspection(phone, "good")
    with week.giving_up(phone):
        phone.do("record", fields=fields, limits={"fullFor": 1})
    return True


def send_full(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "good")
    with week.giving_up(phone):
        week.exchange(phone, limits={"fullFor": week.random.choice((1, 3, 9, 99))})
    return True


def drop_connection(week: Week, phone: Phone) -> bool:
    phone.drop_connection()
    week.inspect(phone, "good")
    phone.drop_connection()
    week.exchange(phone)
    return True


def reload(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "good")
    job = phone.exchange()
    for _ in range(week.random.randint(1, 3)):
        if job.call is not None:
            job.hear(week.network.carry(job.call, "none").answer)
    phone.reload()
    return True


def open_two_tabs(week: Week, phone: Phone) -> bool:
    """The second comes and goes before the first hears its answer."""
    week.inspect(phone, "good")
    first = phone.exchange(tab=1)
    answer = week.network.carry(first.call, "none") if first.call else None
    week.inspect(phone, "good")
    week.exchange(phone)
    if answer is not None:
        first.hear(answer.answer)
        week.go_on(first)
    return True


def hear_late(week: Week, phone: Phone) -> bool:
    """The answer to a push comes when the server has been put back meanwhile, or not."""
    week.inspect(phone, "good")
    first = phone.exchange(tab=1)
    while first.call is not None and first.call.path != "/api/sync/push":
        first.hear(week.network.carry(first.call, "none").answer)
    if first.call is None:
        return False
    late = week.network.carry(first.call, "none")
    if week.round in (1, 2):
        week.put_back(is_told=False)
    week.exchange(week.pick_other(phone))
    week.exchange(phone)
    first.hear(late.answer)
    week.go_on(first)
    return True


def set_ahead(week: Week, phone: Phone) -> bool:
    phone.offset_ms = week.random.choice([one for one in CLOCKS_MS if one > 0])
    week.inspect(phone, "good")
    return True


def set_back(week: Week, phone: Phone) -> bool:
    phone.offset_ms = week.random.choice([one for one in CLOCKS_MS if one < 0])
    week.inspect(phone, "good")
    return True


# --- another database, another profile


def empty(week: Week, phone: Phone) -> bool:
    _replace(week, _pick_plain(week, phone), profile=None)
    return True


def roll_back(week: Week, phone: Phone) -> bool:
    picked = _pick_plain(week, phone)
    picked.ask("keep_profile", profile=picked.name)
    kept = set(picked.rows)
    week.inspect(picked, "good")
    fresh = _replace(week, picked, profile=picked.name)
    assert kept <= set(fresh.rows)
    return True


def _pick_plain(week: Week, phone: Phone) -> Phone:
    return phone if week.is_plain(phone) else week.pick_other(phone)


def _replace(week: Week, old: Phone, profile: str | None) -> Phone:
    """Two records are on it and nowhere else when another database stands in its place."""
    done = week.exchange(old, job="send_now")
    assert done["left"] == 0, f"{old.name} still has {done}"
    lost: set[Key] = set()
    for _ in range(2):
        event = week.inspect(old, "good")
        lost.add((event["id"], event["hash"]))
    week.gone.append(Gone(old.meta["device_id"], lost))
    old.reload()
    more = {"profile": profile} if profile else {}
    fresh = week.make_phone(old.name, replaces=old.number, **more)
    fresh.offset_ms = old.offset_ms
    week.phones[week.phones.index(old)] = fresh
    week.exchange(fresh)
    return fresh


def copy(week: Week, phone: Phone) -> bool:
    one = _pick_plain(week, phone)
    one.ask("keep_profile", profile=one.name)
    other = week.make_phone(f"{one.name}, copied", replaces=one.number, profile=one.name)
    other.offset_ms = one.offset_ms
    week.phones.append(other)
    week.copies |= {one.number, other.number}
    for each in (one, other):
        for _ in range(2):
            week.inspect(each, "good")
    for each in (one, other):
        week.exchange(each)
    return True


def join_again(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "good")
    week.join(phone)
    week.exchange(phone)
    return True


def remove_and_take_back(week: Week, phone: Phone) -> bool:
    """What it made is handed to another phone meanwhile, and is held back until it is proven."""
    picked = _pick_plain(week, phone)
    week.inspect(picked, "good")
    week.yard.revoke(picked.meta["device_id"])
    _meet_removal(week, picked)
    week.inspect(picked, "narrow")
    other = week.pick_other(picked)
    _carry(picked, other)
    week.exchange(other)
    week.exchange(picked)
    return True


def _meet_removal(week: Week, phone: Phone) -> None:
    done = week.go_on(phone.exchange())
    assert done["status"] == "pair-again", f"{phone.name} is removed and met {done}"


def remove(week: Week, phone: Phone) -> bool:
    picked = _pick_plain(week, phone)
    for _ in range(3):
        week.inspect(picked, "good")
    stored = {(row.id, row.hash) for row in week.yard.read_log()}
    waiting = {
        (row["id"], row["event"]["hash"])
        for row in picked.rows.values()
        if row["origin"] == "own" and row["state"] == "unsent"
    }
    week.yard.revoke(picked.meta["device_id"])
    _meet_removal(week, picked)
    week.yard.take_file(picked.do("export_file"))
    week.removed.add(picked.number)
    week.held_for |= dict.fromkeys(waiting - stored, "revoked_phone")
    return True


# --- people


def _carry(phone: Phone, other: Phone) -> None:
    taken = other.do("import_file", text=phone.do("export_file"))
    assert taken["damaged"] == taken["left"] == 0, taken


def hand_over(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "good", has_photo=True)
    other = week.pick_other(phone)
    _carry(phone, other)
    week.exchange(other)
    return True


def bring_file(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "good", has_photo=True)
    week.yard.take_file(phone.do("export_file"))
    return True


def bring_file_twice(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "dented")
    text = phone.do("export_file")
    week.yard.take_file(text)
    week.yard.take_file(text)
    return True


def meet_on_a_stove(week: Week, phone: Phone) -> bool:
    other = week.pick_other(phone)
    stove = week.inspect(phone, "good")["stove"]
    week.inspect(other, "narrow", stove)
    week.exchange(phone)
    week.exchange(other)
    return True


def correct_both(week: Week, phone: Phone) -> bool:
    other = week.pick_other(phone)
    target = week.inspect(phone, "good")
    for each in (phone, other):
        week.exchange(each)
    for each in (other, phone):
        week.correct(each, target)
    for each in (phone, other):
        week.exchange(each)
    return True


def correct_early(week: Week, phone: Phone) -> bool:
    other = week.pick_other(phone)
    target = week.inspect(phone, "good")
    _carry(phone, other)
    week.correct(other, target)
    week.exchange(other)
    return True


def void_others(week: Week, phone: Phone) -> bool:
    other = week.pick_other(phone)
    target = week.inspect(phone, "sharp")
    for each in (phone, other):
        week.exchange(each)
    week.void(other, target)
    return True


# --- what no phone made


def forge_unsigned(week: Week, phone: Phone) -> bool:
    return _bring_forged(week, _forge(week, phone), None, "unsigned")


def forge_signed(week: Week, phone: Phone) -> bool:
    event = _forge(week, phone)
    return _bring_forged(week, event, sign(event, STRANGER), "bad_signature")


def forge_phone(week: Week, phone: Phone) -> bool:
    event = _forge(week, phone, device_id=STRANGER)
    return _bring_forged(week, event, sign(event), "unknown_phone")


def alter_known(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "good")
    week.exchange(phone)
    here = {row.id for row in week.yard.read_log() if row.device_id == phone.meta["device_id"]}
    known = next(one for one in week.list_inspections(phone, ("own",)) if one["id"] in here)
    return _bring_forged(week, alter(known, "I02"), None, "unsigned")


def _forge(week: Week, phone: Phone, **change: str) -> dict:
    """A record of this phone that it never made."""
    number = week.random.getrandbits(48)
    content = {
        **week.build_inspection(phone, "good"),
        "id": f"0197f000-0000-7000-8000-{number:012x}",
        "device_id": phone.meta["device_id"],
        "dev_seq": 10_000 + number % 10_000,
        "captured_at": "2026-11-26T08:00:00.000Z",
        "tz_min": 0,
        "app_build": "forged",
        "corrects": None,
        "photos": [],
        **change,
    }
    return seal_event(content)


def _bring_forged(week: Week, event: dict, signature: str | None, reason: str) -> bool:
    key = (event["id"], event["hash"])
    week.forged[key] = event
    week.held_for[key] = reason
    said = {
        "format": "records/1",
        "device_id": event["device_id"],
        "made_at": event["captured_at"],
        "events": [event],
        "signatures": [signature],
        **{part: [] for part in ("definitions", "drawings", "photos")},
    }
    week.yard.take_file(json.dumps(said))
    return True


# --- the server


def restore(week: Week, _phone: Phone) -> bool:
    week.put_back(is_told=False)
    return True


def restore_told(week: Week, _phone: Phone) -> bool:
    week.put_back(is_told=True)
    return True


def deliver_again(week: Week, _phone: Phone) -> bool:
    """An old request of any phone; nobody waits for its answer."""
    week.yard.ask(week.random.choice(week.old))
    return True


def keep_old_checklist(week: Week, phone: Phone) -> bool:
    week.inspect(phone, "wide", revision=1)
    return True
