"""The workbook calculates by itself: recalculated by LibreOffice it agrees with the model to a cent."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import zipfile
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest
import yaml
from openpyxl.workbook import Workbook

from catalog_schema.files import parse_case, save_case
from model.__main__ import run
from model.cost_totals import CostStage, assemble, at_medians, cash_flow_of
from model.depreciation import straight_line_shares
from model.evaluate import Evaluation, evaluate
from model.finance import npv
from model.workbook import build_workbook, machines_for_workbook
from model.workbook_text import CellNames, harmless, money_format, sheet_name

CENT = 0.005
HOSTILE = '=HYPERLINK("http://x","y")'
RECALCULATE_ALWAYS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>0</value></prop></item></oor:items>"""


def case_content() -> dict[str, Any]:
    text = files("demo_catalog").joinpath("through_hole_plant.yaml").read_text(encoding="utf-8")
    content: dict[str, Any] = yaml.safe_load(text)
    content["compare_classes"] = ["manual-brush", "contract-service"]
    return content


def evaluation_of(content: dict[str, Any]) -> Evaluation:
    return evaluate(parse_case(yaml.safe_dump(content).encode(), "case.yaml"), draws=32, rays=2048, threads=1)


@pytest.fixture(scope="module")
def straight() -> Evaluation:
    content = case_content()
    content["plant"]["finance"] |= {"depreciation": "straight line", "depreciation_life": "6 year"}
    return evaluation_of(content)


@pytest.fixture(scope="module")
def macrs() -> Evaluation:
    content = case_content()
    content["name"] = HOSTILE
    content["candidates"][0]["name"] = "@SUM(A1:A9) & more"
    content["candidates"][1]["name"] = "+1+1|x"
    content["board_types"][0]["name"] = "-2+3"
    content["candidates"][1]["prices"]["life"] = "3 year"
    content["candidates"][1]["prices"]["residual_share"] = "15 %"
    return evaluation_of(content)


