"""What is told of a probe in doubt in a cooling: since when, why, and that its readings count again."""

import pytest

from holdctl.events import Condition, Notice, NoticeKind
from holdctl.hold.cool_probes import OUT, SLOW_RATE, STILL, CoolProbes, ahead, paste_of
from holdctl.paste.cooling import CoolingCurve
from holdctl.safety.cooling_probe import Doubt, Paste
from holdctl.settings import Place, Probe
from tests.closed_loop import instant

PROBES = (
    Probe(channel=1, place=Place.MID, error_k=0.5, name="long probe"),
    Probe(channel=2, place=Place.CORE, error_k=0.5),
)
COURSE = (60.0, 50.0, 45.0, 42.0)
CURVE = CoolingCurve((0.0, 600.0, 1200.0, 1800.0), *[COURSE] * 6)
PASTE = Paste(40.0, 50.0, 60.0, (0.5, 20.0))


class Guard:
    """A guard that is told what it finds."""

    def __init__(self) -> None:
        self.doubt, self.since_ms, self.rests_c, self.calm = Doubt.NONE, 0, 0.0, True
        self.still, self.asked, self.back, self.trusted = 0.0, [], [], 0

    def look(self, value_c, now_ms, paste, expected_k):
        self.asked.append((value_c, now_ms, paste, expected_k))
        return self.doubt

    def still_s(self, now_ms):
        return self.still

    def returned(self, value_c, expected_c):
        self.back.append((value_c, expected_c))

    def trust(self):
        self.trusted += 1


@pytest.fixture
def probes():
    made = CoolProbes(PROBES)
    for one in made._seen:
        one.guard = Guard()
    return made


def look(probes: CoolProbes, seconds: float, *, known: bool = True, temps=(55.0, 50.0)) -> list[int]:
    values = dict(enumerate(temps, 1))
    good = probes.look(values, instant(round(1000 * seconds)), CURVE, PASTE, known=known)
    return [probe.channel for probe in good]


def guards(probes: CoolProbes) -> list[Guard]:
    return [one.guard for one in probes._seen]


@pytest.mark.parametrize("doubt", list(Doubt))
def test_a_reading_counts_unless_its_probe_waits_is_out_or_stands_still(probes, doubt):
    guards(probes)[0].doubt = doubt
    doubtful = doubt in (Doubt.WAITING, Doubt.OUT, Doubt.STILL)
    assert look(probes, 10) == ([2] if doubtful else [1, 2])
    told_apart = doubt in (Doubt.STIRRED, Doubt.MOVED)
    assert probes.changed is (doubt if told_apart else Doubt.NONE)
    guards(probes)[0].doubt = Doubt.NONE
    assert look(probes, 20) == [1, 2]
    assert probes.changed is Doubt.NONE, "each reading is judged by itself"


def test_doubt_is_told_once_with_its_moment_and_so_is_its_end(probes):
    one, _ = guards(probes)
    one.doubt, one.since_ms = Doubt.STILL, 7_000
    look(probes, 10)
    assert probes.told() == [
        Notice(
            NoticeKind.CONTROL,
            "cooling-doubt",
            "probe 1: its readings count as none from here on",
            {"channel": 1, "begins": True, "from_ms": 7_000},
        )
    ]
    assert probes.doubt_from_ms == 7_000
    look(probes, 11)
    assert probes.told() == []
    assert probes.doubt_from_ms is None
    one.doubt, one.since_ms = Doubt.NONE, 12_000
    look(probes, 12)
    assert probes.told() == [
        Notice(
            NoticeKind.CONTROL,
            "cooling-doubt",
            "probe 1: its readings count again",
            {"channel": 1, "begins": False, "from_ms": 12_000},
        )
    ]
    assert probes.doubt_from_ms is None, "an end takes nothing back"


def test_one_probes_doubt_that_was_told_does_not_hide_anothers(probes):
    one, other = guards(probes)
    one.doubt = Doubt.STILL
    look(probes, 10)
    probes.told()
    other.doubt = Doubt.OUT
    look(probes, 11)
    assert [n.detail["channel"] for n in probes.told()] == [2]


@pytest.mark.parametrize("moments", [(7_000, 5_000), (5_000, 7_000)])
def test_of_two_doubts_the_earlier_one_counts(probes, moments):
    for guard, since_ms in zip(guards(probes), moments, strict=True):
        guard.doubt, guard.since_ms = Doubt.OUT, since_ms
    look(probes, 10)
    assert [n.detail["channel"] for n in probes.told()] == [1, 2]
    assert probes.doubt_from_ms == 5_000


