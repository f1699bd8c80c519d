"""What a browser is asked of a page, to see that it is whole: each script lists what is wrong."""

from playwright.sync_api import Page

SIZES = [(390, 844), (1280, 800)]
"""A phone and a wide window, in CSS pixels."""

OVERLAPS = """() => {
  const texts = [...document.querySelectorAll("svg text")].map(
    (t) => [t.textContent, t.getBoundingClientRect()]);
  const found = [];
  texts.forEach(([a, r], i) => texts.slice(0, i).forEach(([b, s]) => {
    const wide = Math.min(r.right, s.right) - Math.max(r.left, s.left);
    const high = Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top);
    // The boxes of two lines of text touch by their leading; letters do not.
    if (wide > 1 && high > 3) found.push(`${a} | ${b}`);
  }));
  return found;
}"""
CUT = """() => [...document.querySelectorAll("svg.shelf text")].filter((t) => {
  const r = t.getBoundingClientRect(), s = t.closest("svg").getBoundingClientRect();
  return r.left < s.left - 1 || r.right > s.right + 1
    || r.top < s.top - 1 || r.bottom > s.bottom + 1;
}).map((t) => t.textContent)"""
SMALL = """() => [...document.querySelectorAll(
    "nav a, button, .more, .act, .rows > li > a, summary, .choices a, select, textarea, "
    + ".tick-box, input:not([type=hidden]):not([type=radio]):not([type=checkbox])")]
  .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 44)
  .map((e) => e.outerHTML.slice(0, 80))"""
"""Targets lower than 44 px. Radios and checkboxes are touched by their labels."""


def scrolls_sideways(page: Page) -> bool:
    """Whether the page is wider than its window."""
    wide: bool = page.evaluate("document.documentElement.scrollWidth > innerWidth")
    return wide
