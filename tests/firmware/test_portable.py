"""The firmware's portable part, compiled for this machine with address and undefined-behaviour sanitizers."""

import random
import subprocess
from binascii import crc_hqx

import pytest

from holdctl.device.framing import Splitter, encode
from holdctl.device.messages import fields
from tests.firmware import ntc
from tests.firmware.talk import CLEAR

RANDOM_BYTES = 1_000_000


def ask(program, *words, data=b""):
    done = subprocess.run([program, *words], input=data, capture_output=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode("ascii").splitlines()


class Portable:
    """A node without hardware, told line by line."""

    def __init__(self, program):
        self.process = subprocess.Popen(
            [program, "talk"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
        )
        self.tell("boot " + CLEAR.hex())

    def tell(self, line):
        self.process.stdin.write(line + "\n")

    def answer(self, line):
        self.tell(line)
        return self.process.stdout.readline().rstrip("\n")

    def send(self, body):
        self.tell("bytes " + encode(body).hex())

    def warm(self, one=65.0, two=70.0, count=100):
        self.tell(f"codes {count} {ntc.code(one)} {ntc.code(two)}")

    def reading(self):
        word, found = fields(*Splitter().feed(self.answer("reading").encode() + b"\n"))
        assert word == "r"
        return found

    def state(self):
        relay, latched, ack, bad, image = self.answer("state").split()
        return int(relay), int(latched), int(ack), int(bad), bytes.fromhex(image)


@pytest.fixture
def node(portable):
    made = Portable(portable)
    yield made
    made.process.stdin.close()
    made.process.stdout.close()
    assert made.process.wait(10) == 0


def test_the_crc_has_the_published_check_value(portable):
    # CRC-16/XMODEM over "123456789" (catalogue of CRC parameters, and binascii.crc_hqx)
    assert ask(portable, "crc", "123456789") == ["31C3"]


def test_a_number_is_digits_up_to_65535_and_nothing_else(portable):
    good = {"0": "0", "7": "7", "65535": "65535", "00042": "42"}
    bad = [
        "",
        "65536",
        "99999",
        "4294967296",
        "4294967297",
        "9" * 100,
        "+5",
        "-1",
        "1_0",
        "6e1",
        "0x10",
        " 1",
        "1.0",
    ]
    assert ask(portable, "numbers", *good, *bad) == [*good.values(), *["no"] * len(bad)]


def rubbish(rng, count):
    """Random bytes, but richer in what frames are made of."""
    some = rng.randbytes(count)
    frames = b"$*\r\n=lease n0123456789"
    return bytes([frames[b % len(frames)] if rng.random() < 0.3 else b for b in some])


def test_among_a_million_random_bytes_only_true_frames_come_through_and_each_next_one_does(portable):
    rng, sent, stream = random.Random(5), [], bytearray()
    while len(stream) < RANDOM_BYTES:
        stream += rubbish(rng, rng.randrange(400))
        good = encode(f"lease n={len(sent) + 1} re={rng.randrange(65536)} ms={rng.randrange(5001)}")
        flipped = bytearray(good)
        flipped[rng.randrange(len(good) - 2)] ^= 1 << rng.randrange(8)
        stream += b"\n" + good + bytes(flipped)
        sent.append(good[1:-7].decode())
    ours = Splitter()
    expected = ours.feed(bytes(stream))
    *bodies, bad = ask(portable, "split", data=bytes(stream))
    assert bodies == expected == sent
    assert int(bad) == ours.dropped.total() > 1000


@pytest.mark.parametrize("length", [151, 152, 153, 154, 300])
def test_a_line_of_160_bytes_is_the_longest(portable, length):
    body = "x" * length
    frame = b"$%b*%04X\r\n" % (body.encode(), crc_hqx(body.encode(), 0))
    expected = [body, "0"] if len(frame) <= 160 else ["1"]
    assert ask(portable, "split", data=frame) == expected


@pytest.mark.parametrize(
    "body", [b"", b"a$b", b"a*b", b"a\tb", b"a\x00b", b"a\x7fb", b"a\x80b", b"a\rb"], ids=repr
)
def test_a_body_of_other_characters_is_dropped_though_its_crc_is_true(portable, body):
    frame = b"$%b*%04X\r\n" % (body, crc_hqx(body, 0))
    good = encode("hello?")
    assert ask(portable, "split", data=frame + good) == ["hello?", "1"]


def test_whatever_million_bytes_say_only_whole_true_commands_are_obeyed(node):
    rng = random.Random(6)
    node.warm()
    n = int(node.reading()["n"])
    for number in range(1, 201):
        node.tell("bytes " + rubbish(rng, 1900).hex())
        node.send("x")
        node.send(f"lease n={number} re={n} ms=0")
        assert node.state()[2] == number
    assert node.state()[0] == 0


def test_a_lease_ends_at_its_time_across_the_wrap_of_the_clock(node):
    node.tell(f"ms {2**32 - 2000}")
    node.warm()
    n = node.reading()["n"]
    node.send(f"lease n=1 re={n} ms=3000")
    node.warm(count=200)  # 1000 ms before the wrap to 1000 ms after it
    assert node.state()[0] == 1
    assert node.reading()["left"] == "1000"
    node.warm(count=99)
    assert node.state()[0] == 1
    node.warm(count=1)
    assert node.state()[0] == 0
    assert node.reading()["left"] == "0"


def test_a_lease_answers_one_of_the_last_three_readings_of_this_boot(node):
    node.warm()
    node.send("lease n=9 re=0 ms=500")
    assert node.state()[2:4] == (0, 1)  # before any reading there is none to answer
    node.tell("n 65534")
    readings = [node.reading()["n"] for _ in range(4)]
    assert readings == ["65534", "65535", "0", "1"]
    node.send("lease n=1 re=65534 ms=500")
    assert node.state()[2:4] == (0, 2)
    for number, re in enumerate(readings[1:], 2):
        node.send(f"lease n={number} re={re} ms=500")
        assert node.state()[:3] == (1, 0, number)
    node.send("lease n=8 re=2 ms=500")
    assert node.state()[2:4] == (4, 3)


def test_lease_0_is_obeyed_whatever_it_answers_and_a_lease_beyond_the_longest_is_not(node):
    node.warm()
    n = node.reading()["n"]
    node.send(f"lease n=1 re={n} ms=5000")
    node.send(f"lease n=2 re={n} ms=5001")
    assert node.state()[:4] == (1, 0, 1, 1)
    node.send("lease n=3 re=40000 ms=0")
    assert node.state()[:4] == (0, 0, 3, 1)


BAD = [
    "lease n=0 re=0 ms=100", "lease n=65536 re=0 ms=100", "lease n=1 re=0", "lease n=1 re=0 ms=1 ms=1",
    "lease n=1 re=0 ms=+1", "lease n=1 re=0 ms=1 x", "lease n=1 re=0 ms=1 =2", "lease  n=1 re=0 ms=1",
    "lease n=1 re=0 ms=1 y=1 y=2", "Lease n=1 re=0 ms=1", "reset-cutout", "reset-cutout n=0", "on n=1",
    "fault-h", "lease n=1 re=0 ms=",
]  # fmt: skip


@pytest.mark.parametrize("body", BAD)
def test_a_command_that_does_not_parse_is_counted_and_changes_nothing(node, body):
    node.warm()
    node.reading()
    before = node.state()
    node.send(body)
    assert node.state() == (*before[:3], before[3] + 1, before[4])


def test_unknown_keys_are_ignored(node):
    node.warm()
    node.reading()
    node.send("lease later=1 n=1 re=0 ms=100 note=a=b")
    assert node.state()[:3] == (1, 0, 1)


def test_the_count_of_bad_frames_wraps_at_65536(node):
    node.tell("bad 65535")
    node.send("on n=1")
    assert node.state()[3] == 0


IMAGES = [b"\xff" * 8, bytes(8), *[CLEAR[:i] + bytes([CLEAR[i] ^ 1 << i]) + CLEAR[i + 1 :] for i in range(8)]]


@pytest.mark.parametrize("image", IMAGES, ids=bytes.hex)
def test_anything_but_the_exact_pattern_is_latched(node, image):
    node.tell("boot " + image.hex())
    node.warm()
    node.send(f"lease n=1 re={node.reading()['n']} ms=1000")
    assert node.state()[:2] == (0, 1)


def test_a_reset_takes_5_k_of_room_and_comes_three_times_a_boot(node):
    node.tell("boot " + bytes(8).hex())
    node.send("reset-cutout n=1")
    assert node.state()[1:4] == (1, 0, 1)  # no valid reading of the probes yet
    node.warm(two=91.0)
    node.send("reset-cutout n=2")
    assert node.state()[1:4] == (1, 0, 2)
    node.warm(two=89.0)
    for number in (3, 4, 5):
        node.send("reset-cutout n=" + str(number))
        assert node.state()[1:] == (0, number, 2, CLEAR)
    node.send("reset-cutout n=6")
    assert node.state()[2:4] == (5, 3)


def test_a_reset_of_the_cutout_drops_the_lease(node):
    node.warm()
    node.send(f"lease n=1 re={node.reading()['n']} ms=5000")
    assert node.state()[0] == 1
    node.send("reset-cutout n=2")
    assert node.state()[0] == 0
    assert node.reading()["left"] == "0"


def test_a_probe_at_its_limit_latches_its_own_pattern_and_no_other(node):
    node.warm(one=96.0, two=94.5)
    assert node.state()[1] == 0  # channel 1 has no limit
    node.warm(one=65.0, two=95.2)
    assert node.state()[4] == CLEAR[:4] + bytes(4)
    assert node.reading()["cut"] == "1"


def test_a_wall_too_hot_for_a_number_is_latched_too(node):
    node.warm(two=140.0)
    assert node.reading()["t2"] == "range"
    assert node.state()[1] == 1


@pytest.mark.parametrize(
    ("code", "word"), [(1023, "open"), (1015, "open"), (0, "short"), (8, "short"), (1010, "range")]
)
def test_a_broken_probe_takes_the_relay_off_and_is_named(node, code, word):
    node.warm()
    node.send(f"lease n=1 re={node.reading()['n']} ms=5000")
    assert node.state()[0] == 1
    node.tell(f"codes 100 {code} {ntc.code(70.0)}")
    assert node.state()[0] == 0
    assert node.reading()["t1"] == word


def test_open_and_short_are_not_waited_out_for_a_whole_mean(node):
    node.warm()
    node.send(f"lease n=1 re={node.reading()['n']} ms=5000")
    node.tell(f"codes 5 1023 {ntc.code(70.0)}")
    assert node.state()[0] == 0
    node.warm(count=99)
    assert node.state()[0] == 0  # and a broken probe is good again only after a whole good mean
    node.warm(count=1)
    assert node.state()[0] == 1


def test_one_bad_conversion_spoils_its_mean(node):
    node.warm()
    node.tell(f"codes 1 1023 {ntc.code(70.0)}")
    node.warm(count=99)
    assert node.reading()["t1"] == "open"


def test_a_conversion_more_than_3_s_old_reads_range(node):
    node.tell("ms 0")
    node.warm()
    node.tell("ms 3010")
    assert node.reading()["t1"] != "range"
    node.tell("ms 3011")
    assert node.reading()["t1"] == "range"
    assert node.reading()["age"] == "3001"


def test_temperatures_follow_the_published_curve(portable):
    """Rev. C of the guide (see ntc.py); its four digits are 0.01 K or so, coarser where the curve is flat."""
    temps = [t for t in ntc.CURVE if t >= 0]
    sums = [round(100 * ntc.CODES * ntc.share(ntc.R25_OHM * ntc.CURVE[t])) for t in temps]
    got = [int(line) / 100 for line in ask(portable, "centi", *map(str, sums))]
    off = {t: round(value - t, 3) for t, value in zip(temps, got, strict=True)}
    print("off the published curve, K:", off)
    assert max(map(abs, off.values())) <= 0.02


def test_every_sum_gives_a_temperature_and_more_resistance_a_lower_one(portable):
    sums = range(1, 100 * ntc.CODES, 97)
    got = [int(line) for line in ask(portable, "centi", *map(str, sums))]
    assert got == sorted(got, reverse=True)


def test_readings_and_hello_are_written_as_the_protocol_says(node):
    assert node.answer("hello")[:-5] == (
        "$hello proto=1 fw=ref-1 probes=2 maxlease=5000 cut1=none cut2=95.00 cause=reset"
    )
    node.warm(-4.0, 4.0)
    body = node.answer("reading")[1:-5]
    assert body.startswith("r n=0 up=1000 t1=-4.0")
    assert body.endswith(" age=990 relay=0 left=0 ack=0 bad=0 cut=0 fb=0")


def test_the_longest_reading_fits_a_frame(node):
    node.tell(f"ms {2**32 - 1}")
    node.tell("n 65535")
    node.tell("bad 65535")
    assert 100 < len(node.answer("reading")) <= 158
