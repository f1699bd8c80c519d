"""What a page says to who reads it."""

import html
import re


def words_of(page: str) -> str:
    """The words of a page or a part of it, without tags, with plain blanks."""
    text = html.unescape(re.sub(r"<[^>]+>", " ", page))
    return " ".join(text.replace("\xa0", " ").replace("\u2060", "").split())
