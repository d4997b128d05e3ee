"""Who may do what: one table of actions, one of routes. What is in neither is refused to everybody.

A route added elsewhere gets a line in RULES; tests/access/test_roles.py walks the app's routes and
fails until it has one. The table in DEVELOPERS.md is written by `python3 -m qcapp.access.roles`.
"""

import re
from dataclasses import dataclass
from functools import cached_property

ROLES = ("anyone", "inspector", "trainer", "buyer", "yard_lead", "programme_lead")
SIGNED_IN = ("trainer", "yard_lead", "programme_lead")
MAX_BYTES = 262_144
# A file handed over, and the form around it.
MAX_FILE_BYTES = 64 * 1024 * 1024 + 10_000
# A checklist as a form or as YAML; a form writes every sign that is no letter as three.
MAX_CHECKLIST_BYTES = 2 * 1024 * 1024

# action: (what it is, who may). A buyer is whoever holds a link: the link's token is looked at by its own route.
ACTIONS = {
    "open_app": ("the phone app's files, the start page, the sign-in page", ROLES),
    "sign_in": ("sign in, or use a one-time link", ROLES),
    "join_phone": ("trade a join code for a phone's token", ROLES),
    "greet": ("ask which yard's server this is and what time it has", ROLES),
    "own_account": ("sign out, change the own password", SIGNED_IN),
    "sync": ("hand in records and photos, fetch what a phone needs", ("inspector",)),
    "see_photos": ("see photos of faults", ("inspector", "trainer", "yard_lead")),
    "see_figures": ("trainer's figures with names, lessons", ("trainer", "yard_lead")),
    "hold_lessons": ("record and withdraw lessons", ("trainer", "yard_lead")),
    "see_batches": ("batches, their stoves and figures", ("trainer", "yard_lead")),
    "decide_batches": (
        "agree a plan, overrule, issue a summary, give and take back a buyer's link",
        ("yard_lead",),
    ),
    "open_shared": ("what a buyer's link shows, and the buyer's answer to it", ROLES),
    "see_drift": ("charts of drift over time", ("trainer", "yard_lead")),
    "note_templates": ("note templates and that one was replaced", ("trainer", "yard_lead")),
    "measure": ("limits and measuring, agreement studies, pace and second looks", ("yard_lead",)),
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
    "manage_people": (
        "add and change people, see what is kept of a person, erase a name",
        ("yard_lead",),
    ),
    "write_checklists": (
        "the yard's own checklists: change, upload, download, publish",
        ("yard_lead",),
    ),
    "set_up": ("the guided start: name, sizes, crew; open and close batches", ("yard_lead",)),
}


@dataclass(frozen=True)
class Rule:
    """One route. path: the route's template; audit_message: a code of audit_messages.py, what the trail says was done; max_bytes: of a request's body."""

    method: str
    path: str
    action: str
    audit_message: str = ""
    max_bytes: int = MAX_BYTES

    @property
    def roles(self) -> tuple[str, ...]:
        return ACTIONS[self.action][1]

    @property
    def is_change(self) -> bool:
        return self.method not in ("GET", "HEAD")

    @cached_property
    def pattern(self) -> re.Pattern:
        text = re.sub(r"\\\{\w+:path\\\}", ".*", re.escape(self.path))
        return re.compile(re.sub(r"\\\{\w+\\\}", "[^/]+", text))

    @cached_property
    def specificity(self) -> tuple[int, ...]:
        """Sorts a fixed part of an address before one that may be anything, as the app's own order does."""
        return tuple(
            2 if ":path}" in part else 1 if "{" in part else 0 for part in self.path.split("/")
        )


