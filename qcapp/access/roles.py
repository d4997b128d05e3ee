"""Who may do what: the actions there are, and the roles that may do each.

A route says beside itself which action it is (qcapp/web/rules.py); one that says none is refused.
"""

ROLES = (
    "anyone",
    "inspector",
    "trainer",
    "buyer",
    "buyers_inspector",
    "yard_lead",
    "programme_lead",
)
SIGNED_IN = ("trainer", "yard_lead", "programme_lead")

# action: (what it is, who may). A buyer is whoever holds a link: the link's token is looked at by
# its own route.
ACTIONS: dict[str, tuple[str, tuple[str, ...]]] = {
    "open_app": ("the phone app's files, the start page, the sign-in page", ROLES),
    "sign_in": ("sign in, or use a one-time link", ROLES),
    "read_guide": ("the user guide with its pictures", ROLES),
    "join_phone": ("trade a join code for a phone's token", ROLES),
    "greet": ("ask which yard's server this is and what time it has", ROLES),
    "own_account": ("sign out, change the own password", SIGNED_IN),
    "sync": (
        "hand in records and photos, fetch what a phone needs; the buyer's inspector: of one batch",
        ("inspector", "buyers_inspector"),
    ),
    "share_records": ("hand in the file of another phone, see its photos", ("inspector",)),
    "fetch_lessons": ("pictures and voice notes of lessons, on a phone", ("inspector",)),
    "see_photos": ("see photos of faults", ("inspector", "trainer", "yard_lead")),
    "see_figures": ("trainer's figures with names, lessons", ("trainer", "yard_lead")),
    "hold_lessons": ("record and withdraw lessons", ("trainer", "yard_lead")),
    "see_cards": ("cards of the artisans, the skill sheet", ("trainer", "yard_lead")),
    "give_cards": (
        "draw who gets a card first, make and end an artisan's link",
        ("trainer", "yard_lead"),
    ),
    "switch_cards": ("switch the cards of the yard off or on", ("yard_lead",)),
    "set_skills": ("say how far an artisan is with a step", ("trainer", "yard_lead")),
    "open_card": ("what an artisan's link shows: his or her own card", ROLES),
    "see_stoves": (
        "a stove's whole way, with who made and inspected it",
        ("trainer", "yard_lead"),
    ),
    "see_batches": ("batches, their stoves and figures", ("trainer", "yard_lead")),
    "decide_batches": (
        "decide about held stoves and a batch, issue a summary, give and take back a buyer's link",
        ("yard_lead",),
    ),
    "open_shared": ("what a buyer's link shows, and the buyer's answer to it", ROLES),
    "see_drift": ("charts of drift over time", ("trainer", "yard_lead")),
    "note_templates": (
        "note templates and that one was replaced; the register of templates and gauges",
        ("trainer", "yard_lead"),
    ),
    "measure": ("limits and measuring, agreement studies, pace and second looks", ("yard_lead",)),
    "reckon_costs": (
        "what faults cost, by the yard's own minutes, material and pay",
        ("yard_lead",),
    ),
    "note_hours": ("hours of skilled work, by step and crew", ("yard_lead",)),
    "keep_backups": ("see the daily backups, make one at once", ("yard_lead",)),
    "begin_yard": (
        "the first page on the laptop itself, until there is a yard lead; which version runs",
        ROLES,
    ),
    "keep_laptop": (
        "on the laptop itself: its state, backup to a stick, restore, update, phones let in",
        ("yard_lead",),
    ),
    "manage_phones": (
        "make join codes, sign phones off, take in a file, see phones and losses",
        ("yard_lead",),
    ),
    "decide_quarantine": ("decide about records set aside", ("yard_lead",)),
    "print_paper": ("print check sheets and tags", ("trainer", "yard_lead")),
    "type_sheets": ("type in a filled sheet", ("yard_lead",)),
    "manage_accounts": ("add and disable accounts, end sessions", ("yard_lead",)),
    "see_trail": ("who did what", ("yard_lead",)),
    "see_programme": (
        "the yards of a programme side by side, in counts; on the programme's own host",
        ("programme_lead",),
    ),
    "roll_out_checklists": (
        "offer a checklist to every yard of a programme; on the programme's own host",
        ("programme_lead",),
    ),
    "manage_people": (
        "add and change people, see what is kept of a person, erase a name",
        ("yard_lead",),
    ),
    "draft_checklists": (
        "change a draft of a checklist, practise it on a phone",
        ("trainer", "yard_lead"),
    ),
    "write_checklists": (
        "the yard's own checklists: upload, publish",
        ("yard_lead",),
    ),
    "set_up": ("the guided start: name, sizes, crew; open and close batches", ("yard_lead",)),
}


def may(role: str, action: str) -> bool:
    return role in ACTIONS[action][1]
