"""How a letter's parts are written into HTML: the same for paper, preview and the phone."""

from django import template
from django.template.context import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from clinic.letters.document import Dated, Section, Sentence, Text, Walk
from clinic.letters.wording import Words, long_day

register = template.Library()

MANY_LINES = 5


@register.simple_tag(takes_context=True)
def sentence(context: Context, each: Sentence) -> SafeString:
    """The sentence with its term; in the preview it is a button that opens its origin."""
    term = format_html(' <span class="term">({})</span>', each.term) if each.term else ""
    if not context.get("preview"):
        return format_html("{}{}", each.text, term)
    corrected = mark_safe(' <span class="corrected small">corrected</span>') if each.corrected else ""
    return format_html(
        '<button type="button" class="says" data-sentence="{}" aria-expanded="false">{}{}</button>{}',
        each.key,
        each.text,
        term,
        corrected,
    )


@register.filter
def drawing(svg: str) -> SafeString:
    """A drawing that our own code made; nobody's text is in it but escaped."""
    return mark_safe(svg)  # noqa: S308 - our own drawing


@register.filter
def unbroken(text: str) -> str:
    """A telephone number that does not break over lines."""
    return text.replace(" ", "\u00a0").replace("-", "\u2011")


@register.filter
def next_day(thing: Dated, w: Words) -> str:
    """9 December 2026, 5 pm; week of 9 December 2026."""
    day = long_day(thing.on, w).replace(" ", "\u00a0")
    if not thing.exact:
        return f"week of {day}"
    return f"{day}, {thing.time}" if thing.time else day


@register.filter
def is_short(section: Section) -> bool:
    """Whether the section stays on one page: not a walk of many lines."""
    lines = sum(len(block.lines) for block in section.blocks if isinstance(block, Walk))
    texts = sum(isinstance(block, Text) for block in section.blocks)
    return lines + texts <= MANY_LINES
