"""A page with parts that ask for themselves also loads the script by which they do."""

import re
from pathlib import Path

TEMPLATES = Path(__file__).parent.parent / "templates"
ASKS, WITHIN = re.compile(r"\bhx-(?:get|post)="), re.compile(r'{% (?:extends|include) "([^"]+)"')


def text(name: str) -> str:
    return (TEMPLATES / name).read_text()


def whole(name: str) -> str:
    """The template with the frame that it fills and the parts that it takes in."""
    own = text(name)
    return own + "".join(whole(each) for each in WITHIN.findall(own) if (TEMPLATES / each).exists())


def test_no_page_waits_for_a_script_that_it_does_not_load() -> None:
    names = [each.relative_to(TEMPLATES).as_posix() for each in TEMPLATES.rglob("*.html")]
    pages = [name for name in names if "{% extends" in text(name)]
    asking = [name for name in pages if ASKS.search(whole(name))]
    assert "clinic/callbacks/plans.html" in asking
    assert not [name for name in asking if "{% htmx_script %}" not in whole(name)]
