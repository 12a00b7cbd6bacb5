"""A million random bytes among true frames: no reading but those that were sent whole, each of them, and in order."""

import random

from holdctl.device.framing import encode
from holdctl.device.session import NodeSession
from holdctl.events import NodeBoot, Reading

from .frames import HELLO

RANDOM_BYTES = 1_000_000
_FRAMES = b"$*\r\n=r nupt12ageh.0123456789"


def _rubbish(rng: random.Random, count: int) -> bytes:
    """Random bytes, but richer in what frames are made of."""
    some = rng.randbytes(count)
    return bytes([_FRAMES[b % len(_FRAMES)] if b & 64 else b for b in some])


def _frame(n: int, rng: random.Random) -> tuple[bytes, tuple[object, ...]]:
    temp, up = rng.randrange(-2000, 15_000) / 100, 1000 * n + rng.randrange(1000)
    age, left, ack = rng.randrange(3000), rng.randrange(5001), 0
    body = f"r n={n} up={up} t1={temp:.2f} age={age} relay={n % 2} left={left} ack={ack} bad=0 cut=0"
    return encode(body), (n, up, (temp,), age, bool(n % 2), left, ack)


def _broken(frame: bytes, rng: random.Random) -> bytes:
    """The same frame with one burst of up to sixteen bits turned, or with its tail or a piece of it gone."""
    data = bytearray(frame)
    where = rng.randrange(1, len(data) - 3)
    match rng.randrange(3):
        case 0:
            data[where] ^= 1 << rng.randrange(8)
            data[where + 1] ^= rng.randrange(256)
        case 1:
            del data[where:]
        case _:
            del data[where : where + rng.randrange(1, 4)]
    return bytes(data)


def test_among_a_million_random_bytes_no_reading_is_taken_that_was_not_sent_whole():
    rng, session = random.Random(7), NodeSession()
    session.due(0)
    assert [type(e) for e in session.receive(HELLO, 0)] == [NodeBoot]
    sent, taken, bytes_of_rubbish, n = [], [], 0, 0
    while bytes_of_rubbish < RANDOM_BYTES:
        noise = _rubbish(rng, rng.randrange(1000))
        bytes_of_rubbish += len(noise)
        n += 1
        whole, figures = _frame(n, rng)
        lost, _ = _frame(n + 30_000, rng)
        sent.append(figures)
        for piece in (noise, b"\n", whole, _broken(lost, rng), b"\n"):
            taken += [e for e in session.receive(piece, 0) if isinstance(e, Reading)]
    got = [(r.n, r.up_ms, r.temps, r.age_ms, r.relay, r.left_ms, r.ack) for r in taken]
    assert got == sent
    assert len(sent) > 1500
    assert sum(session.dropped.values()) > 3000
