"""The addresses at which others on the same network reach the page. Asks the machine only, sends nothing."""

import ipaddress
import socket
from contextlib import suppress

_ELSEWHERE = (("192.0.2.1", socket.AF_INET), ("198.51.100.1", socket.AF_INET))
"""Documentation addresses (RFC 5737): choosing a route to one sends no packet and names our own side of it."""


def network_addresses() -> list[str]:
    """This machine's IPv4 addresses that others can reach, the likeliest first; empty without a network."""
    found: list[str] = []
    for address, family in _ELSEWHERE:
        with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((address, 9))
            found.append(probe.getsockname()[0])
    found += _of_interfaces()
    with suppress(OSError):
        found += socket.gethostbyname_ex(socket.gethostname())[2]
    reachable = [a for a in found if not ipaddress.ip_address(a).is_loopback and a != "0.0.0.0"]
    return list(dict.fromkeys(reachable))


def _of_interfaces() -> list[str]:
    """Each network interface's address, on Linux; a laptop that is itself the hotspot has no route elsewhere."""
    try:
        import fcntl
    except ImportError:
        return []
    addresses: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for _, name in socket.if_nameindex():
            with suppress(OSError):
                request = name.encode()[:15].ljust(40, b"\0")
                answer = fcntl.ioctl(probe.fileno(), 0x8915, request)  # SIOCGIFADDR, netdevice(7)
                addresses.append(socket.inet_ntoa(answer[20:24]))
    return addresses


def shared_addresses(host: str, port: int) -> list[str]:
    """Where spectators find the page when it is served on `host`; empty if only this machine can reach it."""
    try:
        bound = ipaddress.ip_address(host)
    except ValueError:
        hosts = [] if host == "localhost" else [host]
    else:
        if bound.is_unspecified:
            hosts = network_addresses()
        else:
            hosts = [] if bound.is_loopback else [f"[{host}]" if bound.version == 6 else host]
    return [f"http://{name}:{port}/watch" for name in hosts]
