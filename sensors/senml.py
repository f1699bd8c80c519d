"""SenML packs in JSON (RFC 8428): base fields applied, times made absolute, order by time.

Knows the format and nothing of what is measured; `payloads` decides what is a reading.
"""

import math
import re
from decimal import MAX_EMAX, MIN_EMIN, Context, Decimal
from functools import lru_cache
from operator import attrgetter
from typing import Any, NamedTuple

from sensors.errors import BadPayloadError
from sensors.moments import whole_us

VERSION = 10
"""The version that RFC 8428 §4.1 describes, and the default of a pack that names none."""

ABSOLUTE_FROM_S = 2**28
"""Times below are seconds from now, times from here on are seconds since 1970 (§4.5.3)."""

MAX_RECORDS = 1_000
"""Most records in a pack. Our choice: with 64 KiB a message few real packs come near."""

_Kinds = tuple[type, ...]
_TEXT: _Kinds = (str,)
_NUMBER: _Kinds = (int, Decimal)
_KINDS: dict[str, _Kinds] = {
    **dict.fromkeys(("bn", "bu", "n", "u", "vs", "vd"), _TEXT),
    **dict.fromkeys(("bt", "bv", "bs", "bver", "v", "s", "t", "ut"), _NUMBER),
    "vb": (bool,),
}
_BASE = frozenset({"bn", "bt", "bu", "bv", "bs", "bver"})
_VALUES = frozenset({"v", "vs", "vb", "vd"})

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9:./_-]*")
_BASE64URL = re.compile(r"[A-Za-z0-9_-]*")

# Fifty digits hold any double beside any time exactly, and no exponent can raise or cost.
_EXACT = Context(prec=50, Emax=MAX_EMAX, Emin=MIN_EMIN, traps=[])


class ResolvedRecord(NamedTuple):
    """One record with every base field applied (RFC 8428 §4.6).

    A named tuple, because a pack makes hundreds and a frozen dataclass takes a sixth longer
    over the whole decoding.

    Attributes:
        name: Base name and name, joined.
        unit: The record's unit, else the base unit, else None.
        time_us: When it was measured. [µs since 1970, UTC]
        is_relative: The time was given as seconds from now, so it is only as good as "now".
        value: The number, None for the other kinds and for a record with only a sum.
        text: The string value.
        flag: The boolean value.
        data: The data value, still in base64url.
        integral: The sum: the value's integral over time. [unit s]
        update_within_s: Longest time until the next record of this name. [s]
        version: The pack's version.
    """

    name: str
    unit: str | None
    time_us: int
    is_relative: bool
    value: float | None = None
    text: str | None = None
    flag: bool | None = None
    data: str | None = None
    integral: float | None = None
    update_within_s: float | None = None
    version: int = VERSION


def resolve(document: object, now_us: int) -> list[ResolvedRecord]:
    """The resolved records of a pack, in chronological order.

    Records with only base fields set these for the ones after them and give no record of
    their own. A capital E in a number is let pass, though §5 wants it small.

    Args:
        document: The pack as `strict_json.read_json` gives it: fractions as `Decimal`.
        now_us: What "now" is for relative times: when the pack came. [µs since 1970, UTC]

    Raises:
        BadPayloadError: The document is no SenML pack; the text names record and fault.

    References:
        C. Jennings et al., Sensor Measurement Lists (SenML), RFC 8428, 2018, §4-§5.
    """
    if not isinstance(document, list):
        raise BadPayloadError("a SenML pack is an array of records; this is something else")
    if not document:
        raise BadPayloadError("the SenML pack is empty")
    if len(document) > MAX_RECORDS:
        raise BadPayloadError(f"the pack has {len(document)} records; {MAX_RECORDS} is the most")
    base: dict[str, Any] = {}
    resolved: list[ResolvedRecord] = []
    for position, record in enumerate(document, 1):
        try:
            _check(record)
            if not _BASE.isdisjoint(record):
                _take_base(base, record, is_first=position == 1)
            if not _VALUES.isdisjoint(record) or "s" in record:
                resolved.append(_resolve_one(record, base, now_us))
            elif not record.keys() & _BASE or record.keys() & (_KINDS.keys() - _BASE):
                raise BadPayloadError("it has no value")
        except ValueError as error:
            raise BadPayloadError(f"record {position} of the pack: {error}") from None
    resolved.sort(key=attrgetter("time_us"))
    return resolved


