import ipaddress

import pytest

from dashboard import sharing
from dashboard.sharing import network_addresses, shared_addresses


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.5.5.5"])
def test_a_page_for_this_machine_alone_has_none(host):
    assert shared_addresses(host, 8050) == []


def test_one_address_served_on_is_the_one_shared():
    assert shared_addresses("192.0.2.7", 8050) == ["http://192.0.2.7:8050/watch"]
    assert shared_addresses("2001:db8::7", 8050) == ["http://[2001:db8::7]:8050/watch"]
    assert shared_addresses("field-laptop.local", 80) == ["http://field-laptop.local:80/watch"]


def test_served_on_all_every_network_address_is_shared(monkeypatch):
    monkeypatch.setattr(sharing, "network_addresses", lambda: ["192.0.2.7", "198.51.100.7"])
    assert shared_addresses("0.0.0.0", 80) == ["http://192.0.2.7:80/watch", "http://198.51.100.7:80/watch"]


def test_network_addresses_are_addresses_others_could_reach_each_once():
    found = network_addresses()
    assert len(found) == len(set(found))
    assert not any(ipaddress.ip_address(address).is_loopback for address in found)


def test_a_machine_without_a_network_shares_none(monkeypatch):
    class NoNetwork:
        def __init__(self, *_args):
            raise OSError("network is unreachable")

    monkeypatch.setattr(sharing.socket, "socket", NoNetwork)
    monkeypatch.setattr(sharing, "_of_interfaces", list)
    monkeypatch.setattr(sharing.socket, "gethostbyname_ex", lambda _name: ("me", [], ["127.0.1.1"]))
    assert network_addresses() == []
