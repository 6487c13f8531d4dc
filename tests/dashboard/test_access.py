import pytest

from dashboard.access import host_name, is_operator, is_same_origin, may_look

OWN = ("field-laptop", "field-laptop.local")


@pytest.mark.parametrize(
    "host",
    [
        "127.0.0.1:8050",
        "localhost:8050",
        "localhost",
        "LOCALHOST:8050",
        "192.168.4.2:8050",
        "[::1]:8050",
        "[fe80::1%25eth0]:80",
        "Field-Laptop:8050",
        "field-laptop.local.:8050",
    ],
)
def test_this_machines_addresses_and_names_may_be_asked_for(host):
    assert may_look(host, OWN)


@pytest.mark.parametrize(
    "host",
    ["", "elsewhere.example:8050", "localhost.elsewhere.example", "127.0.0.1.example", "user@127.0.0.1", "a b", "x:y"],
)
def test_a_foreign_or_malformed_name_may_not(host):
    assert not may_look(host, OWN)


def test_host_is_taken_apart_as_in_rfc_3986():
    assert host_name("[2001:db8::7]:8050") == "2001:db8::7"
    assert host_name("127.0.0.1") == "127.0.0.1"
    assert host_name("127.0.0.1:99999") is None
    assert host_name("127.0.0.1/x") is None


@pytest.mark.parametrize("remote", ["127.0.0.1", "127.8.8.8", "::1", "::ffff:127.0.0.1"])
def test_loopback_is_the_operator(remote):
    assert is_operator(remote, "0.0.0.0")


def test_the_very_address_served_on_is_the_operator():
    assert is_operator("192.168.4.2", "192.168.4.2")


@pytest.mark.parametrize(
    "remote", ["192.168.4.7", "10.0.0.1", "fe80::1", "::ffff:10.0.0.1", "", "localhost", "unknown"]
)
def test_anybody_else_is_a_spectator(remote):
    assert not is_operator(remote, "0.0.0.0")


def test_only_the_pages_own_origin_may_steer():
    assert is_same_origin("http", "127.0.0.1:8050", "http://127.0.0.1:8050", "same-origin")
    assert is_same_origin("http", "127.0.0.1:8050", "http://127.0.0.1:8050", None)


@pytest.mark.parametrize(
    ("origin", "site"),
    [
        (None, None),
        ("null", "cross-site"),
        ("http://127.0.0.1:9000", "same-site"),
        ("http://elsewhere.example", "cross-site"),
        ("https://127.0.0.1:8050", "same-site"),
        ("http://127.0.0.1:8050", "cross-site"),
    ],
)
def test_another_pages_origin_or_none_may_not(origin, site):
    assert not is_same_origin("http", "127.0.0.1:8050", origin, site)
