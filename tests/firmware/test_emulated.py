"""The firmware in an emulated chip: what its pins, its EEPROM and its line do."""

import random
import re
import statistics
import subprocess
from pathlib import Path

import pytest

from holdctl.device.framing import encode
from holdctl.events import ProbeFault
from tests.firmware import ntc
from tests.firmware.chip import ERASED, HZ
from tests.firmware.talk import CLEAR, CLEARED, TICK, Talk

MS = HZ // 1000
RAM_END = 0x8FF


@pytest.fixture
def talk(elf):
    made = Talk(elf)
    made.next_reading()
    return made


def heating(elf, ms=5000):
    """A node that has just been given a lease."""
    made = Talk(elf)
    made.next_reading()
    made.lease(ms)
    assert made.chip.relay == 1
    return made


def run(*words):
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def test_the_relay_is_off_by_the_first_instruction_after_reset(elf):
    listing = run("avr-objdump", "-d", str(elf))
    reset = next(line for line in listing.splitlines() if line.strip().startswith("0:"))
    assert "<relay_off_first>" in reset
    first = listing.split("<relay_off_first>:\n")[1].splitlines()[:2]
    assert [line.split("\t")[2:4] for line in first] == [["cbi", "0x05, 0"], ["sbi", "0x04, 0"]]


def test_it_fits_the_chip_and_has_neither_heap_nor_printf(elf):
    text, data, bss = map(int, run("avr-size", str(elf)).splitlines()[1].split()[:3])
    print(f"flash {text + data} of 32768 bytes, variables {data + bss} of 2048")
    assert text + data < 16_384
    assert data + bss < 1400  # the rest is the stack's
    names = {line.split()[-1] for line in run("avr-nm", str(elf)).splitlines()}
    assert not {name for name in names if "alloc" in name or "printf" in name}


def test_the_stack_keeps_far_from_the_variables(elf):
    table = {line.split()[-1]: line.split()[0] for line in run("avr-nm", str(elf)).splitlines()}
    first, paint = int(table["_end"], 16) - 0x800000, 0xC5
    talk = Talk(elf)
    for at in range(first, RAM_END + 1):
        talk.chip.put(at, paint)
    talk.run(3.2)
    for body in ("hello?", f"lease n=1 re={talk.last.n} ms=900", "reset-cutout n=2", "x" * 150):
        talk.command(body, 0.05)
    talk.chip.burst(random.Random(3).randbytes(300) + b"\n")
    talk.chip.temps(65.0, 120.0)
    talk.run(2.1)
    talk.chip.temps(65.0, 20.0)
    talk.run(2.1)
    talk.chip.feed(b"\n")  # ends what is left of the rubbish
    talk.command("reset-cutout n=77", 0.3)
    assert not talk.next_reading().cut
    used = next(RAM_END + 1 - at for at in range(first, RAM_END + 1) if talk.chip.byte(at) != paint)
    print(f"stack {used} of {RAM_END + 1 - first} bytes")
    assert used < (RAM_END + 1 - first) / 4


def test_the_processor_sleeps_nearly_all_the_time(elf):
    talk = Talk(elf)
    talk.run(1.0)
    slept, from_cycle = talk.chip.slept, talk.chip.cycle
    for _ in range(10):
        talk.next_reading()
        talk.lease(900)
    passed = talk.chip.cycle - from_cycle
    print(f"at work for {1 - (talk.chip.slept - slept) / passed:.2%} of {passed / HZ:.1f} s")
    assert passed > 9 * HZ
    assert 0.9 < (talk.chip.slept - slept) / passed < 1.0


def test_it_introduces_itself_and_reports_once_a_second(elf):
    talk = Talk(elf)
    talk.run(10.5)
    [boot] = talk.boots
    assert (boot.probes, boot.max_lease_ms, boot.cutouts_c, boot.cause) == (2, 5000, (None, 95.0), "power")
    assert [reading.n for reading in talk.readings] == list(range(10))
    assert [reading.up_ms for reading in talk.readings] == [1010 + 1000 * n for n in range(10)]
    assert {reading.age_ms for reading in talk.readings} == {1000}
    assert talk.dropped == 0
    talk.command("hello?", 0.05)
    assert len(talk.boots) == 2


