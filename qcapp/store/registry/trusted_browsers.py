"""Browsers in which an account signed in before."""

from sqlalchemy import Connection, delete, insert, select

from qcapp.store.tables import TRUSTED_BROWSER

ROW = TRUSTED_BROWSER.c


def is_trusted(connection: Connection, token_hash: str, account: str, *, made_after: str) -> bool:
    query = select(ROW.made_at).where(
        ROW.token_hash == token_hash, ROW.account == account, ROW.made_at > made_after
    )
    return connection.execute(query).first() is not None


def is_known(connection: Connection, token_hash: str) -> bool:
    """Whether any account signed in there."""
    query = select(ROW.account).where(ROW.token_hash == token_hash)
    return connection.execute(query).first() is not None


def trust_browser(
    connection: Connection, token_hash: str, account: str, *, now: str, most: int
) -> None:
    """Of an account the newest `most` stay."""
    same = (ROW.token_hash == token_hash) & (ROW.account == account)
    connection.execute(delete(TRUSTED_BROWSER).where(same))
    row = {"token_hash": token_hash, "account": account, "made_at": now}
    connection.execute(insert(TRUSTED_BROWSER), [row])
    others = select(ROW.token_hash).where(ROW.account == account, ROW.token_hash != token_hash)
    newest = others.order_by(ROW.made_at.desc(), ROW.token_hash)
    old = connection.execute(newest).scalars().all()[most - 1 :]
    connection.execute(
        delete(TRUSTED_BROWSER).where(ROW.account == account, ROW.token_hash.in_(old))
    )


def distrust_browsers(connection: Connection, account: str) -> None:
    """Every browser of the account, as when its password was lost."""
    connection.execute(delete(TRUSTED_BROWSER).where(ROW.account == account))
