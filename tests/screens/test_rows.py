"""What screens write: numbers with their range, probabilities without false certainty, text without effects."""

from __future__ import annotations

from importlib.resources import files

import pandas as pd
import pytest

from catalog_schema import library_for, machines_of, parse_case
from catalog_schema.quantity import Length, Pressure, Rate
from screens import board_rows, machine_rows, rows
from screens.frame import file_stem
from screens.parts import BADGES, plain
from screens.tables import csv_of


def demo():
    return parse_case(files("demo_catalog").joinpath("mixed_plant.yaml").read_bytes(), "mixed_plant.yaml")


def test_a_range_is_written_with_its_unit_once() -> None:
    assert rows.number(Pressure.model_validate("2..3..5 bar"), "metric") == "3 bar (2 to 5)"
    assert rows.number(Length.model_validate("25.4 mm"), "US") == "1 in"
    assert rows.number(Rate.model_validate("12000 boards/year"), "metric") == "12 000 per year"


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0 %"), (0.002, "under 1 %"), (0.5, "50 %"), (0.996, "over 99 %"), (1.0, "100 %"), (None, "not computed")],
)
def test_a_probability_claims_no_more_than_the_draws_tell(share: float | None, text: str) -> None:
    assert rows.percent(share) == text


def test_text_from_a_case_cannot_fetch_link_or_format() -> None:
    written = plain("![x](http://a.example/p.png) www.b.example $a$ :red[hi] <b>")
    assert "![" not in written
    assert "://" not in written
    assert "www." not in written
    for sign in ("$", "<", ":", "[", "]"):
        assert written.count(f"\\{sign}") == written.count(sign)


def test_a_table_cell_cannot_start_a_formula_in_a_spreadsheet() -> None:
    frame = pd.DataFrame({"name": ["=1+1", "@x", "-cmd", "-5 °C", "plain"], "number": [1.0, -2.0, 3.0, 4.0, 5.0]})
    lines = csv_of(frame).decode("utf-8-sig").splitlines()
    assert lines[1:] == ["'=1+1,1.0", "'@x,-2.0", "'-cmd,3.0", "-5 °C,4.0", "plain,5.0"]


def test_every_result_has_word_and_symbol() -> None:
    assert set(BADGES) == {"meets", "falls short", "unknown"}
    symbols = {badge.split("[")[1][0] for badge in BADGES.values()}
    assert len(symbols) == 3
    for result, badge in BADGES.items():
        assert result in badge


def test_what_an_offer_leaves_out_is_said_with_the_class_range_beside_it() -> None:
    case = demo()
    library = library_for(case)
    classes = {record.id: record for record in library.machine_classes}
    offer = next(machine for machine in machines_of(case, library) if machine.is_candidate)
    frame = machine_rows.machine_rows(offer, classes[offer.class_id], "metric")
    silent = frame[frame["Offer states"] == "not stated"]
    stated, left_out = machine_rows.statements(offer, classes[offer.class_id])
    assert (len(frame) - len(silent), len(silent)) == (stated, left_out)
    assert (silent["Class range"] != "not known").all()
    assert (frame["Basis"] != "").all()


def test_a_generic_class_has_no_column_for_statements() -> None:
    case = demo()
    library = library_for(case)
    classes = {record.id: record for record in library.machine_classes}
    generic = next(machine for machine in machines_of(case, library) if not machine.is_candidate)
    frame = machine_rows.machine_rows(generic, classes[generic.class_id], "metric")
    assert "Offer states" not in frame


def test_one_number_across_machines_marks_what_is_stated() -> None:
    case = demo()
    machines = machines_of(case, library_for(case))
    frame = machine_rows.across_machines(machines, "wash.max_time", "metric")
    stated = {machine.name for machine in machines if machine.is_stated("wash.max_time")}
    assert set(frame.loc[frame["mark"] == "stated", "name"]) == stated
    assert frame["panel"].unique().tolist() == ["Longest wash [min]"]


def test_the_board_mix_lists_every_board_type_with_its_tightest_component() -> None:
    case = demo()
    mix = board_rows.board_mix(case, library_for(case), "metric")
    assert mix["Board type"].tolist() == [board.name for board in case.board_types]
    assert mix["Tightest component"].str.len().min() > 0
    assert len(board_rows.written_mix(mix)) == len(mix)


def test_exactly_one_component_kind_of_a_board_is_marked_tightest() -> None:
    case = demo()
    library = library_for(case)
    for board in case.board_types:
        marks = board_rows.component_rows(board, library, "metric")["Mark"]
        assert (marks == "tightest").sum() == 1
        assert marks.iloc[0] == "tightest"


def test_a_case_name_becomes_a_harmless_file_name() -> None:
    assert file_stem("../../Mixed plant: A/B") == "mixed-plant-a-b"
    assert file_stem("…") == "case"