def test_noise_at_65_degrees_is_at_most_0_03_k_and_the_mean_is_right(elf):
    talk = Talk(elf)
    talk.run(91)
    temps = [reading.temps[0] for reading in talk.readings]
    spread, mean = statistics.stdev(temps), statistics.mean(temps)
    print(
        f"{len(temps)} readings at 65 °C, 0.8 steps (3.9 mV) of noise a conversion: sd {spread:.4f} K, mean {mean:.3f}"
    )
    assert talk.chip.conversions > 2 * 64 * len(temps)
    assert 0.0 < spread <= 0.03
    assert mean == pytest.approx(65.0, abs=0.02)


@pytest.mark.parametrize("ms", [30, 37, 800, 5000])
def test_a_lease_lapses_at_the_pin_at_its_end_and_never_later(talk, ms):
    talk.chip.edges.clear()
    talk.lease(ms, talk.last.n)
    talk.run(ms / 1000 + 0.05)
    (on, up), (off, down) = talk.chip.edges
    assert (up, down) == (1, 0)
    print(f"lease of {ms} ms: {(off - on) / MS:.2f} ms at the pin")
    assert ms * MS - TICK <= off - on <= ms * MS + MS // 4  # a quarter of a millisecond from tick to pin


def test_lease_0_takes_the_relay_off_at_once(elf):
    talk = heating(elf)
    sent = talk.chip.cycle
    talk.lease(0)
    assert talk.chip.relay == 0
    assert talk.chip.edges[-1][0] - sent < 6 * MS


def test_a_lease_for_an_old_reading_is_refused_and_counted(talk):
    talk.run(3.1)
    talk.lease(1000, 0)
    assert talk.chip.relay == 0
    assert talk.next_reading().bad == 1
    talk.lease(1000, talk.last.n - 2)
    assert talk.chip.relay == 1


def test_at_the_limit_the_pin_goes_low_before_the_latch_is_written_and_stays_low_through_a_reset(elf):
    talk = heating(elf)
    at_edge = []
    talk.chip.on_edge = lambda _level: at_edge.append(talk.chip.eeprom[:8])
    talk.chip.temps(65.0, 95.5)
    talk.run(2.1)
    assert at_edge == [CLEAR]
    assert talk.chip.eeprom[:8] == CLEAR[:4] + bytes(4)
    talk.chip.temps(65.0, 70.0)
    talk.chip.reset()
    talk.run(2.2)
    assert talk.boots[-1].cause == "reset"
    assert talk.last.cut
    talk.lease(5000)
    talk.run(1.0)
    assert talk.chip.relay == 0
    again = Talk(elf, talk.chip.eeprom)  # and through a loss of power
    assert again.next_reading().cut


def test_a_latch_is_in_eeprom_a_tick_after_the_pin_has_gone_low_whichever_byte_was_compared_last(elf):
    for delay_ms in range(10, 90, 10):
        talk = heating(elf)
        talk.run(delay_ms / 1000)
        talk.chip.convert(1, ntc.exact_code(150.0))
        while talk.chip.relay:
            talk.run(0.002)
        talk.run(0.012)
        assert talk.chip.eeprom[4] == 0


def test_a_chip_whose_eeprom_is_erased_is_latched_until_it_is_reset(elf):
    talk = Talk(elf, ERASED)
    assert talk.next_reading().cut
    talk.command("reset-cutout n=1", 0.2)
    assert talk.chip.eeprom == CLEARED
    talk.chip.reset()
    assert not talk.next_reading().cut


def test_a_reset_that_loses_power_half_way_leaves_the_cutout_latched(elf):
    talk = Talk(elf, ERASED)
    talk.next_reading()
    talk.command("reset-cutout n=1", 0.04)
    assert talk.chip.eeprom not in (ERASED, CLEARED)
    assert Talk(elf, talk.chip.eeprom).next_reading().cut


