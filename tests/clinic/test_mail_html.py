"""A mail's HTML part says the words of its text, with nothing from elsewhere."""

import re
from html import unescape

import pytest

from clinic.letters.sheet import mail_body, mail_closing
from clinic.mail.html import html_of
from tests import letters


def words_of(html: str) -> str:
    body = re.sub(r"<li[^>]*>", "• ", html.split("<body", 1)[1].split(">", 1)[1])
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


def plain_words(text: str) -> str:
    lines = [re.sub(r"^(- |\d{1,2}\. )", "• ", line) for line in text.split("\n")]
    return " ".join(" ".join(lines).split())


def of(text: str) -> str:
    return html_of(text, language="en", title="A title")


@pytest.mark.django_db
@pytest.mark.parametrize("case", [letters.healthy, letters.sore_ear, letters.put_to_sleep])
def test_it_says_the_words_of_the_text_and_no_other(case):
    document = case().letter()
    text = mail_body(document) + "\n" + mail_closing(document)
    assert words_of(of(text)) == plain_words(text)


def test_it_needs_nothing_from_elsewhere():
    html = of("Title\n\nhttps://letters.example/l/abc\n")
    assert not re.search(r"<img|<script|<link|url\(|src=|@import", html)
    assert re.findall(r'href="([^"]+)"', html) == ["https://letters.example/l/abc"]


def test_it_is_read_in_the_dark():
    assert "prefers-color-scheme:dark" in of("Title\n")
    assert '<meta name="color-scheme" content="light dark">' in of("Title\n")


def test_its_headings_and_lists_are_headings_and_lists():
    html = of("Title\nWhy\n\nCALL NOW: 555-0199\n- one\n- two\n\nIn short\n1. first\n2. second\nafter\n")
    assert re.sub(r' (style|class)="[^"]*"', "", html.split('class="ground"', 1)[1]).count("<li>") == 4
    tags = re.findall(r"<(/?(?:h1|h2|p|ul|ol|li))\b", html.split("<body", 1)[1])
    opened = " ".join(tag for tag in tags if not tag.startswith("/"))
    assert opened == "h1 p h2 ul li li p ol li li p"
    assert tags.count("ul") == tags.count("/ul") == 1


@pytest.mark.parametrize(
    "typed", ['<b onclick="x">&amp;</b>', "https://evil.example/<script>", "- <i>", "1. <i>"]
)
def test_what_somebody_typed_is_text(typed):
    html = of(f"Title\n\n{typed}\n")
    assert not re.search(r"<(b|i|script)\b", html.split("<body")[1])


def test_a_sentence_that_holds_an_address_is_no_button():
    assert "<a " not in of("Title\nlook at https://elsewhere.example now\n")
