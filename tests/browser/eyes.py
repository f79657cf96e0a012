"""What a page is for eyes: axe-core's findings in either theme, and what is wider than the screen."""

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

# the themes differ in colours alone: what else axe looks at it has seen in the first
THEME_DEPENDS = {"runOnly": ["color-contrast", "link-in-text-block"], "resultTypes": ["violations"]}

TOO_WIDE = """() => {
  const wide = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= wide) return [];
  const beyond = each => each.getBoundingClientRect().right > wide + 1;
  const out = [...document.querySelectorAll('body *')].filter(beyond);
  return out.slice(0, 3).map(each => each.outerHTML.slice(0, 140));
}"""


def size(page: Page, width_and_height: tuple[int, int]) -> None:
    page.set_viewport_size(dict(zip(("width", "height"), width_and_height, strict=True)))


def violations(page: Page, theme: str, *, only_theme: bool = False) -> list[str]:
    page.emulate_media(color_scheme=theme)
    found = Axe().run(page, options=THEME_DEPENDS) if only_theme else Axe().run(page)
    return [
        f"{theme}, {each['id']}: {node['html'][:160]} {node.get('failureSummary', '')}"
        for each in found.response["violations"]
        for node in each["nodes"][:3]
    ]


def in_both_themes(page: Page) -> list[str]:
    """All of axe in the light, and it stays light; in the dark what colours change."""
    return violations(page, "dark", only_theme=True) + violations(page, "light")


def too_wide(page: Page) -> list[str]:
    return [f"wider than the screen: {each}" for each in page.evaluate(TOO_WIDE)]
