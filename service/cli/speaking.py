"""How a command speaks to whoever typed it."""


def say(words: str) -> None:
    """One line on standard output, at once."""
    print(words, flush=True)  # noqa: T201  # the command's own voice
