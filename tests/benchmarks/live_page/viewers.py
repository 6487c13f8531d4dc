"""Many viewers in one process: `viewers.py ADDRESS COUNT ZERO_MS SECONDS push|interval`.

Prints JSON: delivery and bytes.

Push viewers listen to the stream and note, for every sample, how long after it was made it arrived. Interval
viewers ask as the Interval page's browser does, and only count bytes.
"""

import json
import selectors
import socket
import sys
import threading
import time
import urllib.request
from dataclasses import dataclass, field
from statistics import quantiles

QUANTITIES = ("altitude_m", "velocity_mps", "acceleration_mps2")


def p95(values: list[float]) -> float:
    return quantiles(values, n=20)[-1] if len(values) > 1 else float("nan")


@dataclass
class Viewer:
    """What one viewer has read of a message, and whether it has the whole."""

    unread: bytearray = field(default_factory=bytearray)
    is_up_to_date: bool = False


def listen(host: str, port: int, count: int, zero_ms: float, seconds: float) -> dict[str, float]:
    """Read `count` streams; what came in the first two seconds, and each viewer's whole, is not counted."""
    selector = selectors.DefaultSelector()
    for _ in range(count):
        connection = socket.create_connection((host, port))
        connection.sendall(f"GET /api/stream HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n".encode())
        connection.setblocking(False)
        selector.register(connection, selectors.EVENT_READ, Viewer())
    ages: list[float] = []
    received = 0
    begin = time.time() + 2
    while time.time() < begin + seconds:
        for key, _ in selector.select(0.2):
            data = key.fileobj.recv(1 << 20)  # type: ignore[union-attr]
            now_ms = 1000 * time.time()
            viewer: Viewer = key.data
            viewer.unread.extend(data)
            if now_ms >= 1000 * begin and viewer.is_up_to_date:
                received += len(data)
            while (end := viewer.unread.find(b"\n\n")) >= 0:
                message = bytes(viewer.unread[:end])
                del viewer.unread[: end + 2]
                if b"event: whole" in message:
                    viewer.is_up_to_date = True
                elif now_ms >= 1000 * begin and b'"rows"' in message:
                    body = json.loads(message.partition(b"data: ")[2])
                    ages += [now_ms - zero_ms - row[0] for row in body["rows"]]
    return {"delivery_p95_ms": p95(ages), "bytes_per_s": received / count / seconds, "samples": len(ages) / count}


def ask(address: str, count: int, seconds: float) -> dict[str, float]:
    """Ask five times a second from each of `count` threads, as the Interval page does."""
    outputs = [{"id": name, "property": "figure"} for name in QUANTITIES]
    changed = {
        "output": ".." + "...".join(f"{name}.figure" for name in QUANTITIES) + "..",
        "outputs": outputs,
        "inputs": [{"id": "tick", "property": "n_intervals", "value": 1}],
        "changedPropIds": ["tick.n_intervals"],
    }
    body = json.dumps(changed).encode()
    stop_at = time.time() + seconds
    received = [0] * count

    def run(number: int) -> None:
        while time.time() < stop_at:
            asked_at = time.time()
            request = urllib.request.Request(
                f"{address}_dash-update-component", body, {"Content-Type": "application/json"}
            )
            with urllib.request.urlopen(request, timeout=60) as answer:
                received[number] += len(answer.read())
            time.sleep(max(0.0, 0.2 - (time.time() - asked_at)))

    threads = [threading.Thread(target=run, args=(number,)) for number in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return {"bytes_per_s": sum(received) / count / seconds}


def main() -> None:
    address, count, zero_ms, seconds, way = sys.argv[1:]
    host, _, port = address.removeprefix("http://").strip("/").partition(":")
    if way == "push":
        print(json.dumps(listen(host, int(port), int(count), float(zero_ms), float(seconds))))
    else:
        print(json.dumps(ask(address, int(count), float(seconds))))


if __name__ == "__main__":
    main()
