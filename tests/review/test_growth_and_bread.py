"""Growth, heat and bread in the review: ranges, rule and source beside each finding, no index out of nothing."""

import json
from collections.abc import Callable

import msgspec
import numpy as np
import pytest

from holdctl.events import Instant, Notice, NoticeKind
from holdctl.food.accounts import mix_of
from holdctl.food.measured import Measured, Measurement
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.review.bread import bread_lines
from holdctl.review.figures import Figures, figures
from holdctl.review.growth import growth_lines
from holdctl.review.report import render_report

from .conftest import START_UTC_MS, STEP_S, write_night
from .test_report import shown


def flat(lines: list[object]) -> str:
    return " ".join(" ".join(shown(line).split()) for line in lines)


def noted(*values: tuple[float, Measurement]) -> tuple[Measured, ...]:
    return tuple(Measured(at_s=at_s, by="baker", value=value) for at_s, value in values)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[Figures, Figures]:
    """A night of which the baker said how hot the mix was, when malt went in, what came of it; and one before it."""
    path = tmp_path_factory.mktemp("record") / "night.db"
    entries = (
        Measurement(mix_c=86.5, mix_s=-900.0),
        Measurement(malt_s=1800.0),
        Measurement(brix=24.5, ph=5.9, taste="sweet, malty"),
    )
    with Store.open(path, batch_ms=10**9) as store:
        write_night(store)
        again = write_night(store)
        for k, value in enumerate(entries):
            now = Instant(1000 * (k + 1), 1000 * (k + 1), START_UTC_MS)
            store.notice(
                now, Notice(NoticeKind.NOTE, "note", value.words(), {"by": "baker", **value.detail()})
            )
    assert again == 2
    return figures(Record(path), 2), figures(Record(path), 1)


def test_a_hot_night_grows_nothing_and_says_what_it_cannot(calm: Record) -> None:
    found = figures(calm, 1)
    assert all(one.any_part_log == 0 for one in found.growth.organisms)
    text = flat(growth_lines(found.growth, "C"))
    assert "Growth: none in what is recorded" in text
    assert "survive" in text
    assert "none of a scald" in text


def test_a_gap_is_in_the_bound_and_in_the_words(broken: Record) -> None:
    growth = figures(broken, 1).growth
    cereus = growth.organisms[0]
    assert cereus.organism == "Bacillus cereus"
    assert (cereus.least_log, cereus.most_log) == (0.0, 0.0)
    assert 0.1 < cereus.any_part_log < 0.5
    assert growth.unrecorded_s == pytest.approx(940, abs=30)
    text = flat(growth_lines(growth, "C"))
    assert "16 min not recorded count at the fastest growth" in text
    assert "from 2 at the record's begin (what grew before it is not in them) to 8.03" in text
    assert "an upper bound" in text
    assert "Not reached by these fits: emetic toxin" in text


def test_the_figures_carry_the_source_of_every_fit(calm: Record) -> None:
    for one in figures(calm, 1).growth.organisms:
        assert 0 < len(one.sources) <= one.fits
        assert all("20" in source or "19" in source or "Food Control" in source for source in one.sources)


def test_heat_counts_on_the_coldest_paste_less_every_doubt(calm: Record) -> None:
    """The night's estimate of the coldest paste lies 1.2 K under the probe's, whose error is 0.5 K."""
    heat = figures(calm, 1).growth.lethality
    h = np.arange(0, 6, STEP_S / 3600)
    coldest = 65 + 17 * np.exp(-h / 0.25) + 0.15 * np.sin(h * 3600 / STEP_S / 50) - 1.2 - 0.5
    by_hand = float(np.trapezoid(10 ** ((coldest - 70) / 7.5), h * 60))
    assert heat.p70_min == pytest.approx(by_hand, rel=2e-3)
    assert heat.benchmark_met and heat.p70_burger_min > 2
    assert not any("spores" in name for name in heat.reductions_log)
    assert "survive" in heat.spores


def test_without_mix_and_malt_the_review_says_what_it_wants_to_know(calm: Record) -> None:
    bread = figures(calm, 1).bread
    assert all(part.index is None and part.beta_left is None for part in bread.parts)
    assert all(part.gelatinised == (1.0, 1.0) for part in bread.parts)
    text = flat(bread_lines(bread, "C"))
    assert "No index" in text and "--mix-peak" in text and "--malt" in text


def test_with_them_every_layer_has_its_index(told: tuple[Figures, Figures]) -> None:
    bread = told[0].bread
    assert bread.missing == ()
    assert [part.layer for part in bread.parts] == ["coldest", "colder", "middle", "hotter", "hottest"]
    nominal = [part.index[1] for part in bread.parts if part.index]
    assert nominal == sorted(
        nominal, reverse=True
    )  # the night is long: what is colder keeps its amylases longer
    assert bread.parts[0].above_limit_s < bread.parts[-1].above_limit_s
    text = flat(bread_lines(bread, "C"))
    assert "Reckoned from the mix at 86.5 °C 15 min before the record" in text
    assert "from 0:30 on" in text
    assert "nights of one bakery" in text
    assert "pH 5.9, 24.5 °Brix, taste: sweet, malty" in text


def test_notes_of_one_hold_do_not_count_for_another(told: tuple[Figures, Figures]) -> None:
    assert [bool(one.bread.missing) for one in told] == [False, True]


def test_the_last_word_about_mix_and_malt_counts() -> None:
    first, second = Measurement(mix_c=90.0, malt="none"), Measurement(mix_c=80.0, mix_s=-300.0)
    mix, missing = mix_of(noted((1, first), (2, second)))
    assert mix is not None and missing == ()
    assert (mix.peak_c, mix.before_s, mix.malt_s) == (80.0, 300.0, None)
    assert mix_of(noted((1, second)))[0] is None
    assert len(mix_of(())[1]) == 2


def test_no_malt_is_the_flours_own_amylases(told: tuple[Figures, Figures]) -> None:
    from holdctl.review.bread import _reckoned

    for malt, words in (
        ("none", "the flour's own"),
        ("with the flour", "the flour's and the malt's together"),
    ):
        measured = noted((1, Measurement(mix_c=80.0, malt=malt)))  # type: ignore[arg-type]
        assert words in _reckoned(mix_of(measured)[0], measured)


def test_the_whole_report_still_fits_and_knows_fahrenheit(told: tuple[Figures, Figures]) -> None:
    for units in "CF":
        text = shown(render_report(told[0], units=units))
        assert max(map(len, text.splitlines())) <= 80
        assert "log10" not in text or "Estimates" in text
    assert "°C" not in flat(bread_lines(told[0].bread, "F")).replace("mix 86.5 °C", "")


def test_the_account_is_in_the_json(make_record: Callable[..., Record]) -> None:
    plain = json.loads(msgspec.json.encode(figures(make_record({}), 1)))
    assert plain["growth"]["lethality"]["benchmark_met"] is True
    assert plain["bread"]["limit_c"] == 70.0
    assert {"organism", "least_log", "most_log", "any_part_log"} <= set(plain["growth"]["organisms"][0])
