"""A node written from the protocol's text alone: it imports nothing of this project.

It shares no line with the code under test, so a misreading of the protocol can't hide on both sides. It plays
for some minutes in lockstep on a pseudo-terminal, falls silent, sends rubbish, reboots, and prints what it saw as JSON.
"""

import json
import os
import random
import re
import select
import sys
import termios
import time
import tty

AMBIENT, POWER, WALL, PASTE, CONTACT, LOSS = 20.0, 200.0, 900.0, 3300.0, 8.0, 0.9


def crc16_xmodem(data: bytes) -> int:
    crc = 0
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1) ^ 0x1021 if crc & 0x8000 else crc << 1
            crc &= 0xFFFF
    return crc


def frame(body: str) -> bytes:
    return f"${body}*{crc16_xmodem(body.encode()):04X}\r\n".encode()


class Node:
    def __init__(self) -> None:
        self.master, self.slave = os.openpty()
        tty.setraw(self.slave, termios.TCSANOW)
        self.buffer = b""
        self.n = -1
        self.up = self.left = self.ack = self.bad = 0
        self.wall = self.paste = 66.0
        self.leases: list[dict[str, float]] = []
        self.hellos_asked = 0
        self.frames_with_bad_crc = 0

    def hello(self, cause: str) -> None:
        self.send(f"hello proto=1 fw=plain-1 probes=2 maxlease=5000 cut1=none cut2=95.00 cause={cause}")

    def send(self, body: str) -> None:
        os.write(self.master, frame(body))

    def reading(self, **other: str) -> None:
        self.n = (self.n + 1) % 65536
        fields = {"t1": f"{self.paste:.2f}", "t2": f"{self.wall:.2f}"} | other
        self.send(
            f"r n={self.n} up={self.up} t1={fields['t1']} t2={fields['t2']} age=120 "
            f"relay={int(self.left > 0)} left={self.left} ack={self.ack} bad={self.bad} cut=0"
        )

    def second(self) -> None:
        """One second of a two-lump warmer, relay on for what the lease allows."""
        on = min(self.left, 1000)
        self.left -= on
        self.up += 1000
        into = CONTACT * (self.wall - self.paste)
        self.wall += (POWER * on / 1000 - into - LOSS * (self.wall - AMBIENT)) / WALL
        self.paste += (into - 0.2 * (self.paste - AMBIENT)) / PASTE

    def commands(self, wait: float) -> list[dict[str, str]]:
        """Return valid commands that come within `wait` seconds, obeying each."""
        ready, _, _ = select.select([self.master], [], [], wait)
        if ready:
            self.buffer += os.read(self.master, 4096)
        *lines, self.buffer = self.buffer.split(b"\n")
        return [c for c in map(self.obey, lines) if c]

    def obey(self, line: bytes) -> dict[str, str] | None:
        match = re.fullmatch(rb"\$([^$*]*)\*([0-9A-F]{4})\r?", line)
        if not match or crc16_xmodem(match[1]) != int(match[2], 16):
            self.frames_with_bad_crc += 1
            return None
        word, *pairs = match[1].decode().split(" ")
        command = {"word": word, **dict(pair.split("=", 1) for pair in pairs)}
        if word == "hello?":
            self.hellos_asked += 1
            self.hello("power")
        if word == "lease":
            self.ack, self.left = int(command["n"]), int(command["ms"])
            self.leases.append(
                {"re": int(command["re"]), "ms": self.left, "n": self.ack, "at": time.monotonic()}
            )
        return command

    def until(self, word: str, wait: float, **wanted: int) -> bool:
        """Obey commands until one of `word` with these fields comes."""
        end = time.monotonic() + wait
        while (left := end - time.monotonic()) > 0:
            for command in self.commands(left):
                if command["word"] == word and all(int(command[k]) == v for k, v in wanted.items()):
                    return True
        return False


def play(seconds: int, silence: float) -> dict[str, object]:
    node, rng = Node(), random.Random(4)
    print(os.ttyname(node.slave), flush=True)
    said: dict[str, object] = {"asked_before_any_lease": node.until("hello?", 30.0) and not node.leases}
    answered = 0
    for _ in range(seconds):
        node.reading()
        answered += node.until("lease", 10.0, re=node.n)
        node.second()
    said |= {"answered": answered, "paste": node.paste, "wall": node.wall, "leases": len(node.leases)}
    said["longest_ms"] = max(int(lease["ms"]) for lease in node.leases)
    said["some_on"] = sum(lease["ms"] > 0 for lease in node.leases)

    quiet_from = time.monotonic()
    said["lease_0_in_silence"] = node.until("lease", silence, ms=0)
    said["silence_s"] = time.monotonic() - quiet_from
    said["lapsed_in_node"] = node.left == 0

    before = len(node.leases)
    for _ in range(200):
        os.write(node.master, bytes(rng.randrange(256) for _ in range(rng.randrange(1, 80))))
        body = (
            f"r n={node.n + 7} up={node.up} t1=12.00 t2=12.00 age=1 relay=0 left=0 ack={node.ack} bad=0 cut=0"
        )
        os.write(node.master, frame(body).replace(b"12.00", b"11.00"))
    os.write(node.master, b"\n")
    node.commands(1.0)
    said["answers_to_rubbish"] = sum(lease["ms"] > 0 for lease in node.leases[before:])
    node.up += 5000
    node.reading()
    said["in_step_after_rubbish"] = node.until("lease", 5.0, re=node.n)

    node.n, node.up, node.ack, node.left = -1, 0, 0, 0
    before = len(node.leases)
    node.hello("watchdog")
    for _ in range(5):
        node.up += 1000
        node.reading()
        node.until("lease", 5.0, re=node.n)
    fresh = node.leases[before:]
    said["after_reboot"] = [lease["re"] for lease in fresh]
    said["foreign_free"] = node.frames_with_bad_crc == 0
    return said


if __name__ == "__main__":
    print(json.dumps(play(int(sys.argv[1]), float(sys.argv[2]))), flush=True)
    time.sleep(float(sys.argv[3]))
