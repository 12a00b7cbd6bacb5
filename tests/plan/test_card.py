"""The kitchen card: what it says, in which order, and that it fits."""

import msgspec
import pytest

from holdctl.errors import JobError
from holdctl.plan import page, picture
from holdctl.plan.card import CAUTIONS_BRIEF, STICKIER, card
from holdctl.plan.plan import PlanStep, ProgrammePart
from holdctl.plan.text import WIDTH, render
from holdctl.watch.words import Look
from tests.plan.breads import COOLING, DOUGH, MIX, NIGHT, PROGRAMME, plan

MALT = {"share": 15, "malt": 3}


def full(**changes):
    sections = {"mix": MIX, "night": NIGHT, "programme": PROGRAMME, "cooling": COOLING, "dough": DOUGH}
    return msgspec.structs.replace(plan(scald=MALT), **{**sections, **changes})


def text_of(made, say=str):
    return render(card(made, say))


def test_the_worked_example_stands_on_the_card():
    rows = [" ".join(line.split()) for line in text_of(plan()).splitlines()]
    assert "white-wheat 150 g 850 g 1000 g 100.0" in rows
    assert "water 210 g 550 g 760 g 76.0" in rows
    assert "salt – 18.0 g 18.0 g 1.8" in rows
    assert "360 g + 1428 g = 1788 g 178.8" in rows


def test_every_card_says_that_the_dough_will_be_stickier():
    assert STICKIER in text_of(plan())
    assert STICKIER in text_of(full())


def test_a_full_card_of_four_ingredients_fits_one_screen():
    lines = render(card(full()), 24).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= WIDTH


SEEDS = [{"name": f"seed number {n}", "grams": 20 + n} for n in range(9)]
THREE = [{"name": n, "grams": g} for n, g in (("white-wheat", 600), ("whole-wheat", 300), ("whole-rye", 100))]
STEPS = ProgrammePart(
    steps=tuple(
        PlanStep(at_s=60.0 * n, words=words)
        for n, words in enumerate(
            (
                "Mix and start, at 19:23 at the latest, to be ready by 23:50.",
                "Stir to the bottom until the probe shows 66 °C, about 2 min: left alone it stays hot.",
                "Malt in once every part is below 70 °C; stir it.",
                "Lid on.",
                "Every part in range: the hold of 4 h at 65 °C begins.",
            )
        )
    )
)


def test_a_full_card_of_fourteen_ingredients_fits_a_screen_of_24_rows_with_every_mass_on_it():
    made = plan(flour=THREE, ingredient=SEEDS, scald=MALT)
    made = msgspec.structs.replace(made, mix=MIX, night=NIGHT, programme=STEPS, cooling=COOLING, dough=DOUGH)
    shown = card(made)
    small = render(shown, 23)
    assert len(small.splitlines()) <= 23
    assert max(map(len, small.splitlines())) <= WIDTH
    said = " ".join(small.split())
    for line in made.formula.lines:
        assert f"{line.name} {line.dough_g:.0f} g" in said or f"{line.name} {line.scald_g:.0f}" in said
    for step in STEPS.steps:
        assert step.words.split(":")[0] in said
    assert CAUTIONS_BRIEF in said
    assert len(render(shown).splitlines()) > 35, "piped it is whole"
    assert CAUTIONS_BRIEF not in render(shown)


LONG = ProgrammePart(
    steps=(
        *STEPS.steps[:4],
        PlanStep(at_s=1000.0, words="Every part in range: the hold of 2 h at 65 °C begins.", alone=True),
        PlanStep(at_s=8200.0, words="Your step 2 asks: “Taste it and write down how sweet it is”"),
        PlanStep(at_s=8300.0, words="Every part in range: the hold of 1 h at 66 °C begins.", alone=True),
        PlanStep(at_s=11900.0, words="Relay off, the paste falls to 63 °C, in 24 min.", alone=True),
        PlanStep(at_s=13300.0, words="Your step 5 asks: “Take a spoon of it out for the other batch”"),
        PlanStep(at_s=13900.0, words="Every part in range: the hold of 1 h at 64 °C begins.", alone=True),
    )
)
NOTES = tuple(f"Step {n} lets the paste fall to 55 °C, relay off: below the code's limit that is a cooling, judged as "
              "one." for n in (2, 4, 6))  # fmt: skip


