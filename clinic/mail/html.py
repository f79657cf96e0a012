"""A mail's text as its HTML part: the same words, set to be read on a telephone, also without any picture and
in the dark. Pure.

The text's own signs are read: the first line is the title; a line in capitals after an empty one is a
heading; `- ` and `1. ` begin points; a line that is nothing but an address is a button.
"""

import re
from html import escape

LONGEST_DAY = 24  # letters that a telephone shows on one line of a title
_ITEM = re.compile(r"(- |(\d{1,2})\. )(.*)", re.S)
_ADDRESS = re.compile(r"https?://\S+")
_FONT = "font-family:'Atkinson Hyperlegible Next',Verdana,Helvetica,Arial,sans-serif"
_INK, _PAPER, _RULE, _ACT, _DANGER = "#1b2326", "#ffffff", "#d9d4ca", "#1f5a4c", "#7c2115"
# Inline for the programs that know nothing else; the sheet turns the colours where it is dark.
_STYLE = {
    "body": f"margin:0;padding:0;background:{_PAPER};color:{_INK}",
    "main": f"max-width:36em;margin:0 auto;padding:20px 16px;{_FONT};font-size:18px;line-height:1.45",
    "h1": "margin:0 0 12px;font-size:26px;line-height:1.2",
    "h2": f"margin:28px 0 8px;padding-top:12px;border-top:1px solid {_RULE};font-size:18px;line-height:1.3",
    "p": "margin:0 0 6px",
    "apart": "margin:18px 0 6px",
    "list": "margin:0 0 6px;padding-left:24px",
    "li": "margin:0 0 6px",
    "button": (
        f"display:inline-block;margin:6px 0 10px;padding:12px 20px;border:2px solid {_ACT};border-radius:4px;"
        f"color:{_ACT};font-weight:bold;word-break:break-all"
    ),
}
_DARK = (
    ":root{color-scheme:light dark}"
    "@media (prefers-color-scheme:dark){"
    "body,.ground{background:#14191b!important;color:#eef1ef!important}"
    "h2{border-color:#364044!important}.now{color:#ffc4ba!important}"
    "a{color:#b2e2d1!important;border-color:#8fd0ba!important}}"
)


def html_of(text: str, *, language: str, title: str) -> str:
    """A whole HTML document; whatever stands in `text` is shown as text."""
    blocks = "\n".join(_blocks(text.strip().split("\n")))
    return (
        f'<!doctype html>\n<html lang="{escape(language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        '<meta name="supported-color-schemes" content="light dark">\n'
        f"<title>{escape(title)}</title>\n<style>{_DARK}</style>\n</head>\n"
        f'<body style="{_STYLE["body"]}">\n<div class="ground" style="{_STYLE["main"]}">\n'
        f"{blocks}\n</div>\n</body>\n</html>\n"
    )


def _blocks(lines: list[str]) -> list[str]:
    out: list[str] = []
    open_list, before = "", "none"
    for line in lines:
        item = _ITEM.fullmatch(line)
        kind = "" if item is None else "ol" if item[2] else "ul"
        if open_list and kind != open_list:
            out.append(f"</{open_list}>")
        if kind and kind != open_list:
            start = f' start="{item[2]}"' if item and item[2] not in (None, "1") else ""
            out.append(f'<{kind}{start} style="{_STYLE["list"]}">')
        open_list = kind
        if item:
            out.append(f'<li style="{_STYLE["li"]}">{escape(item[3])}</li>')
        elif line.strip():
            out.append(_line(line, before))
        before = line
    if open_list:
        out.append(f"</{open_list}>")
    return out


def _line(line: str, before: str) -> str:
    if before == "none":
        what, comma, day = line.rpartition(", ")
        said = f"{escape(what)}{comma}{_unbroken(day)}" if comma and len(day) <= LONGEST_DAY else escape(line)
        return f'<h1 style="{_STYLE["h1"]}">{said}</h1>'
    if not before.strip() and _is_heading(line):
        now = ' class="now"' if ":" in line else ""
        colour = f";color:{_DANGER}" if now else ""
        what, colon, number = line.partition(": ")
        said = escape(what) + (f"{colon}{_unbroken(number)}" if colon else "")
        return f'<h2{now} style="{_STYLE["h2"]}{colour}">{said}</h2>'
    if _ADDRESS.fullmatch(line.strip()):
        address = escape(line.strip())
        return f'<p style="{_STYLE["p"]}"><a href="{address}" style="{_STYLE["button"]}">{address}</a></p>'
    style = _STYLE["p"] if before.strip() else _STYLE["apart"]
    return f'<p style="{style}">{escape(line)}</p>'


def _unbroken(text: str) -> str:
    return f'<span style="white-space:nowrap">{escape(text)}</span>'


def _is_heading(line: str) -> bool:
    return line == line.upper() and any(sign.isalpha() for sign in line)
