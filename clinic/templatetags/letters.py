"""How a letter's parts are written into HTML: the same for paper, preview and the phone."""

import re

from django import template
from django.template.context import Context
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from clinic.letters import wording
from clinic.letters.document import Block, Dated, Figures, Photos, Section, Sentence, Text, Walk, said
from clinic.letters.sheet import when
from clinic.letters.texts import END, OWN, SOURCE, Texts

register = template.Library()

MANY_LINES = 5
MUCH_TEXT = 700


@register.simple_tag(takes_context=True)
def sentence(context: Context, each: Sentence) -> SafeString:
    """The sentence with its term; in the preview it is a button that opens its origin.

    Beside a sentence in another language stands what the clinician signs: in the preview always, on paper
    where both go out.
    """
    language = context["w"].language
    elsewhere = format_html(' lang="{}"', SOURCE) if language != SOURCE else ""
    term = format_html(' <span class="term"{}>({})</span>', elsewhere, each.term) if each.term else ""
    text = together(each.text, each.lang or language)
    if each.lang:
        text = format_html('<span lang="{}">{}</span>', each.lang, text)
    beside = ""
    if each.source and (each.both or context.get("preview")):
        beside = format_html(
            ' <span class="beside" lang="{}">{}</span>', SOURCE, together(each.source, SOURCE)
        )
    if not context.get("preview"):
        return format_html("{}{}{}", text, term, beside)
    corrected = mark_safe(' <span class="corrected small">corrected</span>') if each.corrected else ""
    return format_html(
        '<button type="button" class="says" data-sentence="{}" aria-expanded="false">{}{}</button>{}{}',
        each.key,
        text,
        term,
        beside,
        corrected,
    )


@register.simple_tag(takes_context=True)
def text(context: Context, key: str, **values: object) -> str:
    """A text of the sheet itself, in the letter's language."""
    words: Texts = context["w"]
    return words(key, **values)


@register.filter
def together(text: str, language: str) -> SafeString:
    """Dates, and numbers with their unit, do not break over two lines; somebody's own words are quoted."""
    kept = wording.together(language).sub(_kept, conditional_escape(text))
    if OWN in kept:
        kept = kept.replace(OWN, f'<span class="own" lang="{SOURCE}">“').replace(END, "”</span>")
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
def next_day(thing: Dated, w: Texts) -> SafeString:
    """9 December 2026, 5:00 pm; week of 9 December 2026."""
    return together(when(thing, w), w.language)


def _is_wide(block: Block) -> bool:
    return isinstance(block, Figures) and any(each.shape in ("wide", "low") for each in block.figures)


@register.filter
def is_short(section: Section) -> bool:
    """Whether the section stays on one page: not much to read, no photographs or wide drawing."""
    if any(isinstance(block, Photos) or _is_wide(block) for block in section.blocks):
        return False
    lines = sum(len(block.lines) for block in section.blocks if isinstance(block, Walk))
    texts = sum(isinstance(block, Text) for block in section.blocks)
    length = sum(len(each.text) for block in section.blocks for each in said(block))
    return lines + texts <= MANY_LINES and length <= MUCH_TEXT
