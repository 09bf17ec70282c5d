import io
import math
import re
from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import pytest
from laser_samples import DEEP, MACHINE, SETTING, SHALLOW, hide, layout_of, placement, rich_part
from pdfminer.high_level import extract_pages, extract_text
from shapely.geometry import LineString, Point, box

from nesting.laser.cautions import CAUTIONS
from nesting.laser.export import export
from nesting.laser.registration import lay, named_points
from nesting.laser.turns import Turn, Waiting
from nesting.leather.shades import shade
from nesting.model import Hide, Machine, OrderLine, Panel, Under
from nesting.report.card_files import write_cards
from nesting.report.card_page import cards_html
from nesting.report.card_pdf import cards_pdf
from nesting.report.cards import card
from nesting.report.laying import laying, points_to_measure
from nesting.report.limits import ReportLimits
from nesting.report.turn_words import turn_words
from nesting.report.words import duration

ORDER = OrderLine("A-1", "tag", 3, date(2026, 9, 14), thread="light linen", note="gift <wrapped> & more")


def card_of(tmp_path, parts=None, orders=(ORDER,), colour="natural", engravings=(SHALLOW,), **others):
    leather = replace(hide(), colour=colour)
    layout = layout_of(parts or [rich_part()], hides=[leather], engravings=engravings, **others)
    (file,) = export(layout, tmp_path).loads
    return card(layout, file, orders)


def test_a_card_names_its_file_setting_reason_and_time(tmp_path):
    made = card_of(tmp_path, [rich_part(under=Under(1.42, 1.55, 0.93))])
    assert made.title == "Hide h1, panel 1" and made.file == "h1-panel-1.svg"
    assert made.setting.startswith("1.5 mm: 10 mm/s, 60 % of 40 W, 2 passes (4.8 J/mm); kerf 0.2 mm")
    assert "1.3 to 1.7 mm (3.3 to 4.3 oz); tested" in made.why
    assert "1.42 to 1.55 mm (3.6 to 3.9 oz), at the worst spot 93 % sure" in made.why
    assert "5 min to load and unload" in made.time


def test_a_card_says_when_its_load_is_burnt_and_which_orders_wait_for_it():
    day = date(2026, 9, 14)
    turn = Turn("h1", "3", 1, 4, (Waiting("A-1", day), Waiting("A-2", day), Waiting("stall", None)), (1, 2, 4))
    assert turn_words(turn) == (
        "Burn first of 4. Free once knife lines 1, 2 and 4 are cut. "
        "Waiting for it: A-1, A-2 (due Monday 14 September); stall (no due date)."
    )
    found = [turn_words(replace(turn, number=n, of=30, lines=(2,))).partition(" Waiting")[0] for n in (2, 3, 11, 23)]
    assert found == [f"Burn {n} of 30. Free once knife line 2 is cut." for n in ("2nd", "3rd", "11th", "23rd")]
    by_hand = turn_words(replace(turn, number=0, lines=()), ReportLimits(most_orders_named=1))
    assert by_hand == "Waiting for it: A-1 (due Monday 14 September) and 2 more."


def test_cards_come_in_the_order_in_which_to_burn_with_what_is_cut_by_knife_before_its_hide(tmp_path):
    wide = hide(outline=box(0, 0, 500, 700))
    panels = (
        Panel("1", "h1", box(0, 0, 500, 300)),
        Panel("1", "h2", box(0, 0, 500, 300)),
        Panel("2", "h2", box(0, 400, 500, 450), "knife"),
    )
    orders = [OrderLine(f"A-{n}", "tag", 1, date(2026, 9, n)) for n in (10, 11, 12)]
    belt = placement(1, order="A-12", hide="h2", panel="2", y=405, outline=box(0, 0, 450, 40))
    parts = [placement(1, order="A-11"), placement(1, order="A-10", hide="h2"), belt]
    layout = layout_of(parts, hides=[hide(), replace(wide, id="h2")], panels=panels)
    page, _ = write_cards(layout, export(layout, tmp_path), tmp_path, orders)
    titles = re.findall("<h1>(.*)</h1>", page.read_text("utf-8"))
    assert titles == ["Hide h2, cut out first by knife: 2", "Hide h2, panel 1", "Hide h1, panel 1"]
    turns = re.findall("<th>Turn</th><td>(.*)</td>", page.read_text("utf-8"))
    assert turns[0] == "Before any load of this hide. Waiting for it: A-12 (due Saturday 12 September)."
    assert turns[1].startswith("Burn first of 2.") and turns[2].startswith("Burn 2nd of 2.")


