"""The editing screens in a simulated browser: what is typed reaches the case, what is wrong is said at its field."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from catalog_schema import load_case
from catalog_schema.boards import BoardType
from catalog_schema.drafts import draft_folder, list_drafts, save_draft
from catalog_schema.files import case_text, save_case, starter_case
from catalog_schema.library import library_for, load_library
from catalog_schema.plant import Tariffs
from screens import edit_library, field_shapes, grid_fold

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog" / "mixed_plant.yaml"
TIMEOUT_S = 60
SCREENS = ("edit_boards", "edit_candidates", "edit_plant", "edit_library", "edit_priorities", "versions")


def screen(name: str, before: str = "") -> AppTest:
    text = (f"import streamlit as st\nfrom screens import case_state, frame, {name}\n"
            f"if 'ready' not in st.session_state:\n    st.session_state['ready'] = True\n    {before or 'pass'}\n"
            f"frame.sidebar()\n{name}.page()\n")  # fmt: skip
    return AppTest.from_string(text, default_timeout=TIMEOUT_S)


def words(at: AppTest) -> str:
    return " ".join(one.value for kind in (at.markdown, at.warning, at.info, at.error) for one in kind)


def errors(at: AppTest) -> str:
    """Give what is wrong, without the marks that keep markdown from acting."""
    return " ".join(one.value for one in at.error).replace("\\", "")


def labelled(elements, label: str):
    return next(one for one in elements if one.label == label)


def case_of(at: AppTest):
    session = at.session_state["washcase"]
    return session.history[session.position].case


@pytest.mark.parametrize("name", SCREENS)
@pytest.mark.parametrize("before", ["", "case_state.open_empty()"])
def test_each_screen_draws_for_a_full_and_an_empty_case(name, before):
    at = screen(name, before).run()
    assert not at.exception
    assert len(words(at)) > 100


def test_a_typed_number_reaches_the_case_and_is_echoed_with_its_unit():
    at = screen("edit_plant", "case_state.remember('plant-section', 'Tariffs')").run()
    labelled(at.text_input, "Price of labour").set_value("41 EUR/h").run()
    assert case_of(at).plant.tariffs.labour.si()[1] == pytest.approx(41 / 3600)
    assert "= 41 EUR/h" in words(at)
    assert "not saved" in words(at)
    labelled(at.button, "Undo").click().run()
    assert case_of(at).plant.tariffs.labour.likely == 38
    assert labelled(at.text_input, "Price of labour").value.startswith("34..38..43")


@pytest.mark.parametrize(
    ("given", "said"),
    [("12 bar", "does not measure money per hour"), ("41,5 EUR/h", "has a comma"), ("", "is missing"),
     ("-3 EUR/h", "is below 0"), ("9..3 EUR/h", "must not fall")],
)  # fmt: skip
def test_a_wrong_number_is_said_at_its_field_and_the_case_stays(given, said):
    at = screen("edit_plant", "case_state.remember('plant-section', 'Tariffs')").run()
    before = case_of(at)
    labelled(at.text_input, "Price of labour").set_value(given).run()
    assert case_of(at) is before
    assert said in errors(at)
    assert labelled(at.text_input, "Price of labour").value == given
    labelled(at.text_input, "Price of labour").set_value("40 EUR/h").run()
    assert not at.error


def test_a_board_type_is_added_to_an_empty_case():
    at = screen("edit_boards", "case_state.open_empty()").run()
    labelled(at.text_input, "Name of the board type").set_value("Motor drive")
    labelled(at.button, "Add board type").click().run()
    assert "Still needed: the alloy, the flux, the reflow peak" in errors(at)
    labelled(at.text_input, "Name of the board type").set_value("Motor drive")
    labelled(at.selectbox, "Solder alloy").set_value("lead-free")
    labelled(at.selectbox, "Flux of the residue").set_value("ROL0")
    labelled(at.text_input, "Reflow peak").set_value("245 degC")
    labelled(at.selectbox, "Tightest component kind").set_value("qfn-7x7")
    labelled(at.text_input, "How many of it on the board").set_value("3")
    labelled(at.button, "Add board type").click().run()
    (board,) = case_of(at).board_types
    assert (board.id, board.alloy, board.components[0].count) == ("motor-drive", "lead-free", 3)
    labelled(at.button, "Duplicate").click().run()
    assert [one.id for one in case_of(at).board_types] == ["motor-drive", "motor-drive-2"]
    labelled(at.button, "Delete").click().run()
    assert [one.id for one in case_of(at).board_types] == ["motor-drive"]


def test_the_last_component_cannot_be_removed_and_another_can_be_added():
    at = screen("edit_boards").run()
    board = case_of(at).board_types[0]
    for _ in range(len(board.components)):
        labelled(at.button, "Remove").click().run()
    assert len(case_of(at).board_types[0].components) == 1
    assert at.error
    fresh = next(one for one in at.selectbox if one.label == "New component: kind")
    fresh.set_value("melf")
    labelled(at.text_input, "New component: count").set_value("7")
    labelled(at.button, "Add").click().run()
    assert case_of(at).board_types[0].components[-1].count == 7


def test_an_offer_is_added_stated_and_unstated_again():
    at = screen("edit_candidates", "case_state.open_empty()").run()
    labelled(at.text_input, "Name of the offer").set_value("Inline spray")
    labelled(at.selectbox, "Machine class").set_value("inline-spray")
    labelled(at.text_input, "Purchase price").set_value("180000 EUR")
    labelled(at.button, "Add offer").click().run()
    (offer,) = case_of(at).candidates
    assert offer.prices.purchase.likely == 180000
    at.session_state["washcase"].choices["candidate-section"] = "Spray"
    at.session_state["washcase"].revision += 1
    at.run()
    assert "class\\: " in words(at)
    labelled(at.text_input, "Pressure at the spray nozzles").set_value("40 psi").run()
    assert case_of(at).candidates[0].spray.nozzle_pressure.text() == "40 psi"
    labelled(at.text_input, "Pressure at the spray nozzles").set_value("").run()
    assert case_of(at).candidates[0].spray.nozzle_pressure is None
    assert not at.error


def test_pasted_rows_become_board_types_only_when_all_are_right():
    at = screen("edit_boards").run()
    count = len(case_of(at).board_types)
    header = "name\tlength (mm)\twidth (mm)\tthickness (mm)\tvolume\tlot size\talloy\tflux\tpeak reflow temperature\t" \
             "wait before wash\tcomponents\tclear distance\tmax temperature\n"  # fmt: skip
    row = "Pasted\t120\t80\t1.6\t900 boards/year\t10\tlead-free\t{}\t245 degC\t4 h\tqfn-7x7 x 2\t2 mm\t95 degC\n"
    labelled(at.text_area, "Pasted cells").set_value(header + row.format("ROL9")).run()
    assert "is not a known flux kind" in errors(at)
    assert not [one for one in at.button if one.label.startswith("Take over")]
    labelled(at.text_area, "Pasted cells").set_value(header + row.format("ROL0")).run()
    assert "**1** new, **0** changed" in words(at)
    labelled(at.button, "Take over 1 row").click().run()
    assert len(case_of(at).board_types) == count + 1


def test_edited_cells_fold_into_the_case_and_refused_ones_are_named():
    case = load_case(DEMO)
    columns = {path: grid_fold.column_shape(BoardType, path) for path in ("name", "length", "coated", "lot_size")}
    ids = [record.id for record in case.board_types]
    edited = {0: {"length": "10 in", "coated": True}, 1: {"lot_size": "3 bar", "name": "New name"}}
    folded, refused = grid_fold.fold(case, "board_types", ids, columns, edited)
    assert folded.board_types[0].length.text() == "10 in"
    assert folded.board_types[0].coated
    assert folded.board_types[1].name == "New name"
    assert folded.board_types[1].lot_size == case.board_types[1].lot_size
    assert len(refused) == 1
    assert "lot size '3 bar'" in refused[0]
    assert grid_fold.fold(folded, "board_types", ids, columns, {0: {"length": "10 in"}})[0] == folded


def test_every_number_of_the_demo_survives_being_written_as_an_entry():
    case = load_case(DEMO)
    for board in case.board_types:
        for shape in field_shapes.shapes_of(BoardType):
            value = getattr(board, shape.name)
            if shape.quantity is not None and value is not None:
                again = shape.quantity.model_validate(field_shapes.entry_text(value))
                assert again.si() == value.si()


def test_a_draft_is_kept_offered_and_opened_as_unsaved_work():
    at = screen("edit_plant").run()
    labelled(at.text_input, "Name of the case").set_value("My own case").run()
    (draft,) = list_drafts(draft_folder())
    assert draft.case_name == "My own case"
    again = screen("edit_plant").run()
    assert "Unsaved work" in words(again)
    labelled(again.button, "Continue").click().run()
    assert case_of(again).name == "My own case"
    assert "not saved" in words(again)
    assert "Unsaved work" not in words(again)
    assert len(list_drafts(draft_folder())) == 1


def test_a_draft_that_is_discarded_is_gone_and_a_damaged_one_is_said():
    save_draft(load_case(DEMO), "session-1", draft_folder())
    (draft_folder() / "session-2.draft.json").write_bytes(b"{")
    at = screen("edit_plant").run()
    assert "damaged draft" in words(at)
    assert len([one for one in at.button if one.label == "Continue"]) == 1
    labelled(at.button, "Discard").click().run()
    labelled(at.button, "Discard").click().run()
    assert list_drafts(draft_folder()) == ()


def test_going_back_to_what_was_opened_leaves_no_draft():
    at = screen("edit_plant").run()
    labelled(at.text_input, "Name of the case").set_value("Changed").run()
    labelled(at.button, "Undo").click().run()
    assert list_drafts(draft_folder()) == ()
    assert "not saved" not in words(at)


def test_no_draft_is_offered_where_others_reach_the_server(monkeypatch):
    import streamlit as st

    from screens import draft_keeping

    save_draft(load_case(DEMO), "session-1", draft_folder())
    for address, count in (("127.0.0.1", 1), ("localhost", 1), ("::1", 1), ("0.0.0.0", 0), ("", 0), ("plant-pc", 0)):
        options = {"server.address": address, "server.allowedHosts": ["127.0.0.1", "localhost"]}
        monkeypatch.setattr(st, "get_option", options.get)
        assert len(draft_keeping.offered()) == count


def test_saving_goes_to_the_opened_file_and_another_persons_save_is_said(tmp_path, monkeypatch):
    path = tmp_path / "plant.yaml"
    save_case(load_case(DEMO), path)
    monkeypatch.setenv("WASHCASE_OPEN", str(path))
    at = screen("edit_plant").run()
    labelled(at.text_input, "Name of the case").set_value("Saved here").run()
    labelled(at.button, "Save to plant.yaml").click().run()
    assert load_case(path).name == "Saved here"
    assert "not saved" not in words(at)
    save_case(starter_case(), path)
    labelled(at.text_input, "Name of the case").set_value("Too late").run()
    labelled(at.button, "Save to plant.yaml").click().run()
    assert "was saved by someone else" in words(at)
    assert load_case(path).name == starter_case().name
    labelled(at.button, "Demo: Mixed plant").click().run()
    assert not [one for one in at.button if one.label.startswith("Save to")]


def test_versions_lists_changed_inputs_and_changed_answers():
    change = "case_state.edit(lambda case: set_value(case, 'board_types[power-supply].volume', '500 boards/year'), 'x')"
    at = screen("versions", f"from catalog_schema.case_edits import set_value; {change}").run(timeout=TIMEOUT_S * 3)
    assert not at.exception
    assert "**1** changed, **0** added, **0** removed" in words(at)
    assert "What changed in the answer" in [one.value for one in at.header]


def test_every_entry_of_a_form_explains_itself_and_one_button_lists_them_all():
    at = screen("edit_plant", "case_state.remember('plant-section', 'Tariffs')").run()
    assert "multiplies loading" in labelled(at.text_input, "Price of labour").help
    labelled(at.button, "What do these mean?").click().run()
    assert not at.exception
    said = words(at)
    assert "**Price of labour.** An hour of an operator" in said
    assert len([one for one in at.button if one.label == "Equation and source"]) == len(Tariffs.model_fields)


@pytest.mark.parametrize("kind", ["Component kinds", "Flux kinds", "Fluids", "Wetted materials", "Board parts",
                                  "Machine classes"])  # fmt: skip
def test_a_shipped_record_of_every_kind_is_copied_changed_and_deleted(kind):
    at = screen("edit_library", f"case_state.remember('library-kind', {kind!r})").run()
    field = edit_library.KINDS[kind]
    labelled(at.button, "Copy into this case").click().run()
    assert "Still needed: what to copy and a name for the copy" in errors(at)
    first = getattr(load_library(), field)[0]
    next(one for one in at.selectbox if one.label.endswith("to copy")).set_value(first.id)
    labelled(at.text_input, "Name of the copy").set_value("Our own one")
    labelled(at.button, "Copy into this case").click().run()
    assert not at.exception
    (own,) = getattr(case_of(at), field)
    assert (own.id, own.name) == ("our-own-one", "Our own one")
    labelled(at.text_area, "Note").set_value("Measured here.").run()
    assert getattr(case_of(at), field)[0].note == "Measured here."
    labelled(at.button, "Delete").click().run()
    assert getattr(case_of(at), field) == ()


def test_a_record_in_place_of_a_shipped_one_shows_it_beside_and_cannot_be_copied_twice():
    at = screen("edit_library").run()
    for _ in range(2):
        next(one for one in at.selectbox if one.label.endswith("to copy")).set_value("qfn-7x7")
        at.radio[0].set_value(edit_library.IN_PLACE)
        labelled(at.button, "Copy into this case").click().run()
    assert "own already" in errors(at)
    assert "shipped\\:" not in words(at)
    labelled(at.text_input, "Gap").set_value("25..30..35 um").run()
    assert case_of(at).component_kinds[0].gap.si()[1] == pytest.approx(30e-6)
    assert "shipped\\: 50" in words(at)
    assert "in place of the shipped one" in words(at)


def test_a_used_record_is_not_deleted_and_its_users_are_named():
    before = ("from catalog_schema.case_edits import copy_from_library, set_value; "
              "case_state.edit(lambda case: set_value(copy_from_library(case, 'component_kinds', 'melf', 'Sensor')[0],"
              " 'board_types[power-supply].components', [{'kind': 'sensor', 'count': 1}]), 'x')")  # fmt: skip
    at = screen("edit_library", before).run()
    labelled(at.button, "Delete").click().run()
    assert "is still used by board type" in errors(at)
    assert len(case_of(at).component_kinds) == 1


def test_rules_capacity_and_solubility_are_edited():
    copy = "from catalog_schema.case_edits import copy_from_library as copy; case_state.edit(lambda case: copy(" \
           "copy(case, 'wetted_materials', 'FKM')[0], 'fluids', 'di-water', 'Ours')[0], 'x'); "
    at = screen("edit_library", copy + "case_state.remember('library-kind', 'Wetted materials')").run()
    count = len(case_of(at).wetted_materials[0].rules)
    labelled(at.button, "Add rule").click().run()
    assert "is missing" in errors(at)
    own = [one for one in at.selectbox if one.label in ("Result", "Basis")][-2:]
    own[0].set_value("limited")
    own[1].set_value("measured")
    [one for one in at.text_input if one.label == "Why"][-1].set_value("Soaked for a week.")
    labelled(at.button, "Add rule").click().run()
    assert case_of(at).wetted_materials[0].rules[-1].why == "Soaked for a week."
    labelled(at.button, "Remove this rule").click().run()
    assert len(case_of(at).wetted_materials[0].rules) == count
    at = screen("edit_library", copy + "case_state.remember('library-kind', 'Fluids')").run()
    labelled(at.text_input, "Rosin").set_value("20 g/L").run()
    assert case_of(at).fluids[0].capacity["rosin"].si()[1] == pytest.approx(20)
    assert not at.error


def test_a_constant_of_our_own_stands_in_until_it_is_cleared():
    at = screen("edit_library", "case_state.remember('library-kind', 'Model constants')").run()
    labelled(at.text_input, "Restitution").set_value("0.25").run()
    case = case_of(at)
    assert library_for(case).constants.restitution.si()[1] == 0.25
    assert load_case(case_text(case)) == case
    assert "library\\: 30" in words(at)
    labelled(at.text_input, "Restitution").set_value("1.5").run()
    assert "is above 1" in errors(at)
    labelled(at.text_input, "Restitution").set_value("").run()
    assert library_for(case_of(at)).constants.restitution == load_library().constants.restitution


def test_a_parts_list_says_its_gaps_and_is_filled_from_the_starter_board_on_request():
    at = screen("edit_boards", "case_state.open_empty()").run()
    pasted = "Name,Size (mm),Yearly volume,Tightest component,Flux\nMotor drive,160 x 100,12000,QFN 7x7,ROL0\n" \
             "Sensor,wide,9000,QFN 5x5,ROL0\n"  # fmt: skip
    labelled(at.text_area, "Pasted cells").set_value(pasted).run()
    assert "row 3, column 'Size (mm)': 'wide' is not a size" in errors(at)
    labelled(at.text_area, "Pasted cells").set_value(pasted.replace("wide", "40 x 30")).run()
    assert "Needed and not in the table" in words(at)
    assert not [one for one in at.button if one.label.startswith("Take over")]
    labelled(at.checkbox, "Fill the gaps from the starter board").check().run()
    assert "Choose what nobody can guess: solder alloy" in words(at)
    labelled(at.selectbox, "Solder alloy of the rows without").set_value("lead-free").run()
    assert "**2** new, **0** changed" in words(at)
    labelled(at.button, "Take over 2 rows").click().run()
    assert not at.exception
    drive = case_of(at).board_types[0]
    assert drive.lot_size.basis == "engineering estimate"
    assert "engineering estimate" in words(at)
    assert "filled on import" in drive.note


def test_a_stakeholder_gives_weights_by_every_method():
    at = screen("edit_priorities", "case_state.open_empty()").run()
    assert "every criterion counts the same" in words(at)
    labelled(at.text_input, "Name of a new stakeholder").set_value("Quality")
    labelled(at.button, "Add").click().run()
    (voice,) = case_of(at).priorities.stakeholders
    assert (voice.id, voice.method, voice.swing["drying"]) == ("quality", "swing", 50)
    labelled(at.text_input, "Drying").set_value("80").run()
    assert case_of(at).priorities.stakeholders[0].swing["drying"] == 80
    # Six criteria at 50 and one at 80: 80 ÷ 380.
    assert "Drying 21 %" in words(at)
    labelled(at.text_input, "Drying").set_value("much").run()
    assert "valid number" in errors(at)
    labelled(at.text_input, "Drying").set_value("80").run()
    methods = next(one for one in at.button_group if one.label == "How the weights are given")
    for method in ("rank order", "pairwise", "direct", "swing"):
        methods = next(one for one in at.button_group if one.label == "How the weights are given")
        methods.set_value(method).run()
        assert not at.exception
        assert case_of(at).priorities.stakeholders[0].method == method
    assert case_of(at).priorities.stakeholders[0].swing["drying"] == 80
    assert len(case_of(at).priorities.stakeholders[0].pairwise) == 6
    labelled(at.button, "Delete").click().run()
    assert case_of(at).priorities.stakeholders == ()


def test_a_criterion_of_our_own_is_rated_and_a_weight_gets_a_range():
    at = screen("edit_priorities", "case_state.remember('priorities-section', 'Own criteria')").run()
    labelled(at.text_input, "Name of a new criterion").set_value("Service nearby")
    labelled(at.button, "Add").click().run()
    own = case_of(at).priorities.own_criteria[-1]
    assert own.id == "service-nearby"
    offer = case_of(at).candidates[0]
    labelled(at.text_input, offer.name).set_value("80 %").run()
    assert case_of(at).priorities.own_criteria[-1].ratings[offer.id].si()[1] == pytest.approx(0.8)
    labelled(at.text_input, offer.name).set_value("180 %").run()
    assert "is above 100 %" in errors(at)
    at = screen("edit_priorities", "case_state.remember('priorities-section', 'How sure the weights are')").run()
    labelled(at.text_input, "Low").set_value("0.4")
    labelled(at.text_input, "High").set_value("0.2")
    labelled(at.button, "State range").click().run()
    assert "is above high" in errors(at)
    labelled(at.text_input, "Low").set_value("0.1")
    labelled(at.button, "State range").click().run()
    assert case_of(at).priorities.weight_ranges["spray_reach"].high == 0.2
    labelled(at.button, "Take the range out").click().run()
    assert not case_of(at).priorities.weight_ranges
