"""How much a request may bring: no route ever holds more of a body than its rule says."""

from fastapi import Request
from starlette.exceptions import HTTPException
from starlette.types import Message, Receive

from qcapp.errors import TooLarge
from qcapp.i18n.phrase import phrase


def refuse_long_body(request: Request, max_bytes: int) -> None:
    """Raises TooLarge when the request itself announces too much."""
    announced = request.headers.get("content-length", "0")
    if announced.isdigit() and int(announced) > max_bytes:
        raise TooLarge(
            phrase("the body has more than %(max_bytes)s bytes", max_bytes=max_bytes),
            "body",
            phrase("send less at once"),
        )


def limit_body(receive: Receive, max_bytes: int) -> Receive:
    """Stops reading when more comes than the rule allows, announced or not."""
    seen = 0

    async def receive_limited() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > max_bytes:
            # Starlette's own error passes through FastAPI's reading of forms; ours would be
            # reworded as a 400.
            raise HTTPException(
                413, phrase("the body has more than %(max_bytes)s bytes", max_bytes=max_bytes)
            )
        return message

    return receive_limited
