"""The account of the night on the live screen: the review's own figures, in ranges, and that spores survive."""

from collections.abc import Callable

import pytest

from holdctl.events import NoticeKind, ProbeFault, RequestKind
from holdctl.food.measured import Measurement
from holdctl.record.query import Record
from holdctl.review.figures import figures
from holdctl.watch import Screen
from holdctl.watch.account import account_line, account_lines, account_text
from holdctl.watch.feed import TELL_S, Feed
from holdctl.watch.words import Look
from tests.food.records import numbers
from tests.watch.conftest import screen
from tests.watch.nights import HOLD, Night

Begin = Callable[..., Night]
LOOK = Look()


def slow(begin: Begin) -> tuple[Night, Feed]:
    """A night that cools into the zone of growth, with a gap and a fault, watched all along; one reading in 10 s."""
    night = begin(HOLD)
    night.store.flush()
    feed = Feed(Record(night.path), night.clock)
    for k in range(480):
        temp = round(66.0 - k * 0.066, 2)
        night.read((ProbeFault.OPEN if 300 < k < 305 else temp, temp - 1.0), seconds=10)
        if k == 150:
            night.ask(RequestKind.NOTE, Measurement(mix_c=82.0, mix_s=-600.0, malt="none").subject())
        if k == 400:
            night.wait(700)
        if k % 97 == 0:
            night.store.flush()
            feed.refresh()
    night.end()
    return night, feed


@pytest.fixture(scope="module")
def watched(tmp_path_factory: pytest.TempPathFactory) -> tuple[Night, Feed]:
    from tests.watch.nights import settings

    path = tmp_path_factory.mktemp("night") / "night.db"
    return slow(lambda programme: Night(path, settings(programme=programme)))


def test_at_the_end_the_screen_that_watched_all_night_says_what_the_review_says(
    watched: tuple[Night, Feed],
) -> None:
    night, feed = watched
    shot, found = feed.refresh(), figures(Record(night.path))
    cereus = shot.growth.organisms[0]
    assert cereus.most_log > 0.3 and found.gaps == 1
    for live, after in zip(shot.growth.organisms, found.growth.organisms, strict=True):
        assert live.layer == after.layer
        for name in ("least_log", "most_log", "any_part_log"):
            assert getattr(live, name) == pytest.approx(getattr(after, name), abs=1e-3)
    assert numbers(shot.growth.lethality) == pytest.approx(numbers(found.growth.lethality), rel=1e-6)
    assert numbers(shot.bread) == pytest.approx(numbers(found.bread), rel=1e-6, abs=1e-9)
    assert shot.growth.unrecorded_s == pytest.approx(found.growth.unrecorded_s) and shot.bread.mix is not None


def test_who_looks_in_later_sees_the_same(watched: tuple[Night, Feed]) -> None:
    night, feed = watched
    late, early = Feed(Record(night.path), night.clock).refresh(), feed.refresh()
    assert numbers(late.growth) == pytest.approx(numbers(early.growth), abs=1e-6)
    assert numbers(late.bread) == pytest.approx(numbers(early.bread), abs=1e-6)


def test_every_length_of_it_says_that_spores_survive_and_gives_ranges(watched: tuple[Night, Feed]) -> None:
    shot = watched[1].refresh()
    at_length = " ".join(account_lines(shot, LOOK))
    for text in (account_text(shot, LOOK), account_line(shot, LOOK), at_length):
        assert "spores survive" in text
        assert "safe" not in text.replace("spores survive", "")
    low, high = shot.growth.organisms[0].least_log, shot.growth.organisms[0].most_log
    assert f"B. cereus {low:.2f}–{high:.2f}" in account_text(shot, LOOK)
    for organism in ("B. cereus", "C. perfringens", "S. aureus", "B. subtilis"):
        assert organism in at_length
    assert at_length.count("upper bound") == 2
    for layer in ("coldest", "middle", "hottest"):
        assert layer in at_length
    for source in ("Juneja et al. 2019", "Rosso et al. 1993", "FSAI 2018; ACMSF 2007", "Brandam et al. 2003"):
        assert source in at_length


def test_without_mix_and_malt_the_index_is_unknown_and_no_amylase_is_given(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(60)
    shot = screen(night).snapshot
    for text in (account_text(shot, LOOK), " ".join(account_lines(shot, LOOK))):
        assert "index unknown" in text and "β-amylase left" not in text
    night.ask(RequestKind.NOTE, Measurement(mix_c=82.0).subject())
    assert "index unknown" in account_text(screen(night).snapshot, LOOK)  # malt is not told yet
    night.ask(RequestKind.NOTE, Measurement(malt="with the flour").subject())
    assert "index 0." in account_text(screen(night).snapshot, LOOK)


def test_toxin_that_may_have_formed_comes_first_and_says_what_to_do(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(5, 35.0, 35.0)
    night.wait(5 * 3600)  # nobody knows what it was meanwhile
    night.steady(5, 35.0, 35.0)
    shot = screen(night).snapshot
    assert shot.growth.emetic is not None
    for text in (account_text(shot, LOOK), account_line(shot, LOOK), account_lines(shot, LOOK)[0]):
        assert text.startswith("EMETIC TOXIN may have formed from ") and "discard the paste" in text
    assert "EMETIC" in screen(night).frame(80, 24).plain


def test_it_is_reckoned_every_ten_seconds_only_and_silence_counts_at_once(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(30)
    one: Screen = screen(night)
    before = one.snapshot.growth
    night.steady(int(TELL_S) - 2)
    night.store.flush()
    assert one.refresh().growth.lethality == before.lethality
    night.steady(3)
    night.store.flush()
    assert one.refresh().growth.lethality.p70_min > before.lethality.p70_min
    night.wait(600)
    silent = one.refresh().growth
    assert silent.unrecorded_s == pytest.approx(600, abs=2) and silent.organisms[0].any_part_log > 0.1


def test_a_gap_alone_is_no_growth_seen(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(30)
    night.wait(600)
    night.steady(30)
    assert "no growth seen, none over" in account_text(screen(night).snapshot, LOOK)


def test_without_a_sample_nothing_is_said(begin: Begin) -> None:
    night = begin(HOLD)
    assert "So far" not in screen(night).frame(80, 24).plain


def test_fahrenheit_is_said_throughout(watched: tuple[Night, Feed]) -> None:
    shot, look = watched[1].refresh(), Look(units="F")
    for text in (account_text(shot, look), " ".join(account_lines(shot, look))):
        assert "°C" not in text and "158 °F" in text


def test_a_note_that_measures_nothing_is_no_measurement(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(20)
    night.tell(NoticeKind.NOTE, "note", "looked in", by="baker")
    assert screen(night).snapshot.bread.measured == ()