def test_six_steps_of_ones_own_with_three_notes_fit_a_screen_of_24_rows_with_all_that_asks_for_hands():
    made = full(programme=LONG, warnings=NOTES)
    small, whole = render(card(made), 23), render(card(made))
    assert len(small.splitlines()) <= 23
    for step in LONG.steps:
        assert (step.words.split(":")[0].rstrip(".") in small) == (not step.alone)
        assert step.words.split(":")[0] in whole
    assert "3 notes: read them before you begin." in small
    assert "--html" in small.splitlines()[-1], "it says where they are"
    assert all(note.split(":")[0] in " ".join(whole.split()) for note in NOTES)


def test_a_small_screen_leaves_out_the_why_and_nothing_that_the_work_needs():
    long = msgspec.structs.replace(MIX, why="Because. " * 30, notes=("Or else. " * 30,))
    shown = card(full(mix=long))
    small, whole = render(shown, 24), render(shown)
    assert len(small.splitlines()) <= 24
    assert "Because" not in small
    assert "--html" in small.splitlines()[-1]
    assert "Because" in whole
    assert "Or else" in whole
    for section in shown.sections:
        for line in section.lines:
            assert line.rank > 0 or " ".join(line.text.split()) in " ".join(small.split())


def test_a_heater_that_is_too_weak_is_told_on_the_smallest_screen():
    weak = msgspec.structs.replace(NIGHT, mind=("The heater needs 90 % of its power to hold.",))
    assert "needs 90 % of its power" in render(card(full(night=weak)), 20)


def test_on_a_screen_too_low_for_even_that_the_warning_stands_at_the_end_too():
    night = msgspec.structs.replace(NIGHT, code_kept=False, verdict="5 h below 57 °C breaks it.", nearest="")
    lines = render(card(full(night=night)), 12).splitlines()
    assert "5 h below 57 °C" in lines[-1]
    assert lines.count(lines[-1]) == 2


def test_a_step_loses_its_reason_on_a_small_screen_only_where_that_saves_a_line():
    steps = (
        PlanStep(at_s=0.0, words=f"stir it down: {'because it is thick, ' * 4}it stays hot"),
        PlanStep(at_s=60.0, words="lid on: it dries"),
    )
    shown = card(full(programme=ProgrammePart(steps=steps)))
    small = render(shown, 20)
    assert "stir it down." in small
    assert "because" not in small
    assert "lid on: it dries" in small
    assert "because" in render(shown)


def test_the_last_step_gives_way_to_the_line_that_says_when_it_is_ready():
    steps = (*PROGRAMME.steps, PlanStep(at_s=NIGHT.ready_s[1], words="The hold is done."))
    shown = card(full(programme=ProgrammePart(steps=steps)))
    assert "The hold is done" in render(shown)
    assert "The hold is done" not in render(shown, 20)


def test_more_is_left_out_before_the_why():
    long = msgspec.structs.replace(MIX, notes=("Or else. " * 30,))
    small = render(card(full(mix=long)), 28)
    assert "Or else" not in small
    assert MIX.why in small


def test_the_card_follows_the_order_of_the_work():
    said = text_of(full())
    labels = [line.split()[0] for line in said.splitlines() if line[:1].isalpha()]
    wanted = ["Scald", "Malt", "Night", "Ready", "Cooling", "Dough", "Care"]
    assert [label for label in labels if label in wanted] == wanted


def test_a_section_that_nothing_filled_is_left_out():
    said = text_of(plan())
    for label in ("Malt", "Night", "Ready"):
        assert f"\n{label} " not in said


def test_a_plan_that_breaks_the_code_says_so_before_anything_is_weighed():
    night = msgspec.structs.replace(
        NIGHT, code_kept=False, verdict="5 h below 57 °C breaks the code.", nearest="Start at 70 °C."
    )
    said = text_of(full(night=night))
    assert (
        said.index("STOP")
        < said.index("5 h below 57 °C")
        < said.index("Start at 70 °C")
        < said.index("white-wheat")
    )


def test_energy_and_its_price_are_told():
    assert "about 0.21 kWh." in text_of(full(night=msgspec.structs.replace(NIGHT, energy_kwh=0.21)))
    dear = msgspec.structs.replace(NIGHT, energy_kwh=0.21, cost=0.0735)
    assert "about 0.21 kWh, 0.07 at your price." in text_of(full(night=dear))