def test_the_steps_come_in_burning_order_with_their_settings(tmp_path):
    steps = card_of(tmp_path).steps
    assert [step.operation for step in steps] == ["engraving", "stitch holes", "cutouts", "outlines"]
    assert steps[0].setting == "100 mm/s, 15 %, 1 ×" and steps[3].setting == "10 mm/s, 60 %, 2 ×"
    assert [step.lines for step in steps] == [1, 2, 1, 1]


def test_engraving_that_is_filled_and_that_is_followed_are_steps_of_their_own(tmp_path):
    rings = [LineString(box(a, 2, a + 8, 10).exterior.coords) for a in (2, 12)]
    part = placement(outline=box(0, 0, 40, 40), engrave=rings, engrave_how=("fill", "line"))
    steps = card_of(tmp_path, [part], engravings=(DEEP,), engraving_depth="deep").steps
    assert [step.operation for step in steps] == ["engraving, filled", "engraving, lines", "outlines"]
    assert [step.setting for step in steps[:2]] == ["80 mm/s, 30 %, 1 ×, rows 0.1 mm", "80 mm/s, 30 %, 1 ×"]


def test_the_settings_of_a_panel_are_told_in_turn_with_how_often_they_change(tmp_path):
    thick = replace(SETTING, name="thick", speed_mm_s=8)
    assert card_of(tmp_path, [placement()]).changes == ""
    layout = replace(
        layout_of([rich_part(), placement(2, x=100, setting="thick")], engravings=(SHALLOW,)),
        more_settings={"h1": (thick,)},
    )
    loads = export(layout, tmp_path).loads
    assert card(layout, loads[1], files=loads).changes == (
        "2 change-overs on this panel: engraving at 100 mm/s, 15 %, then cutting at 10 mm/s, 60 %, then cutting at "
        "8 mm/s, 60 % (this load)."
    )


def test_the_card_of_a_stage_says_how_far_to_feed_and_where_to_mark(tmp_path):
    long = replace(hide(outline=box(0, 0, 1500, 300)), colour="natural")
    panels = (Panel("1", "h1", box(0, 0, 1400, 300)), Panel("2", "h1", box(1400, 0, 1500, 300)))
    fed = replace(MACHINE, feed_through="width")
    layout = layout_of(
        [placement(1), placement(2, x=590), placement(3, x=1300)], hides=[long], panels=panels, machine=fed, kerf=0
    )
    cards = [card(layout, file) for file in export(layout, tmp_path).loads]
    assert [made.title for made in cards] == [f"Hide h1, panel 1, stage {n} of 3" for n in (1, 2, 3)]
    # The knife edge of 300 mm, its end B at the bottom, is at the left stop: the next part, from 590 to 650 mm of the
    # hide, begins 1400 - 650 = 750 mm on, less 1 mm of play.
    assert "its knife-straight edge of 300 mm" in cards[0].lay
    assert "mark S2 on the edge along the bottom stop, 749 mm straight from B" in cards[0].lay
    assert "Slide the leather 749 mm to the left along the bottom stop, until mark S2 (749 mm" in cards[1].lay
    assert (
        "Take out what is cut free. Take the left stop away. Slide the leather" in cards[1].lay
        and "--align 'h1/1/2 S2=x,y T2=x,y'" in cards[1].lay
    )


@pytest.mark.parametrize("overhang, cut_off", [(800, False), (700, True), (0, False)])
def test_what_is_burnt_is_cut_off_at_the_mark_where_the_housing_has_no_room_for_it(tmp_path, overhang, cut_off):
    long = replace(hide(outline=box(0, 0, 1300, 300)), colour="natural")
    fed = replace(MACHINE, feed_through="width", overhang_mm=overhang)
    layout = layout_of(
        [placement(1), placement(2, x=750)],
        hides=[long],
        panels=(Panel("1", "h1", box(0, 0, 1300, 300)),),
        machine=fed,
        kerf=0,
    )
    first, second = (card(layout, file) for file in export(layout, tmp_path).loads)
    assert "It reaches 700 mm over the right end of the bed, which must be open" in first.lay
    assert "and 749 mm from the left stop" not in first.lay and len(first.aftercare) == 1 < len(second.aftercare)
    assert ("It reaches 749 mm over the left end" in second.lay) != cut_off
    told = "would reach 49 mm too far over the left end of the bed: cut it off at mark S2" in second.lay
    assert told == cut_off and "Slide the leather 749 mm" in second.lay


