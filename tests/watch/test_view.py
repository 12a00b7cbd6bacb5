"""Whole frames: exact text in golden files, and what must be true of every frame at every size.

After a wanted change HOLDCTL_WRITE_GOLDEN=1 writes the golden files anew; then read them.
"""

import os
import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from holdctl.events import Condition, Forecast, LinkChange, NoticeKind, ProbeFault, RequestKind, Silence
from holdctl.watch import Screen
from tests.watch.conftest import beginning, console, drawn, screen
from tests.watch.nights import HOLD, Night, flicker

Begin = Callable[..., Night]
GOLDEN = Path(__file__).parent / "golden"

FOUR_PROBES = [
    {"channel": 1, "place": "core", "error_k": 0.5, "name": "long thermometer"},
    {"channel": 2, "place": "edge", "error_k": 0.5},
    {"channel": 3, "place": "wall", "error_k": 1.0},
    {"channel": 4, "place": "air", "error_k": 1.0},
]


def holding(begin: Begin) -> Night:
    night = begin(HOLD, simulated=True)
    for k in range(0, 6000, 5):
        night.read((flicker(round(64.0 + min(k, 1500) / 1500, 2), k // 5), flicker(66.2, k // 5)))
        night.second += 0 if k % 10 else 1
    night.steady(20)
    return night


def settling(begin: Begin) -> Night:
    night = begin(HOLD)
    for k in range(1800):
        night.read((round(84.0 - k * 0.004, 2), round(76.0 - k * 0.003, 2)))
    return night


def prompt(begin: Begin) -> Night:
    night = begin(pace="device", simulated=True)
    night.steady(900, 78.2, 75.0)
    return night


def tripped(begin: Begin) -> Night:
    night = begin(HOLD, food_code="uk", units="F")
    night.steady(1200)
    night.steady(30, 65.0, 91.5)
    night.ask(
        RequestKind.NOTE, "the thermostat of the plate was turned up by hand; it is off now, lid taken away"
    )
    return night


def silent(begin: Begin) -> Night:
    night = begin(HOLD)
    night.steady(1200)
    night.wait(3)
    night.event(Silence())
    night.wait(9)
    return night


def four_probes(begin: Begin) -> Night:
    night = begin(HOLD, probe=FOUR_PROBES)
    for _ in range(1200):
        night.read((65.0, 65.5, 66.2, 21.0))
    for _ in range(5):
        night.read((65.0, ProbeFault.OPEN, 66.2, 21.0))
    night.event(LinkChange(False, "the port is gone"))
    return night


def gone(begin: Begin) -> Night:
    night = begin(HOLD)
    night.steady(1200, 55.0, 60.0)
    night.store.close()
    night.wait(300)
    return night


def ended(begin: Begin) -> Night:
    night = begin(HOLD)
    night.steady(1200)
    night.ask(RequestKind.STOP)
    night.relay = False
    night.steady(1)
    night.end()
    night.wait(36_000)
    return night


def welded(begin: Begin) -> Night:
    """The relay sticks, and the disk is full as well."""
    night = begin(HOLD)
    night.steady(1200)
    night.relay, night.feedback = False, True
    night.steady(20, 65.4, 67.5)
    night.event(Condition("disk-full", True))
    night.steady(70, 66.4, 69.5)
    return night


def flood(begin: Begin) -> Night:
    """A bad plug, a bad disk, and everything that follows from them; one alarm was put aside."""
    night = begin(HOLD)
    night.steady(900)
    night.ask(RequestKind.SHELVE, "probes-disagree 1 h")
    night.event(Condition("heat-missing", True))
    night.steady(100)
    night.ask(RequestKind.ACKNOWLEDGE)
    for name in ("probes-disagree", "record-failing", "disk-full", "node-clock", "probe-jump", "spool"):
        night.event(Condition(name, True))
        night.steady(12)
    for _ in range(6):
        night.steady(31, ProbeFault.OPEN, 66.2)
        night.steady(31)
    return night


MIN = 60_000


def come_up(begin: Begin) -> Night:
    """A cold scald half an hour into its come-up, with a forecast and advice to stir."""
    night = begin(HOLD)
    night.deviations = (0.9, 0.7, 1.4, 0.6)
    for k in range(1800):
        night.read((round(22.0 + k * 0.01, 2), flicker(round(min(70.0, 22.0 + k * 0.05), 2), k)))
    ready = (185 * MIN, 200 * MIN, 221 * MIN)
    band = (55 * MIN, 70 * MIN, 91 * MIN)
    night.foretell(Forecast(band, ready, 22.0, 71.3, 25 * MIN, 6.2))
    night.tell(NoticeKind.ADVICE, "stir-now", "Stir now: it is worth 25 min.", stir_ms=25 * MIN, stir_k=6.24)
    night.steady(120, 40.1, 70.0)
    return night


def come_up_f(begin: Begin) -> Night:
    return come_up(lambda programme: begin(programme, units="F"))


def cooling(begin: Begin) -> Night:
    """A hold put to cool in the room: too slow, and said so."""
    night = begin(HOLD)
    night.steady(600)
    night.ask(RequestKind.COOL, '{"stand":"room"}')
    for k in range(2400):
        night.read((round(65.0 - k / 240, 2), round(62.0 - k / 200, 2)))
    return night


def unborn(begin: Begin) -> Night:
    return begin(HOLD)


NIGHTS = {
    f.__name__: f
    for f in (
        holding,
        settling,
        come_up,
        come_up_f,
        prompt,
        tripped,
        silent,
        four_probes,
        gone,
        ended,
        unborn,
        welded,
        flood,
        cooling,
    )
}
Shown = Callable[..., Screen]


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shown]:
    """Return the screen of a night by its name; each night is written, and read, once."""
    nights: dict[str, Night] = {}
    screens: dict[tuple[str, bool], Screen] = {}
    with ExitStack() as stack:

        def show(name: str, *, plain: bool = False) -> Screen:
            if name not in nights:
                make = stack.enter_context(beginning(tmp_path_factory.mktemp(name)))
                nights[name] = NIGHTS[name](make)
            if (name, plain) not in screens:
                screens[name, plain] = screen(nights[name], plain=plain)
            screens[name, plain].footer = ""
            return screens[name, plain]

        yield show


SIZES = [(80, 24), (160, 50), (100, 30), (60, 18), (40, 12), (20, 6), (300, 100), (80, 1)]


@pytest.mark.parametrize(
    ("name", "width", "height", "plain"),
    [(name, 80, 24, False) for name in NIGHTS] + [("holding", 160, 50, False), ("holding", 80, 24, True),
     ("come_up", 160, 50, False), ("come_up", 45, 16, False), ("come_up_f", 80, 24, True),
     ("tripped", 80, 24, True), ("prompt", 160, 50, False), ("settling", 45, 16, False),
     ("welded", 160, 50, False), ("flood", 160, 50, False), ("welded", 80, 24, True)],
)  # fmt: skip
def test_the_frame_is_exactly_this(shown: Shown, name: str, width: int, height: int, plain: bool) -> None:
    text = drawn(shown(name, plain=plain), width, height)
    text = re.sub("\x1b\\[[0-9;]*m", "", text)
    path = GOLDEN / f"{name}-{width}x{height}{'-plain' if plain else ''}.txt"
    if os.environ.get("HOLDCTL_WRITE_GOLDEN"):
        path.write_text(text, "utf-8")
    assert text == path.read_text("utf-8")


@pytest.mark.parametrize("name", NIGHTS)
def test_no_frame_is_wider_or_higher_than_the_terminal(shown: Shown, name: str) -> None:
    on_screen = shown(name)
    for width, height in SIZES:
        on_screen.footer = "simulated night: 42 %" if width == 100 else ""
        lines = on_screen.frame(width, height).plain.split("\n")
        assert len(lines) <= height, (width, height)
        assert max(map(len, lines)) <= width, (width, height)


@pytest.mark.parametrize("name", NIGHTS)
def test_held_is_no_word_of_any_screen(shown: Shown, name: str) -> None:
    assert "held" not in shown(name).frame(160, 50).plain.lower()


@pytest.mark.parametrize("name", NIGHTS)
def test_plain_frames_are_ascii(shown: Shown, name: str) -> None:
    assert shown(name, plain=True).frame(80, 24).plain.isascii()


@pytest.mark.parametrize("name", NIGHTS)
def test_at_80_by_24_sentence_number_curve_food_code_and_events_are_all_there(
    shown: Shown, name: str
) -> None:
    text = shown(name).frame(80, 24).plain
    assert "██" in text
    assert "· band" in text
    assert ("Food code, cooling (" if name == "cooling" else "Food code: keep at ") in text
    assert "Your local authority decides." in text.replace("\n", " ")
    assert "safe" not in text.lower()
    if name != "unborn":
        assert "estimated" in text
        assert re.search(r"^\d\d:\d\d  ", text, re.MULTILINE)


@pytest.mark.parametrize("name", ["holding", "settling", "come_up", "prompt", "ended", "unborn"])
def test_what_is_normal_has_no_colour(shown: Shown, name: str) -> None:
    text = drawn(shown(name), color="truecolor")
    assert set(re.findall("\x1b\\[([0-9;]*)m", text)) == {"1", "0"}  # bold and its end


@pytest.mark.parametrize(
    ("name", "word"),
    [("tripped", "TRIP high-limit"), ("silent", "TRIP no-reading"), ("gone", "The daemon is gone")],
)
def test_colour_marks_the_abnormal_and_is_doubled_by_a_word(shown: Shown, name: str, word: str) -> None:
    text = drawn(shown(name), color="standard")
    assert "\x1b[1;7;31m" in text
    assert word in text


def test_without_colour_the_abnormal_is_still_reversed(shown: Shown) -> None:
    text = drawn(shown("tripped"), color="standard", env={"NO_COLOR": "1"})
    assert "31" not in re.findall("\x1b\\[([0-9;]*)m", text)
    assert "\x1b[1;7m" in text


def test_stale_figures_are_never_the_large_number(shown: Shown) -> None:
    fresh = shown("holding").frame(80, 24).plain
    assert "██████  ██████      ██████ °C" in fresh
    stale = shown("silent").frame(80, 24).plain
    assert "██████  ██████      ██████" in stale.split("\n")[4]  # the dashes
    assert "figures 13 s old" in stale


@pytest.mark.parametrize(
    ("pace", "simulated"), [("host", False), ("device", False), ("host", True), ("device", True)]
)
def test_a_rig_and_the_nodes_clock_are_named_on_every_screen(
    begin: Begin, pace: str, simulated: bool
) -> None:
    night = begin(HOLD, pace=pace, simulated=simulated)
    night.steady(3)
    for width, height in SIZES[:5]:
        text = screen(night).frame(width, height).plain
        assert ("TEST RIG" in text) is simulated
        assert ("the node turns the clock" in text) is (pace == "device")


def test_a_callers_footer_is_the_last_line(shown: Shown) -> None:
    on_screen = shown("holding")
    on_screen.footer = "simulated night: 42 %"
    assert on_screen.frame(80, 24).plain.split("\n")[-1] == "simulated night: 42 %"


def test_long_names_do_not_push_the_time_off(begin: Begin) -> None:
    warmer = {"power_w": 60.0, "heat_capacity_j_k": 850.0, "name": "x" * 60}
    night = begin(HOLD, warmer=warmer, simulated=True, pace="device")
    night.steady(3)
    last = screen(night).frame(80, 24).plain.split("\n")[-1]
    assert "TEST RIG" in last and last.endswith("22:00")


def test_a_screen_draws_itself_at_the_consoles_size(shown: Shown) -> None:
    on_screen = shown("holding")
    on = console(160, 50)
    on.print(on_screen)
    assert on.file.getvalue().rstrip("\n") == drawn(on_screen, 160, 50).rstrip("\n")  # type: ignore[attr-defined]
