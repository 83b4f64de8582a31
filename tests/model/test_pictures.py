"""Pictures show what the evaluation computed: depth bands, exposure of both faces, and one sentence each."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from catalog_schema import load_library, parse_case
from model.evaluate import Evaluation, evaluate
from model.pictures import (
    Exposure,
    depth_curve,
    depth_frame,
    exposure,
    fluid_outcome,
    kind_clearing,
    path_per_gap,
    tightest_kind,
)
from model.provenance import inputs_behind
from model.stages import WashStage

CASE = """
washcase_case: 1
name: pictures
plant:
  name: p
  currency: EUR
  working_days: 250
  hours_per_day: 16
  air_temperature: 22 degC
  relative_humidity: 45 %
  air_pressure: 101.3 kPa
  tariffs: {labour: 38 EUR/h, electricity: 0.2 EUR/kWh, water: 0.004 EUR/L, deionised_water: 0.03 EUR/L,
            drain: 0.004 EUR/L, compressed_air: 0.03 EUR/m^3, exhaust_air: 0.002 EUR/m^3, floor: 120 EUR/(m^2*year),
            resin: 6 EUR/L, cleanliness_tests: 1500 EUR/year, downtime: 100 EUR/h}
  finance: {horizon: 10 year, discount_rate: 8 %, inflation: 2 %, tax_rate: 25 %}
board_types:
  - {id: dense, name: Dense, length: 160 mm, width: 100 mm, thickness: 1.6 mm, volume: 20000 boards/year, lot_size: 20,
     alloy: lead-free, flux: ROL0, peak_reflow_temperature: 245 degC, wait_before_wash: 4..8..24 h,
     components: [{kind: qfn-7x7, count: 4}, {kind: chip-0402, count: 90}, {kind: soic-8, count: 2},
                  {kind: dip, count: 1}],
     clear_distance: 1.5..2.5..4 mm, max_temperature: 110 degC}