def _check(record: object) -> None:
    if not isinstance(record, dict):
        raise BadPayloadError("it is not an object")
    for label, value in record.items():
        kinds = _KINDS.get(label)
        if kinds is None:
            # Unknown fields are ignored, except those that say they must not be (§4.4).
            if label.endswith("_"):
                raise BadPayloadError(f"the field {label[:40]!r} must be understood and is not")
        elif type(value) not in kinds:
            kind = {_TEXT: "text", _NUMBER: "a number"}.get(kinds, "true or false")
            raise BadPayloadError(f"the field {label!r} must be {kind}")


def _take_base(base: dict[str, Any], record: dict[str, Any], *, is_first: bool) -> None:
    """Carry the record's base fields on; one version holds for the whole pack (§4.4)."""
    for label in _BASE & record.keys():
        value = record[label]
        if label == "bver":
            if value > VERSION:
                raise BadPayloadError(f"its version is above {VERSION}, the one known here")
            if value < 1 or value != int(value):
                raise BadPayloadError("the version must be a positive whole number")
            if not is_first and value != base.get("bver", VERSION):
                raise BadPayloadError("its version differs from that of the records before it")
            value = int(value)
        base[label] = value


def _resolve_one(record: dict[str, Any], base: dict[str, Any], now_us: int) -> ResolvedRecord:
    if len(_VALUES & record.keys()) > 1:
        raise BadPayloadError("it has more than one value")
    name = base.get("bn", "") + record.get("n", "")
    _check_name(name)
    time_us, is_relative = _time(base.get("bt", 0), record.get("t", 0), now_us)
    value = _sum(base.get("bv"), record["v"]) if "v" in record else None
    data = record.get("vd")
    if data is not None and (not _BASE64URL.fullmatch(data) or len(data) % 4 == 1):
        raise BadPayloadError("its data value is not base64url without padding")
    return ResolvedRecord(
        name=name,
        unit=record.get("u", base.get("bu")),
        time_us=time_us,
        is_relative=is_relative,
        value=value,
        text=record.get("vs"),
        flag=record.get("vb"),
        data=data,
        integral=_sum(base.get("bs"), record.get("s")),
        update_within_s=_sum(None, record.get("ut")),
        version=base.get("bver", VERSION),
    )


@lru_cache(maxsize=1024)
def _check_name(name: str) -> None:
    if not name:
        raise BadPayloadError("it has neither a name nor a base name")
    if not _NAME.fullmatch(name):
        raise BadPayloadError(
            f"the name {name[:60]!r} must start with a letter or digit and hold only letters,"
            " digits and - : . / _"
        )


def _time(base_s: int | Decimal, offset_s: int | Decimal, now_us: int) -> tuple[int, bool]:
    """When the record was measured, and whether that hangs on "now" (§4.5.3)."""
    if isinstance(base_s, int) and isinstance(offset_s, int):
        total_s: int | Decimal = base_s + offset_s
    else:
        total_s = _EXACT.add(Decimal(base_s), Decimal(offset_s))
    time_us = whole_us(total_s)
    if total_s < ABSOLUTE_FROM_S:
        return now_us + time_us, True
    return time_us, False


def _sum(base: int | Decimal | None, own: int | Decimal | None) -> float | None:
    """Base and own number added exactly, then rounded once; None when neither is there."""
    if base is None:
        if own is None:
            return None
        total: int | Decimal = own
    else:
        total = base if own is None else _EXACT.add(Decimal(base), Decimal(own))
    return double(total)


def double(number: int | Decimal) -> float:
    """The double nearest to a number of JSON.

    Raises:
        BadPayloadError: The number is beyond every double.
    """
    try:
        value = float(number)
    except OverflowError:
        value = math.inf
    if math.isinf(value):
        raise BadPayloadError("a number is too large")
    return value
