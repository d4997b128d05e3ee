"""A server process of its own that only writes: python -m tests.store.write_beside URL DEVICE..."""

import sys
import threading
import time

from qcapp.errors import StoreError
from qcapp.store.engine import Store
from qcapp.sync.protocol import PushRequest
from qcapp.sync.push import receive_push
from tests.builders import NOW, Phone, build_push, build_small_checklist

PUSHES = 6


def write(store: Store, device: str) -> None:
    phone = Phone(build_small_checklist(), device_id=device)
    for number in range(PUSHES):
        stove = f"{device[-2:]}-{number}"
        events = [phone.inspect(stove), phone.inspect(stove, dents="fail", disposition="rework")]
        request = PushRequest.model_validate(build_push(events))
        while True:
            try:
                answer = receive_push(store, request, relayed_by=device, now=NOW)
                break
            except StoreError:
                time.sleep(0.05)
        assert [result.outcome for result in answer.results] == ["created", "created"]


if __name__ == "__main__":
    store = Store(sys.argv[1])
    writers = [threading.Thread(target=write, args=(store, device)) for device in sys.argv[2:]]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    store.close()
