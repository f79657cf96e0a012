"""What a page is for eyes: axe-core's findings in either theme, and what is wider than the screen."""

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

ONLY_WRONG = {"resultTypes": ["violations"]}
# the themes differ in colours alone: what else axe looks at it has seen in the first
THEME_DEPENDS = {**ONLY_WRONG, "runOnly": ["color-contrast", "link-in-text-block"]}
AXE = Axe().axe_script
# of what is right nothing is brought here: it takes as long as looking
LOOK = "options => axe.run(options).then(found => found.violations)"

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
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    found = page.evaluate(LOOK, THEME_DEPENDS if only_theme else ONLY_WRONG)
    return [
        f"{theme}, {each['id']}: {node['html'][:160]} {node.get('failureSummary', '')}"
        for each in found
        for node in each["nodes"][:3]
    ]


def in_both_themes(page: Page) -> list[str]:
    """All of axe in the light, and it stays light; in the dark what colours change."""
    return violations(page, "dark", only_theme=True) + violations(page, "light")


def too_wide(page: Page) -> list[str]:
    return [f"wider than the screen: {each}" for each in page.evaluate(TOO_WIDE)]