def test_masking_says_how_much_and_dark_leather_needs_none(tmp_path):
    # A part of 100 x 100 mm with 10 mm around it: 1.2 x 1.2 dm less the corners' (4 - pi) / 100 dm2.
    part = placement(outline=box(0, 0, 100, 100), x=50, y=50)
    assert card_of(tmp_path, [part]).masking.startswith("Yes: paper tape on the grain side, 1.4 dm² (0.15 sq ft)")
    assert card_of(tmp_path, [part], colour="dark brown").masking.startswith("No:")


def test_aftercare_speaks_of_masking_only_where_there_is_any(tmp_path):
    light, dark = card_of(tmp_path), card_of(tmp_path, colour="black")
    assert light.aftercare[:2] == (
        "Wipe the edges with a damp cloth before the masking comes off.",
        "Take the masking off.",
    )
    assert dark.aftercare[0] == "Wipe the edges with a damp cloth." and not any(
        "masking" in text for text in dark.aftercare
    )


def test_a_second_run_on_a_panel_says_so(tmp_path):
    thick = replace(SETTING, name="thick", speed_mm_s=8)
    layout = replace(layout_of([placement(1), placement(2, x=100, setting="thick")]), more_settings={"h1": (thick,)})
    cards = [card(layout, file) for file in export(layout, tmp_path).loads]
    assert [made.title for made in cards] == ["Hide h1, panel 1", "Hide h1, panel 1, run 2"]
    assert "8 mm/s" in cards[1].setting


def test_parts_are_numbered_with_their_orders(tmp_path):
    parts = [placement(1), placement(2, x=120), placement(3, x=220, order="B-2")]
    rows = card_of(tmp_path, parts).parts
    assert [(row.number, row.order, row.count, row.due, row.thread) for row in rows] == [
        (1, "A-1", 2, "2026-09-14", "light linen"),
        (2, "B-2", 1, "", ""),
    ]


def warned(made, words):
    return any(words in text for text in made.warnings)


def test_light_thread_on_burnt_stitch_holes_is_warned_of_and_only_then(tmp_path):
    assert warned(card_of(tmp_path), "Thread light linen (A-1)")
    assert not warned(card_of(tmp_path, orders=[replace(ORDER, thread="dark brown")]), "Thread")
    assert not warned(card_of(tmp_path, [placement()]), "Thread")
    assert not warned(card_of(tmp_path, orders=()), "Thread")


def test_engraving_on_dark_leather_is_warned_of_and_only_then(tmp_path):
    assert warned(card_of(tmp_path, colour="dark brown"), "Engraving shows little")
    assert not warned(card_of(tmp_path, [placement()], colour="dark brown"), "Engraving")
    assert not warned(card_of(tmp_path), "Engraving shows little")


def test_light_leather_gets_dark_edges(tmp_path):
    assert warned(card_of(tmp_path), "come out dark") and not warned(
        card_of(tmp_path, colour="cognac"), "come out dark"
    )


@pytest.mark.parametrize(
    "under, words", [((1.32, 1.5), "scorch"), ((1.5, 1.68), "not be cut through"), ((1.45, 1.55), None)]
)
def test_leather_near_the_edge_of_the_window_is_warned_of(tmp_path, under, words):
    made = card_of(tmp_path, [placement(under=Under(*under, 0.95))])
    near = [text for text in made.warnings if "Leather near" in text]
    assert len(near) == (words is not None) and all(words in text and "A-1 body" in text for text in near)


def test_what_the_kerf_does_to_a_hole_is_on_the_card(tmp_path):
    tiny = LineString(Point(10, 10).buffer(0.05).exterior.coords)
    assert warned(card_of(tmp_path, [placement(stitch=[tiny])]), "burnt as a dot")


