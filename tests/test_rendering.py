"""Templates get plain values: once a page began to render, nothing is asked of the database."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import connection
from django.template import Context, Template
from django.test import Client

from clinic.models import Patient
from tests.house import furnished
from tests.test_doors import DOORS, ROLES, address


@contextmanager
def asked_while_rendering(monkeypatch) -> Iterator[list[str]]:
    """Each query that ran inside a template, with the template's name. Context processors come before it."""
    asked: list[str] = []
    at_work: list[str] = []
    render = Template._render

    def watched(self, context):
        at_work.append(self.name or "a template without a name")
        try:
            return render(self, context)
        finally:
            at_work.pop()

    def listen(execute, sql, params, many, context):
        if at_work:
            asked.append(f"{' > '.join(at_work[-2:])}: {sql[:160]}")
        return execute(sql, params, many, context)

    with monkeypatch.context() as patched, connection.execute_wrapper(listen):
        patched.setattr(Template, "_render", watched)
        yield asked


def ours(name: str) -> bool:
    return 200 in DOORS[name].get and not name.startswith(("account_", "mfa_"))


@pytest.mark.django_db
def test_no_page_asks_while_it_renders(settings, monkeypatch) -> None:
    settings.EMAIL_BACKEND = "clinic.platform.outbox.OutboxBackend"  # its pages exist only with it
    made, wrong = furnished(), []
    for name in filter(ours, DOORS):
        client = Client()
        if DOORS[name].stranger != 200:
            role = next(role for role in ("clinician", *ROLES) if role in DOORS[name].who)
            client.force_login(getattr(made.people, role))
        url = address(name, made, made.own)
        with asked_while_rendering(monkeypatch) as asked:
            assert client.get(url).status_code == 200, url
        wrong += [f"{name}: {each}" for each in dict.fromkeys(asked)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.django_db
def test_a_query_set_in_a_template_would_be_noticed(monkeypatch) -> None:
    with asked_while_rendering(monkeypatch) as asked:
        Template("{% for each in all %}{{ each }}{% endfor %}").render(
            Context({"all": Patient.objects.all()})
        )
    assert len(asked) == 1
