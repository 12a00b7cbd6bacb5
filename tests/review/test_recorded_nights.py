"""The three recorded nights in words and on the pages of a PDF: rule, limit, observed, source, verdict."""

import os
import runpy
import time
from pathlib import Path

import pytest

from holdctl.events import State
from holdctl.food.findings import Verdict
from holdctl.review import picture
from holdctl.review.figures import figures_of
from holdctl.review.night import read_night
from holdctl.review.pages import LINES, as_lines, report_pages
from holdctl.review.report import render_report
from tests.review.recorded import NIGHTS, kept

ROOT = Path(__file__).parents[2]
WORDS = {Verdict.MET: "met", Verdict.BROKEN: "BROKEN", Verdict.CANNOT_TELL: "can't be told"}
EXPECTED = {
    "good": {"hot-holding": "met", "cooling": "met", "heating": "met", "thermometer": "met"},
    "power-cut": {"hot-holding": "broken", "cooling": "not applicable", "heating": "met"},
    "slow-cooling": {"hot-holding": "met", "cooling": "broken", "heating": "met"},
}


@pytest.fixture(scope="module", autouse=True)
def _utc():
    before = os.environ.get("TZ")
    os.environ["TZ"] = "UTC"
    time.tzset()
    yield
    if before is None:
        del os.environ["TZ"]
    else:
        os.environ["TZ"] = before
    time.tzset()


@pytest.fixture(scope="module")
def nights(tmp_path_factory):
    folder = tmp_path_factory.mktemp("nights")
    found = {}
    for name in NIGHTS:
        night = read_night(kept(name, folder))
        found[name] = (figures_of(night), night.events)
    return found


def row_of(lines, name, widths=(96,)):
    """The cells of a rule's row in the table, folded lines joined, one string for each column."""
    head = next(k for k, line in enumerate(lines) if line.startswith("rule ") and "verdict" in line and k > 3)
    starts = [lines[head].index(word) for word in ("rule", "limit", "observed", "source", "verdict")]
    first = next(k for k, line in enumerate(lines) if line[: starts[1]].strip() == name)
    last = first + 1
    while lines[last] and not lines[last][: starts[1]].strip():
        last += 1
    ends = [*starts[1:], None]
    return [
        " ".join(" ".join(line[a:b].strip() for line in lines[first:last]).split())
        for a, b in zip(starts, ends, strict=True)
    ]


@pytest.mark.parametrize("name", NIGHTS)
def test_the_verdict_of_each_rule_is_the_one_the_night_was_made_for(nights, name):
    found = {f.rule: f.verdict.value for f in nights[name][0].food.findings}
    assert {rule: found[rule] for rule in EXPECTED[name]} == EXPECTED[name]


@pytest.mark.parametrize("name", NIGHTS)
def test_each_rule_that_was_asked_has_limit_observation_source_and_verdict_in_words(nights, name):
    figures, events = nights[name]
    lines = as_lines(render_report(figures, events))
    start = next(k for k, line in enumerate(lines) if line.startswith("What counts"))
    for f in figures.food.findings:
        if f.verdict is Verdict.NOT_APPLICABLE:
            assert f"{f.rule.replace('-', ' ').replace('come up', 'come-up')} ({f.observed})" in " ".join(
                lines
            )
            continue
        rule, limit, observed, source, verdict = row_of(
            lines[start:], f.rule.replace("-", " ").replace("come up", "come-up")
        )
        assert rule and limit and observed
        assert source == f.source
        assert verdict.startswith(WORDS[f.verdict])


def test_the_power_cut_is_a_window_that_says_how_much_was_not_recorded_and_what_was_done(nights):
    figures, events = nights["power-cut"]
    text = " ".join(" ".join(as_lines(render_report(figures, events))).split())
    assert figures.gaps == 1
    assert figures.longest_gap_s == pytest.approx(70 * 60, abs=10)
    assert "Not recorded of these times: 1 h 10 min of hold." in text
    assert "1 h 10 min of it not recorded" in text
    assert "What was done with the paste: discarded, entered by day baker" in text
    assert not any(one.open for one in figures.deviations)


def test_the_slow_cooling_stands_open_until_somebody_enters_what_was_done(nights):
    figures, events = nights["slow-cooling"]
    assert {one.alarm for one in figures.deviations if one.open} == {"cooling-missed", "unsafe-window"}
    assert as_lines(render_report(figures, events))[1].startswith("OPEN: what was done with the paste?")


def test_the_good_night_says_what_was_read_in_the_fridge(nights):
    figures, events = nights["good"]
    text = " ".join(" ".join(as_lines(render_report(figures, events))).split())
    assert "Storage, to be at 5 °C or below (FDA Food Code 2022, 3-501.16(A)(2), recommendation)" in text
    assert "3.8 °C, at or below 5 °C, entered by day baker" in text
    assert figures.state == State.COMPLETE and figures.deviations == ()


@pytest.mark.parametrize("name", NIGHTS)
def test_what_a_program_wrote_into_a_request_is_read_in_words(nights, name):
    figures, events = nights[name]
    assert "{" not in "".join(as_lines(render_report(figures, events)))


@pytest.mark.parametrize("name", NIGHTS)
def test_the_pages_of_the_pdf_have_every_line_of_the_screen(nights, name, tmp_path):
    figures, events = nights[name]
    report = render_report(figures, events)
    pages = report_pages(report, "head")
    shown = [line for page in pages for line in page.texts[1].get_text().split("\n")]
    assert shown == as_lines(report)
    assert all(len(page.texts[1].get_text().split("\n")) <= LINES for page in pages)
    assert [page.texts[0].get_text() for page in pages][-1] == f"head · page {len(pages)} of {len(pages)}"


def test_the_head_of_the_record_s_chain_stands_under_the_pages_as_under_the_screen(tmp_path):
    record = kept("good", tmp_path)
    head = record.head()
    last = picture._report(read_night(record), "C", head)[-1].texts[1].get_text()
    assert last.split("\n")[-1] == f"Record: {head.rows} rows, head {head.hex}"
    assert head.rows > 1000


@pytest.mark.parametrize("name", NIGHTS)
def test_no_report_calls_a_food_safe(nights, name):
    figures, events = nights[name]
    assert " safe " not in " ".join(as_lines(render_report(figures, events))).lower()


def test_the_page_in_the_documents_is_this_review(tmp_path):
    made = runpy.run_path(str(ROOT / "docs" / "make_inspected.py"))["page"]
    assert (ROOT / "docs" / "inspected.md").read_text("utf-8") == made(tmp_path)


@pytest.mark.soak
@pytest.mark.parametrize("name", NIGHTS)
def test_a_night_recorded_again_is_judged_the_same(nights, name, tmp_path):
    from holdctl.record.query import Record

    NIGHTS[name](tmp_path / "again.db")
    again = figures_of(read_night(Record(tmp_path / "again.db")))
    before = nights[name][0]
    assert [f.verdict for f in again.food.findings] == [f.verdict for f in before.food.findings]
    assert again.samples == before.samples