def test_the_alarms_name_the_probe_where_it_came_from_and_what_it_reads(probes):
    one, other = guards(probes)
    assert probes.doubt_from_ms is None
    assert probes.conditions(instant(0)) == [Condition(OUT, False, ""), Condition(STILL, False, "")]
    look(probes, 10, temps=(55.04, 50.0))
    one.doubt, one.rests_c = Doubt.OUT, 20.26
    other.doubt, other.still = Doubt.STILL, 629.0
    look(probes, 11)
    assert probes.conditions(instant(20_000)) == [
        Condition(OUT, True, "probe 1 (long probe) went from 55.0 to 20.3 °C at once, as no paste does"),
        Condition(
            STILL, True, "probe 2 (core) has repeated one value for 10 min while the paste must be cooling"
        ),
    ]


def test_a_probe_that_was_never_in_the_paste_is_told_without_where_it_came_from(probes):
    guards(probes)[0].doubt, guards(probes)[0].rests_c = Doubt.OUT, 20.0
    assert probes.conditions(instant(0))[0].text == (
        "probe 1 (long probe) went to 20.0 °C at once, as no paste does"
    )
    look(probes, 10)
    assert guards(probes)[0].back == [], "nobody knows what the paste should have"


def test_what_a_probe_that_is_out_should_read_follows_the_course_from_its_last_good_reading(probes):
    one, _ = guards(probes)
    look(probes, 100)
    one.doubt = Doubt.OUT
    look(probes, 700, temps=(49.0, 50.0))
    assert one.back == [(49.0, pytest.approx(ahead(CURVE, Place.MID, 55.0, 600.0)))]
    one.doubt = Doubt.STILL
    look(probes, 701)
    assert len(one.back) == 1, "one that stands still is not out"


def test_a_probe_that_stands_still_should_have_moved_by_a_third_of_its_course_where_that_is_known(probes):
    one, _ = guards(probes)
    one.still = 300.0
    look(probes, 10)
    moved = 55.0 - ahead(CURVE, Place.MID, 55.0, SLOW_RATE * 300.0)
    assert moved > 0.5
    assert one.asked[-1] == (55.0, 10_000, PASTE, pytest.approx(moved))
    look(probes, 11, known=False)
    assert one.asked[-1][3] == 0.0


def test_a_persons_word_begins_everything_anew(probes):
    look(probes, 10)
    probes.trust()
    assert [guard.trusted for guard in guards(probes)] == [1, 1]
    assert [one.good_c for one in probes._seen] == [None, None]


@pytest.mark.parametrize("restless", [0, 1])
def test_it_is_calm_where_no_probe_may_be_on_its_way_out(probes, restless):
    assert probes.calm
    guards(probes)[restless].calm = False
    assert not probes.calm


def test_of_a_form_that_nobody_told_anything_is_paste_that_is_not_as_what_is_around_it():
    around = (0.5, 20.0)
    assert paste_of(None, around, known=True) is None
    assert paste_of((40.0, 50.0, 60.0), around, known=True) == Paste(40.0, 50.0, 60.0, around)
    assert paste_of((40.0, 50.0, 60.0), around, known=False) == Paste(0.5, 50.0, 100.0, around)


@pytest.mark.parametrize("place", [Place.MID, Place.CORE, Place.EDGE])
def test_each_place_has_a_course_of_its_own(place):
    courses = [tuple(c - 2.0 * k for c in COURSE) for k in range(6)]
    curve = CoolingCurve((0.0, 600.0, 1200.0, 1800.0), *courses)
    own = curve.at(place)
    assert own in courses
    assert ahead(curve, place, own[0], 600.0) == pytest.approx(own[1])
    others = [
        ahead(curve, other, own[0], 600.0)
        for other in (Place.MID, Place.CORE, Place.EDGE)
        if other is not place
    ]
    assert all(value != pytest.approx(own[1]) for value in others)


@pytest.mark.parametrize(
    ("value_c", "seconds", "then_c"),
    [
        (60.0, 600.0, 50.0),
        (60.0, 300.0, 55.0),
        (50.0, 600.0, 45.0),
        (45.0, 600.0, 42.0),
        (45.0, 601.0, 42.0),
        (55.0, -1.0, 55.0),
        (55.0, 0.5, pytest.approx(55.0 - 10.0 / 1200.0)),
        (60.0, 900.0, 47.5),
    ],
)
def test_paste_seen_ahead_lies_on_its_course(value_c, seconds, then_c):
    assert ahead(CURVE, Place.MID, value_c, seconds) == then_c