RULES = (
    Rule("GET", "/", "open_app"),
    Rule("GET", "/phone", "open_app"),
    Rule("GET", "/phone/{rest:path}", "open_app"),
    Rule("GET", "/sw.js", "open_app"),
    Rule("GET", "/manifest.webmanifest", "open_app"),
    Rule("GET", "/static/{build}/{path:path}", "open_app"),
    Rule("GET", "/sign-in", "sign_in"),
    Rule("POST", "/sign-in", "sign_in"),
    Rule("GET", "/welcome/{token}", "sign_in"),
    Rule("POST", "/welcome/{token}", "sign_in"),
    Rule("POST", "/sign-out", "own_account", "signed_out"),
    Rule("GET", "/account", "own_account"),
    Rule("POST", "/account/password", "own_account", "own_password_changed"),
    Rule("GET", "/api/openapi.json", "own_account"),
    Rule("POST", "/api/devices/enrol", "join_phone"),
    Rule("GET", "/api/sync/hello", "greet"),
    Rule("GET", "/api/sync/reference", "sync"),
    Rule("POST", "/api/sync/push", "sync"),
    Rule("POST", "/api/sync/import", "sync", max_bytes=MAX_FILE_BYTES),
    Rule("GET", "/api/sync/pull", "sync"),
    Rule("POST", "/api/devices/rotate", "sync"),
    Rule("GET", "/api/photos/{sha256}", "sync"),
    Rule("HEAD", "/api/photos/{sha256}", "sync"),
    Rule("PATCH", "/api/photos/{sha256}", "sync"),
    Rule("GET", "/photos/{sha256}", "see_photos"),
    Rule("GET", "/trainer", "see_figures"),
    Rule("GET", "/trainer/steps", "see_figures"),
    Rule("GET", "/trainer/artisans/{code}", "see_figures"),
    Rule("GET", "/trainer/faults", "see_figures"),
    Rule("GET", "/trainer/lessons", "see_figures"),
    Rule("POST", "/trainer/lessons", "hold_lessons", "lesson_recorded"),
    Rule("POST", "/trainer/lessons/{lesson_id}/withdraw", "hold_lessons", "lesson_withdrawn"),
    Rule("GET", "/trainer/drift", "see_drift"),
    Rule("GET", "/trainer/drift/{of}/{name}/{kind}/{group}", "see_drift"),
    Rule("POST", "/trainer/templates", "note_templates", "template_noted"),
    Rule(
        "POST",
        "/trainer/templates/replaced",
        "note_templates",
        "template_replacement_noted",
    ),
    Rule(
        "POST",
        "/trainer/templates/{event_id}/withdraw",
        "note_templates",
        "template_note_withdrawn",
    ),
    Rule("GET", "/trainer/tables/{name}.csv", "see_figures"),
    Rule("GET", "/trainer/tables.xlsx", "see_figures"),
    Rule("GET", "/api/trainer/teach", "see_figures"),
    Rule("GET", "/api/trainer/artisans", "see_figures"),
    Rule("GET", "/api/trainer/artisans/{code}", "see_figures"),
    Rule("GET", "/api/trainer/faults", "see_figures"),
    Rule("GET", "/api/trainer/lessons", "see_figures"),
    Rule("GET", "/batches", "see_batches"),
    Rule("GET", "/batches/{code}", "see_batches"),
    Rule("GET", "/api/batches/{code}", "see_batches"),
    Rule("POST", "/batches/{code}/plan", "decide_batches", "plan_agreed"),
    Rule("POST", "/batches/{code}/decision", "decide_batches", "decision_overruled"),
    Rule("POST", "/batches/{code}/summaries", "decide_batches", "summary_issued"),
    Rule("POST", "/batches/{code}/links", "decide_batches", "link_given"),
    Rule(
        "POST",
        "/batches/{code}/links/{no}/revoke",
        "decide_batches",
        "link_revoked",
    ),
    Rule("GET", "/batches/{code}/summaries/{number}.json", "see_batches"),
    Rule("GET", "/batches/{code}/summaries/{number}", "see_batches"),
    Rule("GET", "/s/{token}", "open_shared"),
    Rule("GET", "/s/{token}/verify", "open_shared"),
    Rule("GET", "/s/{token}/summary.json", "open_shared"),
    Rule("GET", "/s/{token}/summary.pdf", "open_shared"),
    Rule("GET", "/s/{token}/{name}.csv", "open_shared"),
    Rule("GET", "/s/{token}/tables.xlsx", "open_shared"),
    Rule("GET", "/s/{token}/photos/{sha256}", "open_shared"),
    Rule("POST", "/s/{token}/answer", "open_shared"),
    Rule("POST", "/s/{token}/recheck", "open_shared"),
    Rule("GET", "/yard", "manage_phones"),
    Rule("POST", "/yard/join-codes", "manage_phones", "join_code_made"),
    Rule("POST", "/yard/phones/{device_id}/revoke", "manage_phones", "phone_signed_off"),
    Rule("GET", "/yard/import", "manage_phones"),
    Rule("POST", "/yard/import", "manage_phones", "file_imported", MAX_FILE_BYTES),
    Rule("GET", "/yard/quarantine", "decide_quarantine"),
    Rule("GET", "/yard/quarantine/{seq}", "decide_quarantine"),
    Rule("POST", "/yard/quarantine/{seq}", "decide_quarantine", "quarantine_decided"),
    Rule("GET", "/yard/limits", "measure"),
    Rule("GET", "/yard/limits/{check}/{size}", "measure"),
    Rule("GET", "/yard/studies", "measure"),
    Rule("POST", "/yard/studies", "measure", "study_planned"),
    Rule("GET", "/yard/studies/{study_id}", "measure"),
    Rule("POST", "/yard/studies/{study_id}/close", "measure", "study_closed"),
    Rule("GET", "/yard/studies/{study_id}/sheet/{inspector}", "measure"),
    Rule(
        "POST",
        "/yard/studies/{study_id}/sheet/{inspector}",
        "measure",
        "study_sheet_entered",
    ),
    Rule("GET", "/yard/pace", "measure"),
    Rule("GET", "/yard/pace/{stage}/{serial}", "measure"),
    Rule("POST", "/yard/pace/{stage}/{serial}", "measure", "second_look_entered"),
    Rule("GET", "/yard/sheets", "print_paper"),
    Rule("GET", "/yard/sheets.pdf", "print_paper"),
    Rule("GET", "/yard/tags", "print_paper"),
    Rule("GET", "/yard/tags.pdf", "print_paper"),
    Rule("GET", "/yard/entry", "type_sheets"),
    Rule("POST", "/yard/entry", "type_sheets", "sheet_entered"),
    Rule("GET", "/yard/accounts", "manage_accounts"),
    Rule(
        "POST",
        "/yard/accounts",
        "manage_accounts",
        "account_invited",
    ),
    Rule(
        "POST",
        "/yard/accounts/{code}/link",
        "manage_accounts",
        "password_link_made",
    ),
    Rule("POST", "/yard/accounts/{code}/disable", "manage_accounts", "account_disabled"),
    Rule("POST", "/yard/sessions/{no}/end", "manage_accounts", "session_ended"),
    Rule("GET", "/yard/trail", "see_trail"),
    Rule("GET", "/yard/people", "manage_people"),
    Rule("POST", "/yard/people", "manage_people", "person_added"),
    Rule("GET", "/yard/people/{code}.json", "manage_people"),
    Rule("GET", "/yard/people/{code}", "manage_people"),
    Rule("POST", "/yard/people/{code}", "manage_people", "person_changed"),
    Rule("POST", "/yard/people/{code}/erase", "manage_people", "name_erased"),
    Rule("GET", "/yard/checklists", "write_checklists"),
    Rule("GET", "/yard/checklists/{checklist_id}.yaml", "write_checklists"),
    Rule("GET", "/yard/checklists/{checklist_id}", "write_checklists"),
    Rule(
        "POST",
        "/yard/checklists/{checklist_id}/check",
        "write_checklists",
        "checklist_checked",
        MAX_CHECKLIST_BYTES,
    ),
    Rule(
        "POST",
        "/yard/checklists/{checklist_id}",
        "write_checklists",
        "checklist_published",
        MAX_CHECKLIST_BYTES,
    ),
    Rule("GET", "/yard/checklist-text", "write_checklists"),
    Rule(
        "POST",
        "/yard/checklist-text/check",
        "write_checklists",
        "checklist_checked",
        MAX_CHECKLIST_BYTES,
    ),
    Rule(
        "POST",
        "/yard/checklist-text",
        "write_checklists",
        "checklist_published",
        MAX_CHECKLIST_BYTES,
    ),
    Rule("GET", "/yard/start", "set_up"),
    Rule("POST", "/yard/start/end", "set_up", "guided_start_ended"),
    Rule("GET", "/yard/name", "set_up"),
    Rule("POST", "/yard/name", "set_up", "yard_named"),
    Rule("GET", "/yard/work", "set_up"),
    Rule("POST", "/yard/work", "set_up", "work_chosen"),
    Rule("GET", "/yard/crew", "set_up"),
    Rule("POST", "/yard/crew", "set_up", "crew_named"),
    Rule("GET", "/yard/practice", "set_up"),
    Rule("POST", "/yard/practice", "set_up", "practice_noted"),
    Rule("GET", "/yard/batches", "set_up"),
    Rule("POST", "/yard/batches", "set_up", "batch_opened"),
    Rule("GET", "/yard/batches/{code}", "set_up"),
    Rule("POST", "/yard/batches/{code}", "set_up", "batch_changed"),
    Rule("POST", "/yard/batches/{code}/close", "set_up", "batch_closed"),
    Rule("POST", "/yard/batches/{code}/reopen", "set_up", "batch_reopened"),
)

