"""Names and words that a maker gives, slugs made from names, and the household's own entry."""

import re
import unicodedata
from collections.abc import Set as AbstractSet
from typing import Final
from zoneinfo import available_timezones

from service.api.refusals import RefusedError
from service.store import places, set_up
from service.store.database import Session
from service.store.tables import Site
from service.store.turns import take_turn

_LONGEST_NAME: Final = 80
_SLUG: Final = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_LONGEST_SLUG: Final = 40
_JOINERS: Final = "\N{ZERO WIDTH JOINER}\N{ZERO WIDTH NON-JOINER}"
"""Invisible, but some scripts are not written without, and pictures of a phone are joined by."""
_UNSHOWN: Final = ("Cc", "Cf", "Cs", "Co", "Cn")
"""Unicode categories of what is never drawn, or turns the writing round."""


def checked_name(name: str, of: str) -> str:
    """A name without blanks around it, in one Unicode form.

    Raises:
        RefusedError: It is empty, too long or cannot be printed.
    """
    # A phone writes spaces that do not break; they would make two names of what reads as one.
    shown = (" " if unicodedata.category(sign) == "Zs" else sign for sign in name)
    name = unicodedata.normalize("NFC", "".join(shown)).strip()
    printable = all(sign.isprintable() or sign in _JOINERS for sign in name)
    if not name.strip(_JOINERS) or len(name) > _LONGEST_NAME or not printable:
        raise RefusedError(f"the name of {of} has 1 to {_LONGEST_NAME} signs, on one line")
    return name


def checked_words(words: str, longest: int) -> str:
    r"""The maker's own words in one Unicode form, over one line or more.

    Signs that are never drawn or turn the writing round are left out, for they come unseen with
    what is pasted, and nobody could find them to take them out.

    Raises:
        RefusedError: They are too long.

    Examples:
        >>> checked_words(" Cut\u202e it \x00\r\nin two\xa0! ", 100)
        'Cut it\nin two !'
    """
    lines = (
        "".join(
            " " if sign.isspace() else sign
            for sign in line
            if sign.isspace() or sign in _JOINERS or unicodedata.category(sign) not in _UNSHOWN
        ).rstrip()
        for line in unicodedata.normalize("NFC", words).strip().splitlines()
    )
    shown = "\n".join(lines).strip()
    if len(shown) > longest:
        raise RefusedError(f"write no more than {longest} signs")
    return shown


def free_slug(name: str, taken: AbstractSet[str]) -> str:
    """A short name for addresses, made from a name, that nothing else has.

    Examples:
        >>> free_slug("Blue box № 2", set()), free_slug("Кладовая", {"space"})
        ('blue-box-no-2', 'space-2')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = "-".join(re.findall("[a-z0-9]+", plain))[:_LONGEST_SLUG].strip("-") or "space"
    slug, number = stem, 1
    while slug in taken:
        number += 1
        slug = f"{stem}-{number}"
    return slug


def set_site(
    session: Session, name: str, slug: str, time_zone: str, now_us: int, *, fahrenheit: bool
) -> Site:
    """Enter the household, or change what was entered.

    A new time zone holds from now on: what was done before stays on the day on which it was done.

    Raises:
        RefusedError: The name, the slug or the time zone cannot be.
    """
    name = checked_name(name, "a site")
    if len(slug) > _LONGEST_SLUG or not _SLUG.fullmatch(slug):
        raise RefusedError(
            f"a slug has up to {_LONGEST_SLUG} small letters a to z and digits,"
            " with single hyphens inside, such as larch-lane"
        )
    if time_zone not in available_timezones():
        raise RefusedError("there is no such time zone; write one such as Europe/Vienna")
    take_turn(session)
    site = places.the_site(session)
    if site is None:
        return set_up.add_site(
            session, Site(slug=slug, name=name, time_zone=time_zone, fahrenheit=fahrenheit)
        )
    site.name, site.slug = name, slug
    site.fahrenheit = fahrenheit
    places.set_zone(session, site, time_zone, now_us)
    return set_up.add_site(session, site)
