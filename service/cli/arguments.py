"""What may stand on the command line, checked before any work begins."""

import argparse
from pathlib import Path

# Imports wait until they are needed, as in all commands.
# ruff: noqa: PLC0415


def port(text: str) -> int:
    """A port, from 1 to 65535."""
    port = int(text) if text.isdecimal() else 0
    if not 1 <= port <= 65535:  # noqa: PLR2004  # the ports that there are
        raise argparse.ArgumentTypeError(f"{text!r} is no port; give one from 1 to 65535")
    return port


def speed(text: str) -> float:
    """How many seconds pass in one."""
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not 0 < speed <= 100_000:  # noqa: PLR2004  # a day a second; our choice
        raise argparse.ArgumentTypeError(f"{text!r} is no speed; give a number above 0")
    return speed


def pack(text: str) -> int:
    """How many readings one message holds."""
    from sensors.replay import MAX_PACK

    count = int(text) if text.isdecimal() else 0
    if not 1 <= count <= MAX_PACK:
        raise argparse.ArgumentTypeError(f"{text!r} readings do not fit; give 1 to {MAX_PACK}")
    return count


def topic_level(text: str) -> str:
    """A name that may be one level of a topic."""
    from sensors.topics import topic_of

    try:
        topic_of(text, text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    return text


def salt(text: str) -> tuple[str, Path]:
    """A salt and the file of its test."""
    name, separator, file = text.partition("=")
    if not (name and separator and file):
        raise argparse.ArgumentTypeError(f"{text!r} is not NAME=FILE, for example NaCl=salt.csv")
    return name, Path(file)