def test_malt_goes_in_below_seventy_degrees():
    hot = msgspec.structs.replace(MIX, boil_first=True)
    assert "4.5 g, only once the mix is below 70 °C" in text_of(full(mix=hot))
    assert "4.5 g, once it is stirred smooth and reads below 70 °C" in text_of(full())


def test_times_are_local_clock_times_once_the_start_is_known():
    relative = text_of(full())
    assert "+10 min  stir until it reads 66 °C" in relative
    assert "4 h 20 min after mixing" in relative
    started = msgspec.structs.replace(PROGRAMME, start_utc_ms=1_767_225_600_000)
    import re

    assert re.search(r"\d\d:10  stir until it reads 66 °C", text_of(full(programme=started)))
    assert re.search(r"Ready +\d\d:20 \(\d\d:10 to \d\d:40\)", text_of(full(programme=started)))


def test_in_fahrenheit_no_celsius_is_left():
    said = text_of(full(), Look(units="F").text)
    assert "°C" not in said
    assert "204.8 °F: mix of 169.5 °F (167 °F to 172.4 °F)" in said


def test_common_practice_is_marked_and_ones_own_figures_are_not():
    assert "15 % 1:1.4*" in text_of(plan())
    own = plan(scald={"share": 15, "ratio": 1.4, "increase": 10})
    assert "*" not in text_of(own)


@pytest.mark.parametrize("letters", [1, 60])
def test_names_of_any_length_keep_the_columns(letters):
    name = "o" * letters
    made = plan(name=name, ingredient=[{"name": name + "x" * (letters < 60), "grams": 25_000}])
    lines = text_of(made).splitlines()
    assert max(map(len, lines)) <= WIDTH
    assert lines[0].startswith("o")


def test_a_page_shows_names_as_text_whatever_is_in_them():
    made = plan(name="<script>alert(1)</script> & co")
    html = page.page(card(made))
    assert "<script" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; co" in html


def test_a_page_loads_nothing_from_elsewhere_and_says_all_the_card_says():
    shown = card(full())
    html = page.page(shown)
    assert "http" not in html
    assert "src=" not in html
    for cell in (cell for row in shown.rows for cell in row):
        assert cell in html
    for section in shown.sections:
        assert section.label in html


@pytest.mark.parametrize(
    "suffix", [".png", ".svg"]
)  # .pdf takes as long as all else here; a command test draws one
def test_a_picture_is_the_same_bytes_for_the_same_plan(suffix, tmp_path):
    shown = card(full())
    paths = [tmp_path / f"{name}{suffix}" for name in "ab"]
    for path in paths:
        picture.draw(shown, path)
    assert paths[0].read_bytes() == paths[1].read_bytes()
    assert paths[0].stat().st_size > 5000


def test_a_picture_grows_with_what_there_is_to_say():
    many = [{"name": f"seed {n}", "grams": 10} for n in range(40)]
    from holdctl.plan.picture import _figure

    assert _figure(card(plan())).get_figheight() == pytest.approx(11.69)  # A4
    assert _figure(card(plan(ingredient=many))).get_figheight() > 14


def test_no_text_leaves_the_sheet():
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    from holdctl.plan.picture import _figure

    figure = _figure(card(full(), str))
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    sheet = figure.bbox
    for text in figure.texts:
        box = text.get_window_extent(canvas.get_renderer())
        assert sheet.x0 <= box.x0
        assert box.x1 <= sheet.x1
        assert sheet.y0 <= box.y0


def test_a_card_is_not_written_over_a_file_that_is_no_card(tmp_path):
    bread = tmp_path / "bread.toml"
    bread.write_text("precious", "utf-8")
    for write in (page.write, picture.draw):
        with pytest.raises(JobError, match="name end in"):
            write(card(plan()), bread)
    assert bread.read_text("utf-8") == "precious"


def test_a_place_that_cannot_be_written_is_told(tmp_path):
    for write, name in ((page.write, "card.html"), (picture.draw, "card.png")):
        with pytest.raises(JobError, match="Can't write"):
            write(card(plan()), tmp_path / "none" / name)
