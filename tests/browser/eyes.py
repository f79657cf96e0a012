"""What a page is for eyes: axe-core's findings in either theme, and what is wider than the screen."""

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page

ONLY_WRONG = {"resultTypes": ["violations"]}
# the themes differ in colours alone: what else axe looks at it has seen in the first
OF_COLOURS = ("color-contrast", "link-in-text-block")
THEME_DEPENDS = {**ONLY_WRONG, "runOnly": OF_COLOURS}
AXE = Axe().axe_script
# of what is right nothing is brought here: it takes as long as looking
LOOK = "options => axe.run(options).then(found => found.violations)"
# Contrast is most of axe's time, and it asks for writing, its colour and the grounds below it. Has axe ask
# for what is written as nothing of `seen` was, and for nothing else; gives how this is written.
NEW_GROUNDS = """seen => {
  const known = new Set(seen), fresh = [], stands = new Map();
  const how = each => {
    if (each === null) return 17;
    if (stands.has(each)) return stands.get(each);
    const style = getComputedStyle(each);
    const said = [style.color, style.backgroundColor, style.backgroundImage, style.opacity, style.fontSize,
      style.fontWeight].join();
    let sum = how(each.parentElement);
    for (let at = 0; at < said.length; at++) sum = (Math.imul(sum, 31) + said.charCodeAt(at)) | 0;
    stands.set(each, sum);
    return sum;
  };
  const written = each => each.matches('input, select, textarea') ||
    [...each.childNodes].some(node => node.nodeType === 3 && node.data.trim());
  for (const each of document.querySelectorAll('body, body *')) {
    const stand = written(each) && each.checkVisibility() ? how(each) : null;
    each.toggleAttribute('data-new-ground', stand !== null && !known.has(stand));
    if (stand === null || known.has(stand)) continue;
    known.add(stand);
    fresh.push(stand);
  }
  axe.configure({rules: [{id: 'color-contrast', selector: '[data-new-ground]'}]});
  return fresh;
}"""

# As it stands, and with every fold open: what is behind one must not push the page sideways either.
TOO_WIDE = """() => {
  const wide = document.documentElement.clientWidth;
  const beyond = each => each.getBoundingClientRect().right > wide + 1;
  const found = () => {
    if (document.documentElement.scrollWidth <= wide) return [];
    const out = [...document.querySelectorAll('body *')].filter(beyond);
    return out.slice(0, 3).map(each => each.outerHTML.slice(0, 140));
  };
  const standing = found();
  if (standing.length) return standing;
  const shut = [...document.querySelectorAll('details:not([open])')];
  shut.forEach(each => { each.open = true; });
  const unfolded = found();
  shut.forEach(each => { each.open = false; });
  return unfolded;
}"""


def size(page: Page, width_and_height: tuple[int, int]) -> None:
    page.set_viewport_size(dict(zip(("width", "height"), width_and_height, strict=True)))


def bring_axe(context: BrowserContext) -> None:
    """To each page that will be opened there: the browser reads it once, not once a page."""
    context.add_init_script(AXE)


def violations(
    page: Page, theme: str, *, only_theme: bool = False, seen: set[int] | None = None
) -> list[str]:
    """What axe finds; with `seen`, a memory of many pages, like writing is asked once for its contrast."""
    page.emulate_media(color_scheme=theme)
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    if seen is not None:
        new = page.evaluate(NEW_GROUNDS, list(seen))
        seen.update(new)
        if only_theme and not new:
            return []
    found = page.evaluate(LOOK, THEME_DEPENDS if only_theme else ONLY_WRONG)
    return [
        f"{theme}, {each['id']}: {node['html'][:160]} {node.get('failureSummary', '')}"
        for each in found
        for node in each["nodes"][:3]
    ]


def in_both_themes(page: Page, *, seen: set[int] | None = None) -> list[str]:
    """All of axe in the light, and it stays light; in the dark what colours change."""
    return violations(page, "dark", only_theme=True, seen=seen) + violations(page, "light", seen=seen)


def too_wide(page: Page) -> list[str]:
    return [f"wider than the screen: {each}" for each in page.evaluate(TOO_WIDE)]
