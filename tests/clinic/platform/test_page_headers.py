import pytest

from clinic.platform.csp import POLICY

pytestmark = pytest.mark.django_db


def test_every_answer_forbids_code_that_is_not_a_file_of_ours(client):
    response = client.get("/healthz")
    assert response.headers["Content-Security-Policy"] == POLICY
    assert "unsafe" not in POLICY
    assert "camera=(self)" in response.headers["Permissions-Policy"]
    assert response.headers["X-Frame-Options"] == "DENY"
    assert response.headers["Referrer-Policy"] == "same-origin"


def test_an_address_nobody_knows_has_them_too(client):
    response = client.get("/there/is/no/such/page")
    assert response.headers["Content-Security-Policy"] == POLICY


def test_each_answer_names_its_request(client):
    names = {client.get("/healthz").headers["X-Request-ID"] for _ in range(2)}
    assert len(names) == 2


def test_a_proxy_may_name_the_request_but_not_write_into_the_log(client):
    given = client.get("/healthz", headers={"X-Request-ID": "abcd-1234-efgh"})
    assert given.headers["X-Request-ID"] == "abcd-1234-efgh"
    forged = client.get("/healthz", headers={"X-Request-ID": "abcd1234 ERROR stolen"})
    assert forged.headers["X-Request-ID"] != "abcd1234 ERROR stolen"


def test_health_needs_no_sign_in_and_says_whether_the_database_answers(client):
    assert client.get("/healthz").content == b"ok"