compare_classes: [batch-spray-in-air, ultrasonic-immersion, none-uncleaned]
"""


def case_text() -> str:
    """Name the classes by what they are, whatever their ids in the library."""
    wanted = {}
    for record in load_library().machine_classes:
        if record.principle == "spray in air" and record.moving == "batch" and "diffused" in record.name:
            wanted["batch-spray-in-air"] = record.id
        if record.principle == "ultrasonic":
            wanted["ultrasonic-immersion"] = record.id
        if record.principle == "none":
            wanted["none-uncleaned"] = record.id
    text = CASE
    for word, identifier in wanted.items():
        text = text.replace(word, identifier)
    return text


@lru_cache(maxsize=1)
def evaluation() -> Evaluation:
    return evaluate(parse_case(case_text(), "text"), draws=64, rays=8192)


def machine_id(principle: str) -> str:
    return next(one.machine.id for one in evaluation().machines if one.machine.principle == principle)


def washing() -> tuple[str, WashStage]:
    """Give a fluid that dissolves the residue, and its wash in the spraying machine."""
    board = evaluation().machine(machine_id("spray in air")).board("dense")
    for fluid in board.fluids:
        if fluid.wash is not None and fluid.wash.outcome is not None:
            return fluid.fluid_id, fluid.wash
    raise AssertionError("no fluid dissolves the residue")


def shown(place: str) -> Exposure:
    return exposure(evaluation(), machine_id("spray in air"), "dense", washing()[0], place)  # type: ignore[arg-type]


def test_the_tightest_kind_has_the_longest_path_for_its_gap() -> None:
    board, library = evaluation().case.board_types[0], evaluation().library
    kinds = {kind.id: kind for kind in library.component_kinds}
    tight = tightest_kind(board, library)
    assert path_per_gap(tight) == max(path_per_gap(kinds[part.kind]) for part in board.components)
    assert tight.id == "qfn-7x7"


def test_a_kind_kept_by_the_evaluation_is_given_as_it_stands() -> None:
    _, stage = washing()
    assert stage.outcome is not None
    kept = stage.outcome.kinds[0]
    assert kind_clearing(evaluation(), "dense", stage, kept.kind.id) is kept


def test_a_kind_computed_anew_equals_what_the_evaluation_would_have_kept() -> None:
    _, stage = washing()
    assert stage.outcome is not None
    for kept in stage.outcome.kinds:
        others = tuple(kind for kind in stage.outcome.kinds if kind is not kept)
        hidden = type(stage.outcome)(
            kinds=others, screening_minutes=stage.outcome.screening_minutes, needed_time_s=stage.outcome.needed_time_s
        )
        without = WashStage(
            judged=stage.judged, state=stage.state, outcome=hidden, max_time_s=stage.max_time_s, pump=stage.pump,
            drive=stage.drive,
        )  # fmt: skip
        anew = kind_clearing(evaluation(), "dense", without, kept.kind.id)
        assert np.array_equal(anew.needed_time_s, kept.needed_time_s)
        assert np.array_equal(anew.speed_m_s, kept.speed_m_s)


def test_every_kind_on_the_board_has_a_curve() -> None:
    _, stage = washing()
    for component in evaluation().case.board_types[0].components:
        clearing = kind_clearing(evaluation(), "dense", stage, component.kind)
        assert clearing.kind.id == component.kind
        assert clearing.needed_time_s.shape == (64,)


def test_a_kind_that_is_not_on_the_board_is_refused() -> None:
    with pytest.raises(ValueError, match="carries no sot-23"):
        kind_clearing(evaluation(), "dense", washing()[1], "sot-23")


def test_a_wash_that_dissolves_nothing_has_no_curve() -> None:
    _, stage = washing()
    never = WashStage(judged=(), state=stage.state, outcome=None, max_time_s=None, pump=None, drive=None)
    with pytest.raises(ValueError, match="does not dissolve"):
        kind_clearing(evaluation(), "dense", never, "qfn-7x7")


def test_depth_starts_at_nothing_grows_and_keeps_its_band_in_order() -> None:
    _, stage = washing()
    curve = depth_curve(kind_clearing(evaluation(), "dense", stage, "qfn-7x7"), stage.max_time_s, "M")
    frame = depth_frame(curve)
    assert frame.iloc[0].tolist() == [0.0, 0.0, 0.0, 0.0]
    assert (np.diff(frame["middle_m"]) > 0).all()
    assert (frame["low_m"] <= frame["middle_m"]).all()
    assert (frame["middle_m"] <= frame["high_m"]).all()


def test_the_middle_curve_meets_the_depth_where_the_needed_time_says() -> None:
    _, stage = washing()
    clearing = kind_clearing(evaluation(), "dense", stage, "qfn-7x7")
    # With one and the same draw everywhere the band is a line, and crossing depth and needed time must agree.
    one = type(clearing)(
        kind=clearing.kind,
        **{name: np.full(64, np.broadcast_to(getattr(clearing, name), 64)[0])
           for name in type(clearing).__dataclass_fields__ if name != "kind"},
    )  # fmt: skip
    curve = depth_curve(one, np.full(64, one.needed_time_s[0]), "M")
    reached_m = np.interp(curve.needed_time_s[1], curve.time_s, curve.middle_m)
    assert reached_m == pytest.approx(curve.needed_m[1], rel=2e-3)
    assert curve.probability == 1.0
    assert np.array_equal(curve.low_m, curve.high_m)


def test_the_probability_of_the_curve_is_that_of_the_must() -> None:
    found = evaluation().machine(machine_id("spray in air")).board("dense")
    fluid_id, stage = washing()
    assert stage.outcome is not None
    must = next(one.requirement for one in fluid_outcome(found, fluid_id).judged if one.requirement.key == "clear")
    met = np.ones(64, dtype=bool)
    for kind in stage.outcome.kinds:
        met &= kind.needed_time_s <= np.asarray(stage.max_time_s)
    assert must.probability == met.mean()
    curve = depth_curve(stage.outcome.kinds[0], stage.max_time_s, "M")
    assert curve.probability is not None
    assert curve.probability >= must.probability


def test_without_a_known_limit_the_curve_says_so() -> None:
    _, stage = washing()
    curve = depth_curve(kind_clearing(evaluation(), "dense", stage, "qfn-7x7"), None, "Machine M")
    assert curve.limit_s is None
    assert "Machine M is not known" in curve.sentence.text()


def test_the_limit_is_on_the_axis_unless_the_depth_is_reached_long_before() -> None:
    _, stage = washing()
    clearing = kind_clearing(evaluation(), "dense", stage, "qfn-7x7")
    tight = depth_curve(clearing, np.full(64, float(np.median(clearing.needed_time_s))), "M")
    assert tight.limit_s is not None
    assert tight.time_s[-1] > tight.limit_s[2]
    ample = depth_curve(clearing, np.full(64, 100.0 * float(clearing.needed_time_s.max())), "M")
    assert ample.limit_s is not None
    assert ample.time_s[-1] < ample.limit_s[0]
    assert ample.probability == 1.0


def test_sentences_come_in_both_unit_systems() -> None:
    _, stage = washing()
    curve = depth_curve(kind_clearing(evaluation(), "dense", stage, "qfn-7x7"), stage.max_time_s, "M")
    assert " mm" in curve.sentence.text("metric")
    assert " in " in curve.sentence.text("US")


def test_both_faces_are_tiled_without_gap_and_each_names_one_weakest_cell() -> None:
    cells = shown("inner board").cells
    assert cells["side"].nunique() == 2
    for _, face in cells.groupby("side"):
        area = ((face["right_m"] - face["left_m"]) * (face["top_m"] - face["bottom_m"])).sum()
        assert area == pytest.approx(0.160 * 0.100)
        assert face["weakest"].sum() == 1
        assert face.loc[face["weakest"], "duty_share"].item() == face["duty_share"].min()


def test_shares_of_time_stay_between_nothing_and_always() -> None:
    for place in ("inner board", "outer board"):
        cells = shown(place).cells
        assert cells["duty_share"].between(0.0, 1.0 + 1e-9).all()
        assert (cells["direct_share"] <= cells["duty_share"] + 1e-12).all()
        assert (cells["pressure_Pa"] >= 0.0).all()


def test_inner_and_outer_board_differ_in_a_full_rack() -> None:
    inner, outer = shown("inner board"), shown("outer board")
    assert inner.places == ("outer board", "inner board")
    assert not np.array_equal(inner.cells["duty_share"], outer.cells["duty_share"])


def test_the_picture_uses_the_trace_that_the_evaluation_kept() -> None:
    before = len(evaluation().traces)
    picture = shown("inner board")
    assert len(evaluation().traces) == before
    assert picture.ray_count == next(iter(evaluation().traces.values())).ray_count


def test_the_sentence_agrees_with_the_cells() -> None:
    picture = shown("inner board")
    figures = {name: value for name, value, _ in picture.sentence.figures}
    assert figures["mean"] == pytest.approx(picture.cells["duty_share"].mean())
    assert figures["least"] == pytest.approx(picture.cells["duty_share"].min())


def test_a_machine_that_does_not_spray_has_no_picture() -> None:
    with pytest.raises(ValueError, match="does not spray in air"):
        exposure(evaluation(), machine_id("ultrasonic"), "dense", washing()[0], "inner board")


def test_sources_of_a_wash_name_its_stream_and_leave_out_later_stages() -> None:
    outcome = evaluation().machine(machine_id("spray in air"))
    paths = {record.path for record in inputs_behind(evaluation(), outcome, "dense", washing()[0], "wash")}
    group = f"machine_classes[{outcome.machine.id}]"
    assert f"{group}.spray.nozzle_diameter" in paths
    assert "component_kinds[qfn-7x7].gap" in paths
    assert "constants.restitution" in paths
    assert not [path for path in paths if path.startswith((f"{group}.dry.", f"{group}.prices.", f"{group}.rack."))]
