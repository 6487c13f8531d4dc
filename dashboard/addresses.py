"""By which names this machine may be asked for a page, and at which address its own browser finds it."""

import socket


def own_names(host: str) -> frozenset[str]:
    """This machine's names on its network, and what it serves on."""
    name = socket.gethostname().lower()
    return frozenset({name, name.partition(".")[0], f"{name.partition('.')[0]}.local", host.lower()} - {""})


def page_address(host: str, port: int) -> str:
    """The page's address for a browser on this machine."""
    if host in ("0.0.0.0", "::"):
        host = "127.0.0.1"
    return f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"
