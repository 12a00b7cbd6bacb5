import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.device import messages
from holdctl.events import NodeBoot, ProbeFault, Reading

R = "r n=7 up=7000 t1=65.25 t2=open age=250 relay=1 left=800 ack=6 bad=0 cut=0"
HELLO = "hello proto=1 fw=0.3 probes=2 maxlease=5000 cut1=none cut2=95.00 cause=watchdog"


def reading(body, probes=2):
    word, found = messages.fields(body)
    assert word == "r"
    return messages.reading(found, probes)


def hello(body):
    return messages.hello(messages.fields(body)[1])


def test_a_reading_says_what_the_protocol_says():
    expected = Reading(7, 7000, (65.25, ProbeFault.OPEN), 250, True, 800, 6, 0, False, None)
    assert reading(R) == expected


@pytest.mark.parametrize(("text", "seen"), [(" fb=0", False), (" fb=1", True), ("", None)])
def test_contact_feedback_is_optional(text, seen):
    assert reading(R + text).feedback is seen


def test_one_temperature_for_each_fitted_probe_and_no_more():
    assert reading(R, probes=1).temps == (65.25,)
    with pytest.raises(messages.InvalidBodyError):
        reading(R, probes=3)


def test_unknown_keys_are_ignored():
    assert reading(R + " lux=3 fan=on") == reading(R)


@pytest.mark.parametrize("key", ["n", "up", "t1", "t2", "age", "relay", "left", "ack", "bad", "cut"])
def test_a_missing_required_key_makes_a_reading_invalid(key):
    body = " ".join(part for part in R.split(" ") if not part.startswith(f"{key}="))
    with pytest.raises(messages.InvalidBodyError):
        reading(body)


@pytest.mark.parametrize("key", ["proto", "fw", "probes", "maxlease", "cut1", "cut2", "cause"])
def test_a_missing_required_key_makes_a_hello_invalid(key):
    body = " ".join(part for part in HELLO.split(" ") if not part.startswith(f"{key}="))
    with pytest.raises(messages.InvalidBodyError):
        hello(body)


PYTHON_NUMBERS = ["nan", "inf", "-inf", "1e1", "1_0", "+1", " 1", "1.", ".5", "0x1", "", "-"]


@pytest.mark.parametrize("text", [*PYTHON_NUMBERS, "65", "65.2", "65.250", "12345.00", "Open"])
def test_a_temperature_has_two_decimals_or_a_word_for_its_fault(text):
    with pytest.raises(messages.InvalidBodyError):
        reading(R.replace("65.25", text))


@pytest.mark.parametrize("text", [*PYTHON_NUMBERS, "-1", "65536", "1" * 140])
def test_a_count_is_decimal_and_within_its_range(text):
    with pytest.raises(messages.InvalidBodyError):
        reading(R.replace("n=7", f"n={text}"))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("up=7000", "up=4294967296"),
        ("left=800", "left=5001"),
        ("ack=6", "ack=65536"),
        ("bad=0", "bad=65536"),
        ("relay=1", "relay=2"),
        ("cut=0", "cut=true"),
        ("age=250", "age=-1"),
        ("t1=65.25", "t1=65.25 t1=66.25"),
        ("t1=65.25", "t1"),
        ("t1=65.25", "=65.25"),
        (" t1=", "  t1="),
    ],
)
def test_one_field_that_does_not_parse_makes_the_whole_reading_invalid(old, new):
    with pytest.raises(messages.InvalidBodyError):
        reading(R.replace(old, new))


def test_a_hello_says_what_the_node_guarantees():
    assert hello(HELLO) == NodeBoot("0.3", 2, 5000, (None, 95.0), "watchdog", asked=True)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("probes=2", "probes=0"),
        ("probes=2", "probes=5"),
        ("maxlease=5000", "maxlease=5001"),
        ("maxlease=5000", "maxlease=0"),
        ("cut2=95.00", "cut2=hot"),
        ("cut2=95.00", "cut2=nan"),
        ("cut2=95.00", "cut2=-5.00"),
        ("cause=watchdog", "cause=boredom"),
        ("fw=0.3", "fw="),
    ],
)
def test_a_hello_outside_its_ranges_is_invalid(old, new):
    with pytest.raises(messages.InvalidBodyError):
        hello(HELLO.replace(old, new))


def test_another_version_of_the_protocol_is_told_apart():
    with pytest.raises(messages.ForeignProtocolError, match="2"):
        hello(HELLO.replace("proto=1", "proto=2"))


@given(st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=150), st.integers(1, 4))
def test_no_body_raises_anything_but_invalid(text, probes):
    for body in (text, "r " + text, R + " " + text, HELLO + " " + text):
        try:
            _, found = messages.fields(body)
            messages.reading(found, probes)
            messages.hello(found)
        except messages.InvalidBodyError:
            pass


def test_commands_are_written_as_the_protocol_says():
    assert messages.lease(5, re=7, ms=800) == "lease n=5 re=7 ms=800"
    assert messages.reset_cutout(6) == "reset-cutout n=6"
