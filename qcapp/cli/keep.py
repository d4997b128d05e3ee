"""Commands that keep records safe: backup, restore, import, move."""

import json
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, BinaryIO

import typer

from qcapp.access.invites import TERMINAL
from qcapp.cli.options import AsJson, BackupFile
from qcapp.cli.progress import Progress, explain_interrupt
from qcapp.cli.yard_place import open_existing
from qcapp.errors import BadInput, Clash
from qcapp.settings import Settings
from qcapp.store.engine import Store, refuse_missing
from qcapp.store.upkeep.backup import Restored, back_up, restore
from qcapp.store.upkeep.daily_backup import copy_to_second, make_daily_backup
from qcapp.store.upkeep.move import move_yard
from qcapp.sync.export_file import parse_export_file
from qcapp.sync.import_file import import_export_file
from qcapp.sync.push import IMPORTED
from qcapp.sync.quarantine_reasons import REASONS
from qcapp.sync.restore_marker import note_restore
from qcapp.usecases.keep_backups import make_plan
from qcapp.usecases.open_store import open_store


def make_backup(
    file: BackupFile = None,
    as_json: AsJson = False,
) -> None:
    """Copies the database to FILE while the server runs; never over another file. Without FILE:
    one of the daily backups, as the server makes them.
    """
    settings = Settings()
    if file is None:
        plan = make_plan(settings, settings.database_url)
        file, found = make_daily_backup(settings.database_url, plan, datetime.now(UTC))
        copy_to_second(plan)
    else:
        found = back_up(settings.database_url, file)
    answer = {"file": str(file), "records": found.seq, "chain": found.chain}
    print(
        json.dumps(answer)
        if as_json
        else f"{found.seq} records in {file}; running hash {found.chain}"
    )


def restore_backup(
    file: BackupFile = None,
    as_json: AsJson = False,
    is_by_hand: Annotated[
        bool,
        typer.Option(
            "--by-hand",
            help="no FILE: the database was restored by other means; this tells the phones",
        ),
    ] = False,
) -> None:
    """Replaces the database by FILE and keeps the old one beside it; the server must be stopped."""
    if (file is None) != is_by_hand:
        raise BadInput(
            "a backup is restored from a file, or was restored by hand",
            "restore",
            "name a FILE, or use --by-hand alone",
        )
    done = restore(Settings().database_url, file, now=datetime.now(UTC)) if file else None
    with closing(open_store(Settings())) as store:
        seq = note_restore(store, by=TERMINAL, now=datetime.now(UTC))
    if done is None:
        print(
            json.dumps({"records": seq})
            if as_json
            else f"{seq} records are here; at their next contact phones send again all they have"
        )
        return
    if as_json:
        kept = str(done.kept) if done.kept else None
        print(json.dumps({"records": done.found.seq, "chain": done.found.chain, "kept": kept}))
        return
    _tell_restored(done)


def _tell_restored(done: Restored) -> None:
    print(f"{done.found.seq} records are in place; running hash {done.found.chain}")
    if done.kept:
        print(f"what was here is kept as {done.kept}")
    if done.was and done.was.server_id != done.found.server_id:
        print(
            "caution: this is another server's database; phones treat it as a new server and "
            "must join again"
        )
    print(
        "Phones notice it at their next contact and send again what this backup lacks, photos too; "
        "you need not do anything on them."
    )
    print(
        "This backup does not have what was made on the server itself after it: people, batches, "
        "joined phones, decisions, lessons. Enter those again."
    )
    print(
        "Passwords are those of the backup's day. Every browser has to sign in again, and one-time "
        "links have ended. An account, a phone or a link that was ended after the backup is good "
        "again: end it once more."
    )


def import_file(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="unsent work saved on a phone")],
    as_json: AsJson = False,
) -> None:
    """Imports unsent work that a phone saved as a file; importing it twice changes nothing."""
    store = open_existing(Settings())
    with (
        _open(file) as stream,
        explain_interrupt("what was imported is kept; run it again for the rest"),
    ):
        export_file = parse_export_file(stream)
        result = import_export_file(
            store, export_file, relayed_by=IMPORTED, now=datetime.now(UTC), tell=Progress()
        )
    if as_json:
        print(
            json.dumps(
                {
                    "counts": result.counts,
                    "quarantined": [one.model_dump() for one in result.quarantined],
                    "photos_new": result.photos_new,
                    "photos_known": result.photos_known,
                    "refused": result.refused,
                }
            )
        )
        return
    counts = ", ".join(f"{n} {outcome}" for outcome, n in sorted(result.counts.items())) or "none"
    print(
        f"{result.events} records: {counts}; photos: {result.photos_new} new, "
        f"{result.photos_known} already here, {len(result.refused)} refused"
    )
    for one in result.quarantined:
        why = f": {REASONS.word(one.reason)}" if one.reason else ""
        print(f"  {one.outcome} {one.id}{why}")
    for name, why in result.refused:
        print(f"  photo {name}: {why}")


def move_database(
    to: Annotated[
        str,
        typer.Option(
            metavar="URL", help="the new, empty database, written like QCAPP_DATABASE_URL"
        ),
    ],
    as_json: AsJson = False,
) -> None:
    """Moves the yard to another database, compares both, and leaves the old one as it is; stop
    the server first.
    """
    url = Settings().database_url
    refuse_missing(url)
    with (
        closing(Store(url)) as source,
        closing(Store(to)) as target,
        explain_interrupt(
            "what was copied is kept; run the same command to continue; the source is as it was"
        ),
    ):
        done = move_yard(source, target, Progress())
    if as_json:
        print(json.dumps(vars(done)))
    else:
        print(
            f"{done.records} records are in {target.short_name}, running hash {done.chain}, as in "
            f"{source.short_name}"
        )
        print(
            f"compared: the figures of {done.stoves} stoves, row by row; {done.photos} photos by "
            "name and length; everything else row by row"
        )
    if done.late:
        raise Clash(
            f"{done.late} records arrived at the source in the meantime",
            source.short_name,
            "stop its server and run the same command again",
        )
    if not as_json:
        print(
            "Set QCAPP_DATABASE_URL to the new one and start the server with it. Keep the old "
            "one as it is, and do not start a server with it."
        )


def _open(file: Path) -> BinaryIO:
    try:
        return file.open("rb")
    except OSError as error:
        raise BadInput(
            f"the file cannot be read: {error.strerror}",
            str(file),
            "name the file saved on the phone",
        ) from error