def test_a_colour_tells_light_from_dark():
    assert [shade(name) for name in ("natural", "Dark Brown", "cognac", "", "darkened?")] == [
        "light",
        "dark",
        "",
        "",
        "",
    ]


def test_times_are_said_as_people_say_them():
    assert [duration(s) for s in (0.2, 43, 190, 600, 1000, 4000)] == [
        "1 s",
        "43 s",
        "3 min 10 s",
        "10 min",
        "16 min",
        "1 h 7 min",
    ]


def test_the_page_says_all_of_it_and_no_more_than_text(tmp_path):
    made = card_of(tmp_path)
    page = cards_html([made])
    for text in (made.title, made.file, *made.aftercare):
        assert text in page
    assert "gift &lt;wrapped&gt; &amp; more" in page and page.count("<article>") == 1
    assert all(caution.replace('"', "&#34;").replace("'", "&#39;") in page for caution in CAUTIONS)
    assert "http" not in page.replace("http://www.w3.org", "")


def test_the_pdf_has_a_page_of_a4_for_each_card_with_every_caution(tmp_path):
    made = card_of(tmp_path)
    content = cards_pdf([made, replace(made, title="Hide h2, panel 1")])
    pages = list(extract_pages(io.BytesIO(content)))
    # A4 is 210 x 297 mm (ISO 216); 72 points to the inch.
    assert [(round(page.width / 72 * 25.4), round(page.height / 72 * 25.4)) for page in pages] == [(210, 297)] * 2
    text = " ".join(extract_text(io.BytesIO(content), page_numbers=[1]).split())
    assert "Hide h2, panel 1" in text and "gift <wrapped> & more" in text
    letters = re.sub(r"\W", "", text)
    assert all(re.sub(r"\W", "", caution) in letters for caution in (*CAUTIONS, *made.aftercare))


HOSTILE = "</para><b>&\x00\x1b]0;\u202e Größe 漢 <script>alert(1)</script>" + "W" * 150


def test_hostile_names_break_neither_page_nor_pdf(tmp_path):
    order = replace(ORDER, order=HOSTILE, thread=HOSTILE + " linen", note=HOSTILE)
    made = card_of(tmp_path, [rich_part(order=HOSTILE, part=HOSTILE)], orders=[order], colour=HOSTILE)
    page = cards_html([made])
    assert "<script" not in page and "\x1b" not in page and "\u202e" not in page
    assert len(list(extract_pages(io.BytesIO(cards_pdf([made]))))) >= 1


def test_a_card_with_very_many_parts_goes_over_to_another_page(tmp_path):
    made = card_of(tmp_path)
    many = replace(made, parts=made.parts * 70)
    content = cards_pdf([many, made])
    # pdfminer ends every page with a form feed
    pages = [re.sub(r"\W", "", page) for page in extract_text(io.BytesIO(content)).split("\f")[:-1]]
    assert sum(page.count("A1") for page in pages) >= 70
    # the first page has all but the rest of the parts, the next ones say whose they are, and the next card begins anew
    first, *more, last = pages
    assert all(re.sub(r"\W", "", line) in first for line in (*CAUTIONS, *made.aftercare)) and "A1" in first
    title = re.sub(r"\W", "", made.title)
    assert len(more) > 1 and all(f"{title}continued" in page for page in more)
    assert "continued" not in first + last


def test_customers_whose_names_begin_alike_are_told_apart_on_the_card(tmp_path):
    names = [f"Wilhelmina van Nieuwenhuizen-Oosterbeek, {first}" for first in ("Anna", "Berta")]
    made = card_of(tmp_path, [rich_part(order=name, x=20.0 + 90 * n) for n, name in enumerate(names)])
    assert sorted(part.order for part in made.parts) == names


def test_the_same_cards_make_the_same_files(tmp_path):
    made = card_of(tmp_path)
    assert cards_pdf([made]) == cards_pdf([made])


def test_without_a_load_no_cards_are_written(tmp_path):
    layout = layout_of([placement()], tannage="chrome")
    assert write_cards(layout, export(layout, tmp_path), tmp_path) == [] and list(tmp_path.iterdir()) == []


