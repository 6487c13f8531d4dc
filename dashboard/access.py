"""Who may look and who may steer, decided from a request's own words. Pure.

Looking: anybody who reaches the page by this machine's address or name. A foreign name in `Host` is refused,
or a web page elsewhere could read the flight by pointing its own name at this machine (DNS rebinding).
Steering (a mark, the replay's controls): only this machine's own browser, and only from this very page:
browsers put the page's origin in `Origin` (Fetch Standard, https://fetch.spec.whatwg.org/#origin-header).
"""

import ipaddress
from collections.abc import Iterable
from urllib.parse import urlsplit


def host_name(host_header: str) -> str | None:
    """The name or address in a `Host` header, lower case, without port and brackets; None if it is malformed."""
    try:
        parts = urlsplit(f"//{host_header}")
        _ = parts.port
    except ValueError:
        return None
    if parts.path or parts.query or parts.fragment or parts.username is not None or not parts.hostname:
        return None
    return parts.hostname


def may_look(host_header: str, own_names: Iterable[str]) -> bool:
    """Whether the page was asked for by an address, by `localhost` or by one of this machine's own names."""
    name = host_name(host_header)
    if name is None:
        return False
    name = name.removesuffix(".")
    return _is_address(name) or name in {"localhost", *(own.lower() for own in own_names)}


def is_operator(remote_address: str, served_on: str) -> bool:
    """Whether a request comes from this machine itself: over loopback, or from the very address served on."""
    if not _is_address(remote_address):
        return False
    address = ipaddress.ip_address(remote_address.partition("%")[0])
    mapped = getattr(address, "ipv4_mapped", None)
    return (mapped or address).is_loopback or remote_address == served_on


def is_same_origin(scheme: str, host_header: str, origin: str | None, fetch_site: str | None) -> bool:
    """Whether a request that changes something was sent by our own page. A missing `Origin` is refused."""
    return origin == f"{scheme}://{host_header}" and fetch_site in (None, "same-origin")


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name.partition("%")[0])
    except ValueError:
        return False
    return True