@pytest.mark.parametrize(
    ("code", "fault", "most_ms"),
    [(1023.0, ProbeFault.OPEN, 60), (0.0, ProbeFault.SHORT, 60), (1011.0, ProbeFault.RANGE, 2000)],
)
def test_a_broken_probe_takes_the_relay_off_and_is_named(elf, code, fault, most_ms):
    talk = heating(elf)
    broken = talk.chip.cycle
    talk.chip.convert(0, code)
    talk.run(2.1)
    off, level = talk.chip.edges[-1]
    print(f"{fault.value}: pin low after {(off - broken) / MS:.0f} ms")
    assert level == 0
    assert off - broken <= most_ms * MS
    assert talk.last.temps[0] is fault
    assert isinstance(talk.last.temps[1], float)


def test_the_contact_feedback_shows_a_welded_relay(talk):
    talk.lease(300)
    talk.chip.welded = True
    reading = talk.next_reading()
    assert (reading.relay, reading.feedback) == (False, True)


@pytest.mark.parametrize("kind", ["h", "i"], ids=["interrupts going on", "interrupts off"])
def test_a_hang_during_a_lease_ends_at_the_pin_when_the_watchdog_bites(faulty_elf, kind):
    talk = heating(faulty_elf)
    hung = talk.command(f"fault-{kind}")
    talk.run(1.0)
    off, level = talk.chip.edges[-1]
    print(f"hang: the relay stays on for {(off - hung) / MS:.0f} ms")
    assert level == 0
    assert 0 < off - hung < 600 * MS
    assert talk.boots[-1].cause == "watchdog"
    talk.next_reading()
    assert (talk.last.n, talk.last.ack, talk.last.relay) == (0, 0, False)


def test_a_failed_assertion_takes_the_relay_off_at_once_and_the_node_starts_anew(faulty_elf):
    talk = heating(faulty_elf)
    sent = talk.chip.cycle
    talk.command("fault-c")
    assert talk.chip.relay == 0
    assert talk.chip.edges[-1][0] - sent < 6 * MS
    talk.run(1.0)
    assert talk.boots[-1].cause == "watchdog"


def test_a_converter_that_stops_takes_the_relay_off_when_its_last_value_is_3_s_old(faulty_elf):
    talk = heating(faulty_elf)
    talk.command("fault-a")
    for _ in range(5):
        talk.lease(2000)
        talk.next_reading()
    assert talk.chip.relay == 0
    assert talk.last.temps == (ProbeFault.RANGE, ProbeFault.RANGE)
    assert talk.last.age_ms > 3000


def test_bytes_lost_on_the_way_spoil_their_line_and_no_other(talk):
    good = encode(f"lease n=7 re={talk.last.n} ms=900")
    talk.chip.burst(good[:12] + bytes(200))  # far more at once than the receiver holds
    talk.run(0.05)
    talk.chip.feed(good[12:] + good)
    talk.run(0.05)
    assert talk.chip.relay == 1
    assert talk.next_reading().ack == 7
    assert talk.last.bad == 1


def test_a_framing_error_spoils_its_line(talk):
    good = encode(f"lease n=7 re={talk.last.n} ms=900")
    talk.chip.feed(good[:12])
    talk.run(0.01)
    talk.chip.burst(good[12:13], framing_error=True)
    talk.chip.feed(good[13:])
    talk.run(0.05)
    assert talk.chip.relay == 0
    assert talk.next_reading().bad == 1


def test_random_bytes_between_valid_lines_switch_nothing_on_and_the_next_line_is_obeyed(talk):
    rng = random.Random(9)
    for number in range(1, 21):
        talk.chip.feed(rng.randbytes(1000) + b"\n" + encode(f"lease n={number} re=0 ms=0"))
        talk.run(0.1)
        assert talk.next_reading().ack == number
    assert not [level for _, level in talk.chip.edges if level]
    assert talk.last.bad >= 20
    assert talk.dropped == 0


def test_the_line_that_the_notes_give_for_clearing_a_new_node_is_a_true_frame(elf):
    notes = Path(__file__).parents[2] / "firmware_notes" / "README.md"
    [line] = re.findall(r"`(\$reset-cutout [^`]*)`", notes.read_text("utf-8"))
    talk = Talk(elf, ERASED)
    talk.next_reading()
    talk.chip.feed(line.encode() + b"\n")
    talk.run(0.1)
    assert talk.chip.eeprom == CLEARED