def test_how_far_masking_reaches_and_what_is_near_a_limit_may_be_said(tmp_path):
    part = placement(outline=box(0, 0, 100, 100), x=50, y=50, under=Under(1.36, 1.5, 0.95))
    layout = layout_of([part], hides=[replace(hide(), colour="natural")])
    exported = export(layout, tmp_path)
    (file,) = exported.loads
    near = ReportLimits(mask_border_mm=0.0, near_window_share=0.2)
    made = card(layout, file, limits=near)
    assert "1.0 dm²" in made.masking and "the parts and 0 mm around them" in made.masking
    assert warned(made, "Leather near") and not warned(card(layout, file), "Leather near")
    write_cards(layout, exported, tmp_path, limits=near)
    assert "the parts and 0 mm around them" in (tmp_path / "cards.html").read_text()


def test_what_is_not_burnt_has_no_card(tmp_path):
    layout = layout_of([placement()])
    (file,) = export(layout, tmp_path).loads
    with pytest.raises(ValueError, match="not burnt"):
        card(layout, replace(file, load=replace(file.load, setting=None)))


def test_the_lettered_points_are_told_by_distances_that_lead_back_to_them():
    hide = Hide("h1", box(0, 0, 1000, 390), tannage="vegetable", nominal_mm=1.5)
    panel, machine = box(560, 0, 1000, 390), Machine("laser", 600, 400, 40, bed_margin_mm=2.0)
    pose, load = lay(panel, hide, machine), SimpleNamespace(stage=None, run=1)
    said = points_to_measure(load, pose, hide, panel, machine, "mm")
    assert said.startswith("A and B: corners that the knife left. A to B 390 mm. From the left and the bottom stop: ")
    points = named_points(panel, hide)
    for name, across, up in re.findall(r"([AB]) (\d+) mm and (\d+) mm", said.partition("stop: ")[2]):
        there = pose.back(float(across) + machine.bed_margin_mm, float(up) + machine.bed_margin_mm)
        assert math.dist(there, points[name]) < 0.8


@pytest.mark.parametrize("untold", [set(), {"rated_w"}, {"kerf_mm"}, {"rated_w", "kerf_mm", "bed_width_mm"}])
def test_what_the_workshop_s_file_does_not_have_is_not_told_as_if_it_were_known(tmp_path, untold):
    # the same values throughout: what is measured as just that is known
    layout = layout_of([placement()], kerf=0.2, untold=frozenset(untold))
    (file,) = export(layout, tmp_path).loads
    made = card(layout, file)
    setting = made.setting
    assert any("First guesses are taken: a bed 600 mm wide" in one for one in made.warnings) == (
        "bed_width_mm" in untold
    )
    assert ("of 40 W (first guess)" in setting) == ("rated_w" in untold)
    assert ("kerf 0.2 mm (first guess: not measured yet?)" in setting) == ("kerf_mm" in untold)
    assert "kerf_mm" in untold or setting.endswith("kerf 0.2 mm")


def test_the_bed_margin_is_told_as_how_far_the_leather_lies_from_the_corner_of_the_bed():
    hide = Hide("h1", box(0, 0, 1000, 390), tannage="vegetable", nominal_mm=1.5)
    panel, load = box(560, 0, 1000, 390), SimpleNamespace(stage=None, run=1)
    for margin, told in ((0.8, " is 0.8 mm in from the bed's bottom left corner, along both sides"), (0.0, "")):
        machine = Machine("laser", 600, 400, 40, bed_margin_mm=margin)
        pose = lay(panel, hide, machine)
        x0, y0, _, _ = pose.put(panel).bounds
        assert (x0, y0) == pytest.approx((margin, margin))
        said = laying(load, pose, hide, panel, machine)
        assert told in said and ("bed margin" in said) == bool(margin)
        assert "bed margin" not in laying(SimpleNamespace(stage=None, run=2), pose, hide, panel, machine)


def test_folds_are_said_not_to_be_burnt_and_only_where_there_are_any(tmp_path):
    part = placement()
    with_folds = replace(part, folds=(LineString([(part.x + 2, part.y + 5), (part.x + 12, part.y + 5)]),))
    assert any("not burnt: mark them by hand" in text for text in card_of(tmp_path, [with_folds]).warnings)
    assert not any("Folds" in text for text in card_of(tmp_path, [part]).warnings)
