"""docs/node-protocol.md shows frames; they must be frames, and mean what stands beside them."""

from pathlib import Path

from holdctl.device import messages
from holdctl.device.framing import Splitter
from holdctl.device.session import NodeSession
from holdctl.events import NodeBoot, Reading

DOCUMENT = Path(__file__).parents[2] / "docs" / "node-protocol.md"
TEXT = DOCUMENT.read_text(encoding="utf-8")
FRAMES = [line for line in TEXT.splitlines() if line.startswith("$") and line != "$ body * CRC CR LF"]


def test_every_frame_shown_is_valid():
    assert len(FRAMES) >= 5
    for line in FRAMES:
        assert len(Splitter().feed(line.encode() + b"\r\n")) == 1


def test_the_exchange_shown_is_what_a_host_says_and_understands():
    question, hello, first, lease, second = FRAMES
    session = NodeSession()
    assert session.due(0).decode().strip() == question
    (boot,) = session.receive(hello.encode() + b"\r\n", 10)
    assert isinstance(boot, NodeBoot) and boot.cutouts_c == (None, 95.0)
    (reading,) = session.receive(first.encode() + b"\r\n", 20)
    assert session.lease(reading.n, 800).decode().strip() == lease
    (answer,) = session.receive(second.encode() + b"\r\n", 1020)
    assert isinstance(answer, Reading) and answer.ack == 1


def test_every_key_of_a_reading_and_a_hello_is_described():

    for line in FRAMES:
        for key in messages.fields(Splitter().feed(line.encode() + b"\n")[0])[1]:
            assert f"`{key}`" in TEXT or key in ("t2", "cut2"), key
