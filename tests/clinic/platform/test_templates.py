"""Templates hold no code and no style of their own: the content security policy would drop both."""

import re
from pathlib import Path

import pytest
from django.template import engines

from tests.for_each import for_each

ROOT = Path(__file__).resolve().parents[3]
TEMPLATES = sorted(
    str(path.relative_to(ROOT / "templates")) for path in (ROOT / "templates").rglob("*") if path.is_file()
)
COMMENT = re.compile(r"{#.*?#}|{% comment .*?{% endcomment %}|<!--.*?-->", re.DOTALL)
FORBIDDEN = {
    "a style attribute": re.compile(r"<[^>]*\sstyle\s*=", re.IGNORECASE),
    "a style element": re.compile(r"<style\b", re.IGNORECASE),
    "a script in the page": re.compile(r"<script\b(?![^>]*\ssrc=)(?![^>]*application/json)", re.IGNORECASE),
    "a handler": re.compile(r"<[^>]*\son[a-z]+\s*=", re.IGNORECASE),
    "htmx code": re.compile(r"\shx-(on|vals=[\"']js:)", re.IGNORECASE),
    "a javascript address": re.compile(r"javascript:\S", re.IGNORECASE),
    "a file of another site": re.compile(
        r"<(script|link|img|iframe)\b[^>]*(src|href)=[\"']https?:", re.IGNORECASE
    ),
    "text nobody escapes": re.compile(r"\|safe\b|{% autoescape off"),
}


@for_each(TEMPLATES)
def test_every_template_compiles(name):
    engines["django"].get_template(name)


@for_each(name for name in TEMPLATES if not name.endswith(".txt"))
def test_no_template_holds_code_or_style(name):
    source = COMMENT.sub("", (ROOT / "templates" / name).read_text())
    assert [what for what, pattern in FORBIDDEN.items() if pattern.search(source)] == []


@pytest.mark.parametrize(
    ("what", "source"),
    [
        ("a style attribute", '<p class="a" style="color: red">'),
        ("a style element", "<style>p {}</style>"),
        ("a script in the page", "<script>alert(1)</script>"),
        ("a handler", '<a href="/" onclick="go()">'),
        ("htmx code", '<a hx-on:click="go()">'),
        ("a javascript address", '<a href="javascript:go()">'),
        ("a file of another site", '<img alt="" src="https://other.example/a.png">'),
        ("text nobody escapes", "{{ words|safe }}"),
    ],
)
def test_what_is_forbidden_is_found(what, source):
    assert FORBIDDEN[what].search(source)


def test_a_script_by_address_is_allowed():
    assert not FORBIDDEN["a script in the page"].search(
        '<script type="module" src="{% static \'a.js\' %}"></script>'
    )
