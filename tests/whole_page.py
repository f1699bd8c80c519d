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

OUTLINE = """() => {
  const levels = [...document.querySelectorAll("h1, h2, h3, h4, h5, h6")].map((e) => +e.tagName[1]);
  const found = levels.filter((level) => level === 1).length === 1 ? [] : ["not one h1"];
  levels.forEach((level, i) => {
    if (level > (i ? levels[i - 1] : 0) + 1) found.push(`h${level} after h${levels[i - 1]}`);
  });
  return found;
}"""
"""Whether there is one first heading, and none after it skips a level."""
NAMELESS = """() => [...document.querySelectorAll(
    "input:not([type=hidden]), select, textarea, a[href], button, summary")].filter((e) => {
  const labels = [...(e.labels || [])].map((label) => label.textContent).join("");
  const said = e.getAttribute("aria-label") || labels || e.textContent;
  const field = e.matches("input, select, textarea");
  return !(field ? e.getAttribute("aria-label") || labels : said).trim();
}).map((e) => e.outerHTML.slice(0, 80))"""
"""Fields without a label, links and buttons without a name (WCAG 2.2, 3.3.2 and 4.1.2)."""
ASTRAY = """() => [
  ...[...document.querySelectorAll("a[href^='#']")].map((e) => e.getAttribute("href").slice(1)),
  ...[...document.querySelectorAll("[aria-labelledby], [aria-describedby]")].flatMap((e) =>
    `${e.getAttribute("aria-labelledby") || ""} ${e.getAttribute("aria-describedby") || ""}`
      .trim().split(/ +/)),
].filter((id) => !document.getElementById(id))"""
"""What is pointed at within the page and is not there."""
TWICE = """() => {
  const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
  return ids.filter((id, i) => ids.indexOf(id) !== i);
}"""
"""Names that two parts of the page have."""
FOCUS_HIDDEN = """() => [...document.querySelectorAll("main a, main button, main summary")]
  .filter((e) => e.getClientRects().length && !e.closest("svg"))
  .filter((e) => { e.focus({focusVisible: true}); const s = getComputedStyle(e);
    return document.activeElement === e && (s.outlineStyle === "none" || s.outlineWidth === "0px");
  }).map((e) => e.outerHTML.slice(0, 80))"""
"""What shows nothing when the keyboard has come to it (WCAG 2.2, 2.4.7)."""


def scrolls_sideways(page: Page) -> bool:
    """Whether the page is wider than its window."""
    wide: bool = page.evaluate("document.documentElement.scrollWidth > innerWidth")
    return wide