def recalculate(content: bytes, folder: Path) -> Workbook:
    """Let LibreOffice calculate every formula anew and read what it finds."""
    office = shutil.which("soffice")
    if office is None:
        if os.environ.get("CI") == "true":
            pytest.fail("LibreOffice (soffice) is not installed, and CI must recalculate the workbook.")
        pytest.skip("LibreOffice (soffice) is not installed, so the workbook cannot be recalculated here.")
    user = folder / "profile" / "user"
    user.mkdir(parents=True)
    (user / "registrymodifications.xcu").write_text(RECALCULATE_ALWAYS, encoding="utf-8")
    (folder / "book.xlsx").write_bytes(content)
    done = subprocess.run(
        [office, "--headless", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--convert-to", "xlsx",
         "--outdir", str(folder / "out"), str(folder / "book.xlsx")],
        capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert (folder / "out" / "book.xlsx").exists(), done.stderr
    return openpyxl.load_workbook(folder / "out" / "book.xlsx", data_only=True)


def read(content: bytes, *, values: bool = False) -> Workbook:
    return openpyxl.load_workbook(io.BytesIO(content), data_only=values)


def named_cell(book: Workbook, name: str) -> Any:
    sheet, cell = next(iter(book.defined_names[name].destinations))
    return book[sheet][cell.replace("$", "")]


def comparison(book: Workbook) -> dict[str, dict[str, Any]]:
    """Rows of the comparison by position of the machine, then by heading."""
    rows = list(book["Comparison"].iter_rows(min_row=3, values_only=True))
    return {str(number): dict(zip(rows[0], row, strict=True)) for number, row in enumerate(rows[1:]) if row[0]}


def agrees(book: Workbook, evaluation: Evaluation, stages: list[CostStage]) -> None:
    found = comparison(book)
    wanted = machines_for_workbook(evaluation)
    reference = stages[wanted.index("manual-brush")]
    totals = [cash_flow_of(one).after_tax_cost[:, :, 0].sum(axis=0) for one in (reference, *stages)]
    for number, stage in enumerate(stages):
        row = found[str(number)]
        assert row["Present cost"] == pytest.approx(float(stage.present_cost[0]), abs=CENT)
        assert row["Equivalent annual cost"] == pytest.approx(float(stage.equivalent_annual_cost[0]), abs=CENT)
        assert row["Paid at start, before tax"] == pytest.approx(float(stage.initial_cost[0]), abs=CENT)
        assert stage.cost_per_board is not None
        assert row["Cost per board"] == pytest.approx(float(stage.cost_per_board[0]), abs=CENT)
        if stage is not reference:
            saving = totals[0] - totals[number + 1]
            worth = float(npv(stage.finance.discount_rate[0], saving))
            assert row["Present value of savings"] == pytest.approx(worth, abs=CENT)
        sheet = next(one for one in book.worksheets if one.title.startswith(f"{number + 1} "))
        for label, values in (("Total after tax", totals[number + 1]),):
            line = next(one for one in sheet.iter_rows(values_only=True) if one[0] == label)
            assert line[4 : 4 + values.size] == pytest.approx(tuple(values), abs=CENT)


def medians(evaluation: Evaluation) -> list[CostStage]:
    found = []
    for machine_id in machines_for_workbook(evaluation):
        stage = evaluation.machine(machine_id).cost
        assert stage is not None
        found.append(at_medians(stage))
    return found


# ---- recalculation ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["straight", "macrs"])
def test_recalculated_workbook_agrees_with_the_model_to_a_cent(
    which: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    evaluation: Evaluation = request.getfixturevalue(which)
    content = build_workbook(evaluation)
    book = recalculate(content, tmp_path)
    agrees(book, evaluation, medians(evaluation))
    written = read(content, values=True)
    for sheet in written.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, int | float):
                    again = book[sheet.title][cell.coordinate].value
                    assert again == pytest.approx(cell.value, abs=CENT), (sheet.title, cell.coordinate)


def test_changed_assumptions_change_the_totals_as_in_the_model(straight: Evaluation, tmp_path: Path) -> None:
    book = read(build_workbook(straight))
    changes = {"Discount_rate": 0.13, "Tax_rate": 0.31, "Inflation_general": 0.045, "Inflation_labour": 0.07,
               "Depreciation_years": 4, "Tariff_labour": 51.0, "Tariff_electricity": 0.33, "Volume_factor": 1.2,
               "M2_batch_spray_purchase": 72_000.0, "M2_batch_spray_machines": 2,
               "M2_batch_spray_life_years": 5, "M2_batch_spray_residual_share": 0.12}  # fmt: skip
    for name, value in changes.items():
        named_cell(book, name).value = value
    stream = io.BytesIO()
    book.save(stream)
    again = recalculate(stream.getvalue(), tmp_path)
    wanted = machines_for_workbook(straight)
    changed = [
        changed_stage(one, batch=name == "batch-spray") for one, name in zip(medians(straight), wanted, strict=True)
    ]
    agrees(again, straight, changed)


def changed_stage(stage: CostStage, *, batch: bool) -> CostStage:
    """Give the stage with the same changes as made in the sheet, counted by the model."""
    own = {"plant.tariffs.labour": 51.0, "plant.tariffs.electricity": 0.33}
    drivers = []
    for one in stage.drivers:
        price, quantity = one.price, one.quantity
        if one.price_path in own:
            price = np.array([own[one.price_path]])
        if batch and one.line_id == "purchase":
            price = np.array([72_000.0])
        if one.kind.scaling == "with volume":
            quantity = quantity * 1.2
        if batch and one.kind.scaling == "per machine":
            quantity = quantity / stage.machines * 2.0
        drivers.append(replace(one, price=price, quantity=quantity))
    finance = replace(
        stage.finance, discount_rate=np.array([0.13]), tax_rate=np.array([0.31]), inflation=np.array([0.045]),
        inflation_by_group=stage.finance.inflation_by_group | {"labour": np.array([0.07])},
        depreciation_shares=straight_line_shares(4),
    )  # fmt: skip
    if batch:
        finance = replace(finance, life_years=np.array([5]), residual_share=np.array([0.12]))
    boards = {name: replace(one, boards_per_year=one.boards_per_year * 1.2) for name, one in stage.boards.items()}
    return assemble(tuple(drivers), finance, 2.0 if batch else stage.machines, boards, stage.missing)


@pytest.mark.parametrize("rate", [0.0, 4.0])
def test_no_discounting_and_very_high_rates_recalculate_without_an_error(
    straight: Evaluation, rate: float, tmp_path: Path
) -> None:
    book = read(build_workbook(straight, ["batch-spray"]))
    for name, value in (("Discount_rate", rate), ("Inflation_general", 0.0)):
        named_cell(book, name).value = value
    stream = io.BytesIO()
    book.save(stream)
    again = recalculate(stream.getvalue(), tmp_path)
    for sheet in again.worksheets:
        for row in sheet.iter_rows(values_only=True):
            assert not any(isinstance(one, str) and one.startswith("#") for one in row)


# ---- shape and safety ---------------------------------------------------------------------------------------------


def test_text_of_a_user_never_starts_a_formula(macrs: Evaluation) -> None:
    book = read(build_workbook(macrs))
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert "HYPERLINK" not in str(cell.value)
                    assert "A1:A9" not in str(cell.value)
                elif isinstance(cell.value, str):
                    assert not cell.value.startswith(("=", "+", "-", "@", "\t", "\r")), (sheet.title, cell.value)
    titles = [cell.value for cell in next(book["Comparison"].iter_rows(max_row=1))]
    assert HOSTILE in str(titles[0])
    assert "'@SUM(A1:A9) & more" in [row[0] for row in book["Comparison"].iter_rows(values_only=True)]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_leading_signs_get_an_apostrophe(start: str) -> None:
    assert harmless(f"{start}1+1").startswith("'")
    assert not harmless(f"\x01{start}1+1").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


def test_there_is_no_macro_and_no_outside_link(straight: Evaluation) -> None:
    with zipfile.ZipFile(io.BytesIO(build_workbook(straight))) as package:
        names = package.namelist()
    assert not any("vba" in name.lower() or "externalLink" in name or "hyperlink" in name.lower() for name in names)


def test_every_sheet_prints_on_a4_landscape_with_its_headings(straight: Evaluation) -> None:
    book = read(build_workbook(straight))
    assert {"Comparison", "Assumptions", "Drivers"} <= set(book.sheetnames)
    assert len(book.sheetnames) == 3 + len(machines_for_workbook(straight))
    for sheet in book.worksheets:
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.page_setup.paperSize == 9
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        # One page wide is the file format's default, so it is not written.
        assert sheet.page_setup.fitToWidth in (None, 1)
        assert sheet.page_setup.fitToHeight == 0
        assert sheet.print_title_rows


def test_assumptions_are_named_and_carry_basis(straight: Evaluation) -> None:
    book = read(build_workbook(straight))
    for name in ("Discount_rate", "Tax_rate", "Inflation_general", "Tariff_labour", "M2_batch_spray_purchase",
                 "M2_batch_spray_life_years", "Depreciation_shares", "Volume_factor"):  # fmt: skip
        assert name in book.defined_names
    row = named_cell(book, "Tariff_labour").row
    cells = [cell.value for cell in book["Assumptions"][row]]
    assert cells[2] == "USD/h"
    assert cells[3:6] == pytest.approx([28.0, 33.0, 40.0])
    assert cells[6]


def test_totals_hang_on_formulas_not_on_pasted_numbers(straight: Evaluation) -> None:
    book = read(build_workbook(straight))
    for sheet in book.worksheets[3:]:
        for row in sheet.iter_rows(min_row=5, min_col=5):
            assert all(cell.data_type == "f" for cell in row if cell.value is not None)


def test_money_is_written_in_the_case_currency(straight: Evaluation) -> None:
    book = read(build_workbook(straight))
    assert "[$$] #,##0.00" in book["Comparison"]["E4"].number_format
    assert money_format("JPY").startswith("[$¥] #,##0;")
    assert money_format("KWD").startswith("[$KWD] #,##0.000;")


def test_names_and_sheets_stay_valid_and_apart() -> None:
    names = CellNames()
    found = [names.unique(text) for text in ("A1", "a1", "offer-a", "offer_a", "9 lives", "", "Ω")]
    assert len({name.lower() for name in found}) == len(found)
    assert all(name[0].isalpha() and "_" in name for name in found)
    assert sheet_name(3, "Bad/[name]*?:'x'" * 5) == "3 Bad name x Bad name x Bad nam"
    assert len(sheet_name(12, "x" * 99)) == 31


def test_one_machine_without_a_reference_can_be_written(straight: Evaluation) -> None:
    book = read(build_workbook(straight, ["batch-spray"]))
    assert [name for name in book.sheetnames if name.startswith("1 ")] == ["1 Batch spray washer small"]
    assert comparison(book)["0"]["Present value of savings"] is None


def test_command_line_writes_the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    content = case_content()
    content["candidates"] = content["candidates"][:1]
    content["compare_classes"] = ["manual-brush"]
    case = tmp_path / "case.yaml"
    save_case(parse_case(yaml.safe_dump(content).encode(), "case.yaml"), case)
    target = tmp_path / "cost.xlsx"
    assert run(["workbook", str(case), "-o", str(target), "--draws", "8"]) == 0
    assert "2 machines" in capsys.readouterr().out
    assert openpyxl.load_workbook(target).sheetnames[:3] == ["Comparison", "Assumptions", "Drivers"]


def test_nothing_to_write_is_said() -> None:
    content = case_content()
    content["candidates"] = []
    content["compare_classes"] = []
    content["plant"]["finance"]["reference"] = None
    empty = evaluation_of(content)
    with pytest.raises(ValueError, match="nothing to write"):
        build_workbook(empty)
