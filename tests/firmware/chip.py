"""An ATmega328P in an emulator (libsimavr 1.6, GPL-3, loaded for tests only), seen from outside: pins, volts, bytes.

The structures' layout is that of libsimavr 1.6 and is checked after loading.
"""

import ctypes as c
import random
import subprocess
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

from tests.firmware import ntc

HZ = 16_000_000
ERASED = b"\xff" * 1024
_BYTE = HZ // 11_520
_SPAN = 16_000
_STRETCH = HZ // 10
_NOISES = 65_536
_ADC_TRIGGER = 18
_FRAMING_ERROR = 0x8000
_MILLIVOLTS = [-(-code * 5000 // 1023) for code in range(ntc.CODES)]
"""What makes the emulated converter, which reckons mV * 1023 / 5000 and cuts off, say each code."""
_u8, _u16, _u32, _u64, _ptr = c.c_uint8, c.c_uint16, c.c_uint32, c.c_uint64, c.c_void_p


class _Avr(c.Structure):
    _fields_ = [
        ("mmcu", c.c_char_p), ("ioend", _u16), ("ramend", _u16), ("flashend", _u32), ("e2end", _u32), ("vs", _u8),
        ("sig", _u8 * 3), ("fuse", _u8 * 6), ("lock", _u8), ("rampz", _u16), ("eind", _u16), ("asz", _u8),
        ("rf", _u32 * 4), ("codeend", _u32), ("state", c.c_int), ("frequency", _u32), ("vcc", _u32), ("avcc", _u32),
        ("aref", _u32), ("cycle", _u64), ("rcc", _u64), ("run_cycle_limit", _u64), ("sleep_usec", _u32),
        ("time_base", _u64), ("init", _ptr), ("reset", _ptr), ("custom", _ptr * 3), ("run", _ptr), ("sleep", _ptr),
    ]  # fmt: skip


class _Eeprom(c.Structure):
    _fields_ = [("ee", _ptr), ("offset", _u16), ("size", _u32)]


class _Inputs(c.Structure):
    _fields_ = [
        ("raise_irq", _ptr), ("irq", _ptr * 8), ("codes", c.c_double * 8), ("noise", c.c_double * _NOISES),
        ("millivolts", _u32 * ntc.CODES), ("conversions", _u64),
    ]  # fmt: skip


_Notify = c.CFUNCTYPE(None, _ptr, _u32, _ptr)
_Log = c.CFUNCTYPE(None, _ptr, c.c_int, c.c_char_p, _ptr)


def _io(name: str) -> int:
    return int.from_bytes(name.encode(), "big")


def _library() -> c.CDLL:
    lib = c.CDLL("libsimavr.so.2")
    lib.avr_make_mcu_by_name.restype = c.POINTER(_Avr)
    lib.avr_io_getirq.restype = _ptr
    lib.avr_io_getirq.argtypes = [c.POINTER(_Avr), _u32, c.c_int]
    lib.avr_raise_irq.argtypes = [_ptr, _u32]
    lib.avr_irq_register_notify.argtypes = [_ptr, _ptr, _ptr]
    lib.avr_cycle_timer_register.argtypes = [c.POINTER(_Avr), _u64, _ptr, _ptr]
    lib.avr_core_watch_read.restype = _u8
    lib.avr_core_watch_read.argtypes = [c.POINTER(_Avr), _u16]
    lib.avr_core_watch_write.restype = None
    lib.avr_core_watch_write.argtypes = [c.POINTER(_Avr), _u16, _u8]
    lib.avr_global_logger_set(_SILENT)
    return lib


@cache
def _noise(seed: int, noise_codes: float) -> "c.Array[c.c_double]":
    """Noise around half a step, since the real converter rounds and the one in outside.c cuts off."""
    rng = random.Random(seed)
    return (c.c_double * _NOISES)(*[rng.gauss(0.5, noise_codes) for _ in range(_NOISES)])


@cache
def _outside() -> c.CDLL:
    """Build outside.c and load it."""
    with tempfile.TemporaryDirectory() as folder:
        built = Path(folder) / "outside.so"
        source = Path(__file__).with_name("outside.c")
        subprocess.run(["cc", "-O2", "-shared", "-fPIC", "-Wall", "-Werror", "-o", built, source], check=True)
        lib = c.CDLL(str(built))
    lib.run_until.argtypes = [_ptr, _ptr, _ptr, _ptr, _u64]
    return lib


_SILENT = _Log(lambda _avr, _level, _format, _args: None)


class Chip:
    """One chip with its firmware, from power-on. `noise_codes` (sd, steps of the converter) is added to
    each single conversion."""

    def __init__(self, elf: Path, eeprom: bytes = ERASED, *, noise_codes: float = 0.8, seed: int = 1) -> None:
        self.sent = bytearray()
        """What the chip has sent and nobody has taken yet."""
        self.edges: list[tuple[int, int]] = []
        """(cycle, level) of each change of the relay's pin."""
        self.welded = False
        """The relay's contact stays closed whatever the pin does."""
        self.on_edge: Callable[[int], None] = lambda _level: None
        self._errors: list[BaseException] = []
        self._waiting = bytearray()
        self._next_byte = 0
        self._there = c.c_int(0)
        self._lib, self._out = _library(), _outside()
        self._avr = self._load(elf)
        self._inputs = _Inputs(millivolts=(_u32 * ntc.CODES)(*_MILLIVOLTS), noise=_noise(seed, noise_codes))
        self._irqs()
        self.temps(20.0, 20.0)
        self._write_eeprom(eeprom)

    @property
    def cycle(self) -> int:
        return int(self._avr.contents.cycle)

    @property
    def seconds(self) -> float:
        return self.cycle / HZ

    @property
    def conversions(self) -> int:
        return int(self._inputs.conversions)

    @property
    def relay(self) -> int:
        return self.edges[-1][1] if self.edges else 0

    @property
    def eeprom(self) -> bytes:
        """The EEPROM as it is at this very moment."""
        held = _Eeprom(None, 0, 1024)
        self._lib.avr_ioctl(self._avr, _io("eegp"), c.byref(held))
        return c.string_at(held.ee, 1024)

    @property
    def slept(self) -> int:
        """Cycles for which the processor slept, all chips of this process taken together."""
        return c.c_uint64.in_dll(self._out, "slept").value

    def byte(self, at: int) -> int:
        """A byte of its memory."""
        return int(self._lib.avr_core_watch_read(self._avr, at))

    def put(self, at: int, value: int) -> None:
        """Write a byte of its memory."""
        self._lib.avr_core_watch_write(self._avr, at, value)

    def temps(self, *temps_c: float) -> None:
        """Put the probes at these temperatures."""
        for channel, temp in enumerate(temps_c):
            self.convert(channel, ntc.exact_code(temp))

    def convert(self, channel: int, code: float) -> None:
        """Make the converter see this code, noise apart, on a channel from 0."""
        self._inputs.codes[channel] = code

    def feed(self, data: bytes) -> None:
        """Queue bytes for the chip's receiver; they arrive at 115200 baud."""
        self._waiting += data

    def burst(self, data: bytes, *, framing_error: bool = False) -> None:
        """Throw bytes at the receiver all at once."""
        for byte in data:
            self._lib.avr_raise_irq(self._receive, byte | (_FRAMING_ERROR if framing_error else 0))

    def reset(self) -> None:
        """Press the reset button."""
        self._lib.avr_reset(self._avr)

    def run(self, seconds: float) -> None:
        """Let the chip run on for this long; raises what went wrong in a callback, or when it has stopped."""
        self.run_to(self.cycle + round(seconds * HZ))

    def run_to(self, end: int) -> None:
        avr, lib = self._avr.contents, self._lib
        cycle = c.addressof(avr) + _Avr.cycle.offset
        while (now := avr.cycle) < end:
            goal = self._feed(now, min(end, now + _STRETCH))
            self._there.value = 0
            lib.avr_cycle_timer_register(self._avr, goal - now, self._out.arrive, c.addressof(self._there))
            avr.run_cycle_limit = _SPAN  # a reset puts it back to 1: slow, until here again
            if self._out.run_until(lib.avr_run, self._avr, c.addressof(self._there), cycle, goal):
                raise RuntimeError("the firmware has stopped")
            if self._errors:
                raise self._errors.pop()

    def lines(self) -> list[bytes]:
        """Take the whole lines that the chip has sent."""
        *whole, rest = bytes(self.sent).split(b"\n")
        self.sent[:] = rest
        return [line + b"\n" for line in whole]

    def on_time(self, start: int, end: int) -> int:
        """How long the relay's pin was high between two cycles, in cycles."""
        total, level, since = 0, 0, start
        for cycle, new in self.edges:
            if cycle >= end:
                break
            if level and cycle > since:
                total += cycle - since
            level, since = new, max(cycle, start)
        return total + (end - since if level else 0)

    def _feed(self, now: int, end: int) -> int:
        """Give the receiver its next byte if it is time; return the cycle up to which nothing more is to be done."""
        if not self._waiting:
            return end
        if now >= self._next_byte:
            self._lib.avr_raise_irq(self._receive, self._waiting.pop(0))
            self._next_byte = now + _BYTE
        return min(end, self._next_byte) if self._waiting else end

    def _load(self, elf: Path) -> "c._Pointer[_Avr]":
        lib = self._lib
        firmware = c.create_string_buffer(16_384)
        if lib.elf_read_firmware(str(elf).encode(), firmware) != 0:
            raise RuntimeError(f"can't load {elf}")
        c.memmove(c.addressof(firmware) + 64, (_u32 * 4)(HZ, 5000, 5000, 5000), 16)
        avr = lib.avr_make_mcu_by_name(b"atmega328p")
        lib.avr_init(avr)
        lib.avr_load_firmware(avr, firmware)
        seen = avr.contents
        assert (seen.frequency, seen.ramend, seen.avcc) == (HZ, 0x8FF, 5000), "another libsimavr than 1.6?"
        seen.sleep = c.cast(self._out.asleep, _ptr)  # the default one sleeps in real time
        lib.avr_ioctl(avr, _io("uas0"), c.byref(_u32(0)))
        return avr

    def _irqs(self) -> None:
        lib, avr = self._lib, self._avr
        self._receive = lib.avr_io_getirq(avr, _io("uar0"), 0)
        self._feedback = lib.avr_io_getirq(avr, _io("iogD"), 4)  # not 2: a low INT0 is polled every cycle
        self._inputs.raise_irq = c.cast(lib.avr_raise_irq, _ptr)
        for channel in range(8):
            self._inputs.irq[channel] = lib.avr_io_getirq(avr, _io("adc "), channel)
        self._kept = [_Notify(self._guard(act)) for act in (self._said, self._switched)]
        sources = [lib.avr_io_getirq(avr, _io("uar0"), 1), lib.avr_io_getirq(avr, _io("iogB"), 0)]
        for source, notify in zip(sources, self._kept, strict=True):
            lib.avr_irq_register_notify(source, c.cast(notify, _ptr), None)
        trigger = lib.avr_io_getirq(avr, _io("adc "), _ADC_TRIGGER)
        lib.avr_irq_register_notify(trigger, c.cast(self._out.converting, _ptr), c.addressof(self._inputs))

    def _guard(self, act: Callable[[int], None]) -> Callable[[object, int, object], None]:
        """An exception in a callback would only be printed: keep it for `run`."""

        def notify(_irq: object, value: int, _param: object) -> None:
            try:
                act(value)
            except BaseException as error:
                self._errors.append(error)

        return notify

    def _said(self, value: int) -> None:
        self.sent.append(value)

    def _switched(self, value: int) -> None:
        level = value & 1
        if level != self.relay:
            self.edges.append((self.cycle, level))
            self.on_edge(level)
        self._lib.avr_raise_irq(self._feedback, int(level or self.welded))

    def _write_eeprom(self, data: bytes) -> None:
        buffer = c.create_string_buffer(data, len(data))
        held = _Eeprom(c.cast(buffer, _ptr), 0, len(data))
        self._lib.avr_ioctl(self._avr, _io("eesp"), c.byref(held))
