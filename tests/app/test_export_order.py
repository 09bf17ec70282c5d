from dataclasses import replace
from datetime import date

from laser_samples import hide, layout_of, placement

from nesting.app.actions.bed import export_layout
from nesting.model import OrderLine


def test_files_come_in_the_order_in_which_to_burn_and_keep_their_names(tmp_path):
    parts = [placement(1, order=f"A-{n}", hide=f"h{n}") for n in (1, 2, 3)]
    layout = layout_of(parts, hides=[hide(f"h{n}") for n in (1, 2, 3)], thickness_spread_mm=0.05)
    lines = tuple(OrderLine(f"A-{n}", "tag", 1, date(2026, 9, day)) for n, day in ((1, 16), (2, 14), (3, 15)))
    layout = replace(
        layout,
        lines=lines,
        wanted={(f"A-{n}", "tag", "body"): 1 for n in (1, 2, 3)},
    )
    done = export_layout(layout, tmp_path / "out" / "cut", tmp_path)
    assert not done.findings
    assert [path.name for path in done.burnt] == ["h2-panel-1.svg", "h3-panel-1.svg", "h1-panel-1.svg"]
    assert [path.name for path in done.guides] == [f"h{n}-panel-1-guide.svg" for n in (2, 3, 1)]
    assert [(turn.hide, turn.number) for turn in done.turns] == [("h2", 1), ("h3", 2), ("h1", 3)]
