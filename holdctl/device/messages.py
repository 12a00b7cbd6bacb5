"""What the words of the line protocol mean: bodies of frames to events, commands to bodies. No I/O.

Strict on purpose: a number that Python would take but the protocol does not write (`1_0`, `+5`, `nan`, `6e1`)
makes the whole frame invalid, as does a missing key. Unknown keys are ignored.
"""

import re

from holdctl.events import MAX_PROBES, NodeBoot, ProbeFault, Reading

PROTOCOL = 1
LONGEST_LEASE_MS = 5000
HELLO_QUESTION = "hello?"

_FAULTS = {fault.value: fault for fault in ProbeFault}
_CAUSES = frozenset({"power", "watchdog", "brownout", "reset"})
_BIT = {"0": False, "1": True}
_TEMPS = tuple(f"t{i}" for i in range(1, MAX_PROBES + 1))
_UINT16 = 0xFFFF
_UINT32 = 0xFFFF_FFFF
_TWO_DECIMALS = re.compile(r"-?[0-9]{1,4}\.[0-9]{2}").fullmatch
_LIMIT = re.compile(r"[0-9]{1,4}(\.[0-9]{1,2})?").fullmatch


class InvalidBodyError(ValueError):
    """The frame was whole but its body is not one of the protocol's; it is dropped."""


class ForeignProtocolError(InvalidBodyError):
    """A hello of another version of the protocol; carries the version's text."""


def fields(body: str) -> tuple[str, dict[str, str]]:
    """Return a body's word and its fields. Raises InvalidBodyError for any other shape."""
    word, *pairs = body.split(" ")
    try:
        found = dict([pair.split("=", 1) for pair in pairs])
    except ValueError:
        raise InvalidBodyError(f"a field without = in {body!r}") from None
    if len(found) != len(pairs) or "" in found:
        raise InvalidBodyError(f"a key twice or none in {body!r}")
    return word, found


def reading(found: dict[str, str], probes: int) -> Reading:
    """Return the reading in the fields of an `r`, for a node with `probes` fitted.

    Raises InvalidBodyError for a missing key or a value out of its range.
    """
    try:
        feedback = found.get("fb")
        return Reading(
            n=_count(found["n"], _UINT16),
            up_ms=_count(found["up"], _UINT32),
            temps=tuple([_celsius(found[key]) for key in _TEMPS[:probes]]),
            age_ms=_count(found["age"], _UINT32),
            relay=_BIT[found["relay"]],
            left_ms=_count(found["left"], LONGEST_LEASE_MS),
            ack=_count(found["ack"], _UINT16),
            bad=_count(found["bad"], _UINT16),
            cut=_BIT[found["cut"]],
            feedback=None if feedback is None else _BIT[feedback],
        )
    except KeyError as error:
        raise InvalidBodyError(f"missing or wrong: {error}") from None


def hello(found: dict[str, str]) -> NodeBoot:
    """Return the node's introduction (as asked for) from the fields of a `hello`.

    Raises ForeignProtocolError for another protocol version, InvalidBodyError for anything else wrong.
    """
    try:
        if found["proto"] != str(PROTOCOL):
            raise ForeignProtocolError(found["proto"])
        probes = _between(found["probes"], 1, MAX_PROBES)
        if found["cause"] not in _CAUSES or not found["fw"]:
            raise InvalidBodyError("unknown cause of boot, or no firmware version")
        return NodeBoot(
            firmware=found["fw"],
            probes=probes,
            max_lease_ms=_between(found["maxlease"], 1, LONGEST_LEASE_MS),
            cutouts_c=tuple(_cutout(found[f"cut{i}"]) for i in range(1, probes + 1)),
            cause=found["cause"],
        )
    except KeyError as error:
        raise InvalidBodyError(f"missing: {error}") from None


def lease(number: int, re: int, ms: int) -> str:
    """Return the body that lets the relay be on for `ms` from now, answering reading `re`."""
    return f"lease n={number} re={re} ms={ms}"


def reset_cutout(number: int) -> str:
    """Return the body that asks the node to clear its latched cut-out."""
    return f"reset-cutout n={number}"


def _celsius(text: str) -> float | ProbeFault:
    if _TWO_DECIMALS(text):
        return float(text)
    return _FAULTS[text]


def _cutout(text: str) -> float | None:
    if text == "none":
        return None
    if not _LIMIT(text):
        raise InvalidBodyError(f"not a cut-out: {text!r}")
    return float(text)


def _count(text: str, highest: int) -> int:
    if text.isdecimal() and (value := int(text)) <= highest:  # int() alone takes +5 and 1_0 too
        return value
    raise InvalidBodyError(f"not a count up to {highest}: {text!r}")


def _between(text: str, lowest: int, highest: int) -> int:
    value = _count(text, highest)
    if value < lowest:
        raise InvalidBodyError(f"not between {lowest} and {highest}: {text!r}")
    return value
