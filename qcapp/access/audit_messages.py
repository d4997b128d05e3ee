"""What a line of the audit trail says was done: kept as a code, worded here.

A route names its code beside itself (qcapp/web/rules.py); what no route does, as a command, names
it where it is done.
"""

from qcapp.i18n.phrase import Phrase, phrase

AUDIT_MESSAGES: dict[str, Phrase] = {
    "signed_out": phrase("signed out"),
    "own_password_changed": phrase("changed their own password"),
    "lesson_recorded": phrase("recorded a lesson"),
    "lesson_withdrawn": phrase("voided a lesson"),
    "template_noted": phrase("recorded a template"),
    "template_replacement_noted": phrase("recorded that a template was replaced"),
    "template_note_withdrawn": phrase("voided a record of a template"),
    "fault_cost_entered": phrase("entered what a fault costs"),
    "hours_noted": phrase("noted hours of work"),
    "hours_withdrawn": phrase("voided a note of hours"),
    "plan_agreed": phrase("agreed on a plan"),
    "decision_overruled": phrase("overruled a decision"),
    "summary_issued": phrase("issued a summary"),
    "link_given": phrase("made a link for a buyer"),
    "link_revoked": phrase("revoked a buyer's link"),
    "join_code_made": phrase("made a join code"),
    "phone_signed_off": phrase("removed a phone"),
    "file_imported": phrase("imported a file"),
    "quarantine_decided": phrase("decided about a record"),
    "brought_checklist_decided": phrase("decided about a checklist that came with records"),
    "records_rejected": phrase("rejected all records of one phone held back for one reason"),
    "study_planned": phrase("planned a study"),
    "study_closed": phrase("closed a study"),
    "study_sheet_entered": phrase("entered a study's sheet"),
    "second_look_entered": phrase("entered a second look"),
    "sheet_entered": phrase("typed in a sheet"),
    "account_invited": phrase("made a one-time link for a new account"),
    "password_link_made": phrase("made a one-time link for a new password"),
    "account_disabled": phrase("disabled an account"),
    "session_ended": phrase("ended a session"),
    "person_added": phrase("added a person"),
    "person_changed": phrase("changed a person"),
    "name_erased": phrase("erased a name"),
    "checklist_checked": phrase("checked a checklist"),
    "checklist_published": phrase("published a checklist"),
    "guided_start_ended": phrase("hid the setup guide"),
    "yard_named": phrase("named the yard"),
    "work_chosen": phrase("chose sizes and checklists"),
    "crew_named": phrase("named the usual crew"),
    "practice_noted": phrase("recorded that the practice walk was done"),
    "batch_opened": phrase("opened a batch"),
    "batch_changed": phrase("changed a batch"),
    "batch_closed": phrase("closed a batch"),
    "batch_reopened": phrase("reopened a batch"),
    "signed_in": phrase("signed in"),
    "sign_in_blocked": phrase("too many failed attempts to sign in"),
    "link_used": phrase("used a one-time link"),
    "phone_joined": phrase("joined"),
    "phone_key": phrase("registered the key with which it signs"),
    "link_made": phrase("made a one-time link"),
    "backup_made": phrase("made a backup"),
    "backup_restored": phrase("restored a backup"),
    # Of a route without a code of its own; the line names the route.
    "other_change": phrase("changed something else"),
}
# Who did it where that is no account; an account's code has no small letters.
ACTORS: dict[str, Phrase] = {
    "nobody": phrase("nobody"),
    "phone": phrase("a phone"),
    "terminal": phrase("terminal"),
}
