import errno
import fcntl
import os
import socket
import struct
import termios
import tty

import pytest
import serial

from holdctl.device.port import MAX_READ, READ_WAIT_MS, Port, _lost, _refused
from holdctl.errors import ConfigError, LinkError

TIOCGEXCL = 0x80045440  # linux/asm-generic/ioctls.h: _IOR('T', 0x40, int)


@pytest.fixture
def pty():
    """The master's descriptor, the slave's (kept open), and the slave's path."""
    master, slave = os.openpty()
    tty.setraw(slave)
    yield master, slave, os.ttyname(slave)
    for descriptor in (master, slave):
        try:
            os.close(descriptor)
        except OSError as error:  # the test has unplugged it
            assert error.errno == errno.EBADF


@pytest.fixture
def port(pty):
    opened = Port(pty[2], 115200)
    yield opened
    opened.close()


def is_exclusive(descriptor):
    return struct.unpack("i", fcntl.ioctl(descriptor, TIOCGEXCL, b"\0\0\0\0"))[0] == 1


def read_all(port, wanted):
    got = b""
    while len(got) < wanted:
        piece = port.read()
        assert 0 < len(piece) <= MAX_READ
        got += piece
    return got


def test_every_byte_value_crosses_both_ways_unchanged(pty, port):
    every = bytes(range(256))
    os.write(pty[0], every)
    assert read_all(port, 256) == every
    port.write(every)
    assert os.read(pty[0], 512) == every


def test_a_quiet_line_gives_nothing_after_a_bounded_wait(port):
    assert READ_WAIT_MS <= 200
    assert port.read() == b""


def test_a_flood_is_read_in_bounded_pieces(pty, port):
    flood = b"x" * 4000
    os.write(pty[0], flood)
    assert read_all(port, len(flood)) == flood


def test_an_open_port_is_barred_by_lock_and_by_flag_until_closed(pty):
    port = Port(pty[2], 115200)
    assert is_exclusive(pty[1])
    with pytest.raises(LinkError, match="in use by another program"):
        Port(pty[2], 115200)
    port.close()
    assert not is_exclusive(pty[1])
    Port(pty[2], 115200).close()


def test_a_port_that_someone_else_locked_is_busy(pty):
    with serial.Serial(pty[2], exclusive=True), pytest.raises(LinkError, match="in use by another program"):
        Port(pty[2], 115200)


def test_a_port_that_someone_else_flagged_is_busy():
    # the kernel lets root in in spite of the flag, so the error itself is given
    assert "in use by another program" in _refused("/dev/ttyX", OSError(errno.EBUSY, "busy"))


def test_an_unplugged_port_is_one_link_error_for_reading(pty, port):
    os.close(pty[0])
    with pytest.raises(LinkError, match="check its plug"):
        port.read()


def test_an_unplugged_port_is_one_link_error_for_writing(pty, port):
    os.close(pty[0])
    with pytest.raises(LinkError, match="check its plug"):
        port.write(b"x")


@pytest.mark.parametrize("error", [serial.SerialException("x"), OSError(5, "x"), termios.error(5, "x")])
@pytest.mark.parametrize("call", ["read", "write"])
def test_all_three_families_of_a_pulled_plug_become_one(port, monkeypatch, error, call):
    def fails(*_):
        raise error

    monkeypatch.setattr(port._serial, call, fails)
    with pytest.raises(LinkError, match="lost"):
        getattr(port, call)(*([b"x"] if call == "write" else []))


def test_an_unplugged_port_closes_without_a_word_and_twice(pty, port):
    os.close(pty[0])
    port.close()
    port.close()


def test_a_node_that_takes_nothing_is_a_link_error_in_bounded_time(port):
    with pytest.raises(LinkError, match="takes no more bytes"):
        port.write(b"x" * 100_000)


def test_a_missing_port_is_said_with_the_ports_that_are_there(monkeypatch):
    class There:
        device = "/dev/ttyACM7"

    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: [There()])
    with pytest.raises(LinkError, match=r"no port /dev/nothing-here.*there: /dev/ttyACM7;.*--port"):
        Port("/dev/nothing-here", 115200)
    monkeypatch.setattr("serial.tools.list_ports.comports", list)
    with pytest.raises(LinkError, match="plug the node in"):
        Port("/dev/nothing-here", 115200)


def test_a_port_without_permission_says_whom_to_ask():
    assert "group" in _refused("/dev/ttyX", OSError(errno.EACCES, "denied"))


def test_a_file_is_not_a_serial_port(tmp_path):
    file = tmp_path / "notes.txt"
    file.write_text("flour")
    with pytest.raises(LinkError, match="can't be used as a serial port"):
        Port(str(file), 115200)
    assert file.read_text() == "flour"


@pytest.mark.parametrize(
    ("url", "baud"),
    [
        ("carrier://pigeon", 115200),
        ("/dev/null", -1),
        ("", 9600),
        ("socket://", 9600),
        ("socket://host", 9600),
    ],
)
def test_an_impossible_url_or_speed_is_wrong_input(url, baud):
    with pytest.raises(ConfigError, match="device path"):
        Port(url, baud)


def test_a_socket_url_reads_writes_and_ends_as_a_link_error():
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = Port(f"socket://127.0.0.1:{server.getsockname()[1]}", 115200)
        peer, _ = server.accept()
        with peer:
            peer.sendall(b"$123456789*31C3\r\n")
            assert read_all(port, 17) == b"$123456789*31C3\r\n"
            assert port.read() == b""
            port.write(b"hello")
            assert peer.recv(100) == b"hello"
        with pytest.raises(LinkError):
            port.read()
        port.close()


def test_a_socket_that_nobody_serves_says_so():
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
    with pytest.raises(LinkError, match="does not answer"):
        Port(url, 115200)


def test_every_sentence_is_one_line_and_says_what_to_do_next():
    for sentence in (
        _lost("/dev/ttyX", OSError(5, "gone")),
        _refused("/dev/ttyX", OSError(errno.EACCES, "denied")),
        _refused("/dev/ttyX", OSError(errno.EBUSY, "busy")),
        _refused("socket://a:1", OSError("refused")),
    ):
        assert "\n" not in sentence
        assert ": " in sentence and sentence.endswith(".")
