"""Names drawn together in one phrase, in notices, in the calendar and on pages alike."""

# ruff: noqa: RUF001, RUF002, RUF003 - the reader gets a real dash

from collections.abc import Iterable, Sequence


def listed(items: Sequence[str]) -> str:
    """Items as one phrase: "a, b and c"."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def wheels_together(names: Iterable[tuple[str, str]]) -> str:
    """Wheels by batch, numbers that follow each other drawn together.

    Args:
        names: Of each wheel the name of its batch and its own label.

    Examples:
        >>> wheels_together([("Blue", "1"), ("Blue", "2"), ("Blue", "3"), ("Tomme", "T1")])
        'Blue 1–3, Tomme T1'
        >>> wheels_together([("Blue", "A1"), ("Blue", "A2"), ("Tomme", "T1"), ("Tomme", "T2")])
        'Blue A1 and A2; Tomme T1 and T2'
    """
    batches: dict[str, list[str]] = {}
    for batch, label in names:
        batches.setdefault(batch, []).append(label)
    told = {batch: _labels(labels) for batch, labels in batches.items()}
    between = "; " if any(" " in labels for labels in told.values()) else ", "
    return between.join(f"{batch} {labels}" for batch, labels in told.items())


def _labels(labels: Sequence[str]) -> str:
    """Labels in one phrase; three or more numbers that follow each other become a span."""
    numbers = [int(label) for label in labels if label.isascii() and label.isdecimal()]
    if len(numbers) == len(labels) and len(numbers) > 2:  # noqa: PLR2004 - "1–2" says less than "1 and 2"
        numbers.sort()
        if numbers == list(range(numbers[0], numbers[0] + len(numbers))):
            return f"{numbers[0]}–{numbers[-1]}"
    return listed(labels)
