import re
from binascii import crc_hqx

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.device.framing import MAX_FRAME, Splitter, encode

CHARACTERS = [chr(c) for c in range(32, 127) if chr(c) not in "$*"]
BODY = st.text(st.sampled_from(CHARACTERS), min_size=1, max_size=152)
RUBBISH = st.binary(max_size=400)
ALMOST = st.sampled_from([b"$", b"*", b"\n", b"\r\n", b"$r n=1*", b"31C3", b"$123456789*31C3", b"\x00", b" "])
FRAME = BODY.map(encode)


def crc_by_long_division(data):
    """Bit by bit from the definition of CRC-16/XMODEM: x^16 + x^12 + x^5 + 1, start 0, not reflected."""
    register = 0
    for byte in data:
        for bit in range(7, -1, -1):
            top = register >> 15 ^ byte >> bit & 1
            register = register << 1 & 0xFFFF ^ (0x1021 if top else 0)
    return register


def bodies_by_rule(data):
    """The rules of docs/node-protocol.md said once more, the slow way."""
    found = []
    for line in data.split(b"\n")[:-1]:
        whole = len(line) + 1
        match = re.fullmatch(rb"\$([\x20-\x23\x25-\x29\x2b-\x7e]+)\*([0-9A-F]{4})\r?", line)
        if match and whole <= 160 and crc_by_long_division(match[1]) == int(match[2], 16):
            found.append(match[1].decode())
    return found


def whole(data):
    splitter = Splitter()
    return splitter.feed(data), splitter.dropped


def byte_by_byte(data):
    splitter = Splitter()
    return [body for byte in data for body in splitter.feed(bytes([byte]))], splitter.dropped


def test_the_check_value_of_the_published_crc():
    # CRC-16/XMODEM, check value for "123456789": 31C3 (catalogue of parametrised CRC algorithms)
    assert encode("123456789") == b"$123456789*31C3\r\n"
    assert crc_by_long_division(b"123456789") == 0x31C3


def test_a_frame_comes_out_as_it_went_in():
    assert Splitter().feed(encode("lease n=1 re=0 ms=800")) == ["lease n=1 re=0 ms=800"]


def test_a_bare_lf_ends_a_frame_too():
    assert Splitter().feed(b"$123456789*31C3\n") == ["123456789"]


@pytest.mark.parametrize("body", ["", "a$b", "a*b", "a\tb", "a\r", "x" * 153])
def test_a_body_that_no_receiver_would_take_is_not_sent(body):
    with pytest.raises(ValueError, match="not a body"):
        encode(body)


def test_the_longest_frame_has_160_bytes_and_one_more_is_dropped():
    frame = encode("x" * 152)
    assert len(frame) == MAX_FRAME
    assert Splitter().feed(frame) == ["x" * 152]
    body = b"x" * 153
    bodies, dropped = whole(b"$%b*%04X\r\n" % (body, crc_hqx(body, 0)))
    assert (bodies, dropped) == ([], {"too long": 1})


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"r n=1*0000\r\n", "no start"),
        (b"\r\n", "no start"),
        (b"$123456789*31C4\r\n", "crc"),
        (b"$123456789*31c3\r\n", "crc"),
        (b"$123456789 31C3\r\n", "crc"),
        (b"$*0000\r\n", "characters"),
        (b"$a\tb*%04X\r\n" % crc_hqx(b"a\tb", 0), "characters"),
        (b"$a$b*%04X\r\n" % crc_hqx(b"a$b", 0), "characters"),
        (b"$" + b"a" * 500 + b"\r\n", "too long"),
    ],
)
def test_each_flaw_drops_the_line_counts_its_reason_and_leaves_the_next_frame(line, reason):
    bodies, dropped = whole(line + b"$123456789*31C3\r\n")
    assert (bodies, dropped) == (["123456789"], {reason: 1})


@given(st.lists(RUBBISH | ALMOST | FRAME, max_size=8).map(b"".join))
def test_any_stream_gives_exactly_the_frames_of_the_rules_whole_or_byte_by_byte(data):
    assert whole(data)[0] == bodies_by_rule(data)
    assert whole(data) == byte_by_byte(data)


@given(RUBBISH, FRAME)
def test_back_in_step_after_the_next_lf(rubbish, frame):
    bodies, _ = whole(rubbish + b"\n" + frame)
    assert bodies[-1:] == [frame[1:-7].decode()]


@given(BODY, st.data())
def test_a_damaged_frame_never_gives_a_body(body, data):
    """All bursts of up to 16 bits: the guarantee of a 16-bit CRC with a non-zero constant term."""
    frame = bytearray(encode(body))
    last = len(frame) - 3  # the LF and CR are not under the CRC
    start = data.draw(st.integers(8, last * 8 - 16))
    pattern = data.draw(st.integers(1, 0xFFFF))
    for bit in range(16):
        if pattern >> bit & 1:
            frame[(start + bit) // 8] ^= 0x80 >> (start + bit) % 8
    assert body not in whole(bytes(frame))[0]
    assert bodies_by_rule(bytes(frame)) == whole(bytes(frame))[0]


@given(st.lists(st.binary(max_size=3000).map(lambda raw: raw.replace(b"\n", b"")), max_size=5))
def test_what_is_kept_never_exceeds_one_frame(chunks):
    splitter = Splitter()
    for chunk in chunks:
        splitter.feed(chunk)
        assert len(splitter._kept) < MAX_FRAME


def test_after_a_read_error_the_tail_of_the_torn_frame_gives_nothing():
    splitter = Splitter()
    frame = encode("r n=1")
    splitter.feed(frame[:5])
    splitter.clear()
    assert splitter.feed(frame[5:] + frame) == ["r n=1"]
