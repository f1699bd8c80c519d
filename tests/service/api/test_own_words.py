"""What a phone writes unseen into words and names neither hides, nor refuses what was meant."""

import unicodedata

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from service.api.naming import checked_name, checked_words
from service.api.refusals import RefusedError

FARMER = "\N{WOMAN}\N{ZERO WIDTH JOINER}\N{EAR OF RICE}"
HIDDEN = "dry\x00 and\x1b white\u202e\u200f\ufeff"


@given(st.text(max_size=200))
def test_words_come_out_drawn_and_the_same_again(words: str) -> None:
    shown = checked_words(words, 2_000)

    assert checked_words(shown, 2_000) == shown
    assert not any(
        unicodedata.category(sign) in {"Cc", "Cs", "Zl", "Zp"} for sign in shown.replace("\n", "")
    )


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("Trop sec\N{NO-BREAK SPACE}!", "Trop sec !"),
        ("Glas\N{SOFT HYPHEN}haus", "Glashaus"),
        ("می\N{ZERO WIDTH NON-JOINER}شود", "می\N{ZERO WIDTH NON-JOINER}شود"),
        (f"by {FARMER}", f"by {FARMER}"),
        ("one\ttwo\r\nthree \u2028four", "one two\nthree\nfour"),
        (HIDDEN, "dry and white"),
    ],
)
def test_what_a_phone_writes_is_kept_without_what_nobody_sees(written: str, kept: str) -> None:
    assert checked_words(written, 2_000) == kept


def test_words_are_counted_as_they_are_kept() -> None:
    assert checked_words("a" * 5 + "\u202e" * 5, 5) == "aaaaa"
    with pytest.raises(RefusedError, match="no more than 5 signs"):
        checked_words("a" * 6, 5)


@pytest.mark.parametrize("name", [f"Cave of {FARMER}", "Cave\N{NO-BREAK SPACE}of Anna"])
def test_a_name_from_a_phone_is_taken(name: str) -> None:
    assert checked_name(name, "a space") == name.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    "name", ["a\r\nB:c", "a\u202eb", "a\u2028b", "\N{ZERO WIDTH JOINER}", "\xa0"]
)
def test_a_name_that_breaks_or_turns_the_line_is_refused(name: str) -> None:
    with pytest.raises(RefusedError, match="on one line"):
        checked_name(name, "a space")


@pytest.mark.parametrize(
    ("path", "body", "key"),
    [
        ("/api/care", {"work": "turn", "wheel_ids": [1], "words": HIDDEN}, "words"),
        ("/api/wheels/1/gate", {"opened": True, "reason": HIDDEN}, "reason"),
        ("/api/wheels/1/end", {"how": "eaten", "words": HIDDEN}, "reason"),
        ("/api/wheels/1/observations", {"words": HIDDEN}, "words"),
    ],
)
def test_no_page_gets_signs_that_are_never_drawn(
    client: TestClient, path: str, body: dict[str, object], key: str
) -> None:
    answer = client.post(path, json={"touch": "touch-one", **body})

    told = answer.json()
    assert answer.status_code == 201
    assert (told[0] if isinstance(told, list) else told)[key].endswith("dry and white")
