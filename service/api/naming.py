"""Names that a maker gives, the slugs made from them, and the household's own entry."""

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


def checked_name(name: str, of: str) -> str:
    """A name without blanks around it, in one Unicode form.

    Raises:
        RefusedError: It is empty, too long or cannot be printed.
    """
    name = unicodedata.normalize("NFC", name).strip()
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise RefusedError(f"the name of {of} has 1 to {_LONGEST_NAME} signs, on one line")
    return name


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


def set_site(session: Session, name: str, slug: str, time_zone: str, *, fahrenheit: bool) -> Site:
    """Enter the household, or change what was entered.

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
    site.time_zone, site.fahrenheit = time_zone, fahrenheit
    return set_up.add_site(session, site)