# The programme's own host: nothing of a yard is opened there, and a yard's accounts are unknown.
PROGRAMME_RULES = (
    Rule("GET", "/", "see_programme"),
    Rule("GET", "/trail", "see_programme"),
    *(
        rule
        for rule in RULES
        if rule.action in ("sign_in", "own_account") and rule.path != "/api/openapi.json"
    ),
    *(rule for rule in RULES if rule.path.startswith("/static/")),
)


def may(role: str, action: str) -> bool:
    return role in ACTIONS[action][1]


def find_rule(rules: tuple[Rule, ...], method: str, path: str) -> Rule | None:
    """The rule of the route that this address reaches; None when there is none."""
    fitting = [rule for rule in rules if rule.method == method and rule.pattern.fullmatch(path)]
    return min(fitting, key=lambda rule: rule.specificity, default=None)


def list_methods(rules: tuple[Rule, ...], path: str) -> list[str]:
    """What may be asked of this address at all; empty when it is none of ours."""
    return sorted({rule.method for rule in rules if rule.pattern.fullmatch(path)})


def write_table(
    actions: dict = ACTIONS, rules: tuple[Rule, ...] = (*RULES, *PROGRAMME_RULES)
) -> str:
    """Markdown: a line an action, a column a role, then the routes."""
    lines = [
        f"| action | {' | '.join(role.replace('_', ' ') for role in ROLES)} | routes |",
        f"|---|{'---|' * len(ROLES)}---|",
    ]
    for action, (words, roles) in actions.items():
        marks = " | ".join("yes" if role in roles else "–" for role in ROLES)
        # dict.fromkeys: once each, in this order.
        routes = ", ".join(
            dict.fromkeys(f"`{rule.method} {rule.path}`" for rule in rules if rule.action == action)
        )
        lines.append(f"| **{action}**: {words} | {marks} | {routes} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(write_table())
