"""How a letter's parts are written into HTML: the same for paper, preview and the phone."""

import re

from django import template
from django.template.context import Context
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from clinic.letters import wording
from clinic.letters.document import Dated, Photos, Section, Sentence, Text, Walk, said
from clinic.letters.sheet import when
from clinic.letters.wording import Words

register = template.Library()

MANY_LINES = 5
MUCH_TEXT = 700


@register.simple_tag(takes_context=True)
def sentence(context: Context, each: Sentence) -> SafeString:
    """The sentence with its term; in the preview it is a button that opens its origin."""
    term = format_html(' <span class="term">({})</span>', each.term) if each.term else ""
    if not context.get("preview"):
        return format_html("{}{}", together(each.text, context["w"].language), term)
    corrected = mark_safe(' <span class="corrected small">corrected</span>') if each.corrected else ""
    return format_html(
        '<button type="button" class="says" data-sentence="{}" aria-expanded="false">{}{}</button>{}',
        each.key,
        each.text,
        term,
        corrected,
    )


@register.filter
def together(text: str, language: str) -> SafeString:
    """Dates, and numbers with their unit, do not break over two lines."""
    kept = wording.together(language).sub(_kept, conditional_escape(text))
    return mark_safe(kept)  # noqa: S308 - escaped before


def _kept(found: re.Match[str]) -> str:
    return f'<span class="keep">{found[0]}</span>'


@register.filter
def drawing(svg: str) -> SafeString:
    """A drawing that our own code made; nobody's text is in it but escaped."""
    return mark_safe(svg)  # noqa: S308 - our own drawing


@register.filter
def unbroken(text: str) -> str:
    """A telephone number that does not break over lines."""
    return text.replace(" ", "\u00a0").replace("-", "\u2011")


@register.filter
def next_day(thing: Dated, w: Words) -> SafeString:
    """9 December 2026, 5:00 pm; week of 9 December 2026."""
    return together(when(thing, w), w.language)


@register.filter
def is_short(section: Section) -> bool:
    """Whether the section stays on one page: neither many lines nor much to read, and no photographs."""
    if any(isinstance(block, Photos) for block in section.blocks):
        return False
    lines = sum(len(block.lines) for block in section.blocks if isinstance(block, Walk))
    texts = sum(isinstance(block, Text) for block in section.blocks)
    length = sum(len(each.text) for block in section.blocks for each in said(block))
    return lines + texts <= MANY_LINES and length <= MUCH_TEXT
