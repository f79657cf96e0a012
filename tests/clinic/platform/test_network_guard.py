"""The tests' own guard, so that it is known to hold."""

import socket
import urllib.request

import pytest

from tests.conftest import OutsideNetwork


def test_a_test_reaches_no_other_machine():
    with pytest.raises(OutsideNetwork), socket.socket() as outside:
        outside.connect(("192.0.2.1", 80))


def test_a_test_looks_up_no_name():
    with pytest.raises(OutsideNetwork):
        urllib.request.urlopen("http://tailward.example/", timeout=1)


def test_a_test_reaches_this_machine():
    with socket.create_server(("127.0.0.1", 0)) as server:
        socket.create_connection(server.getsockname()).close()
