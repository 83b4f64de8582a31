"""Records written as rows of text in the reader's units; no Streamlit, nothing computed."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd
from pydantic import BaseModel

from catalog_schema.boards import BoardType
from catalog_schema.case import Case, Library
from catalog_schema.machine import Machine
from catalog_schema.machines import Equipment, MachineClass
from catalog_schema.quantity import Quantity
from catalog_schema.units import DIMENSIONS, convert, number_text, readable_unit, show
from model.evaluate import BoardOutcome, Evaluation, MachineOutcome
from model.pictures import DepthCurve, Exposure, path_per_gap, tightest_kind
from model.provenance import origin, record_of
from model.requirements import Requirement
from model.uncertainty import Input

GROUPS = {
    "candidates": "Offer", "machine_classes": "Machine class", "board_types": "Board type", "fluids": "Fluid",
    "component_kinds": "Component kind", "flux_kinds": "Flux", "constants": "Model constant", "plant": "Plant",
    "wetted_materials": "Wetted material", "board_parts": "Board part",
}  # fmt: skip


def words(name: str) -> str:
    """Turn a field's name into words: "spray.nozzle_diameter" becomes "Spray: nozzle diameter"."""
    text = name.replace("_", " ").replace(".", ": ")
    return text[:1].upper() + text[1:]


def number(quantity: Quantity, system: str) -> str:
    """Write a quantity as likely value and range in the reader's units."""
    low, likely, high = quantity.si()
    return span(low, likely, high, quantity.dimension, system, quantity.currency or "")


def span(low: float, likely: float, high: float, dimension: str, system: str, currency: str = "") -> str:
    """Write a likely value with its range behind it."""
    middle = show(likely, dimension, system, currency)
    if low == high:
        return middle
    ends = (number_text(amount(end, dimension, system)) for end in (low, high))
    return f"{middle} ({' to '.join(ends)})"


def percent(share: float | None) -> str:
    """Write a probability without claiming more than the draws can tell."""
    if share is None:
        return "not computed"
    if 0 < share < 0.01:
        return "below 1 %"
    return "above 99 %" if 0.99 < share < 1 else f"{share:.0%}".replace("%", " %")


def quantity_rows(records: Iterable[tuple[str, BaseModel, str]], system: str) -> pd.DataFrame:
    """List every quantity of some records, each given as its heading, the record and the basis where none is named."""
    found = []
    for heading, record, basis in records:
        for name in type(record).model_fields:
            value = getattr(record, name)
            if isinstance(value, Quantity):
                found.append((heading, words(name), number(value, system), value.text(), value.basis or basis,
                              value.source or "none named", value.note))  # fmt: skip
    return pd.DataFrame(found, columns=["Of", "What", "Value (range)", "As given", "Basis", "Source", "Note"])


def input_rows(evaluation: Evaluation, inputs: Iterable[Input], system: str) -> pd.DataFrame:
    """List the inputs of an evaluation with where each stands, what it is and what it rests on."""
    case, currency = evaluation.case, evaluation.case.plant.currency
    names = record_names(case, evaluation.library)
    found = []
    for record in inputs:
        group, identifier, name = record_of(record.path)
        place = f"{GROUPS.get(group, words(group))} {names.get((group, identifier), identifier)}".strip()
        value = span(record.low, record.likely, record.high, record.dimension, system, currency)
        found.append((place, words(name), value, record.given, origin(record, case), record.basis,
                      record.source or "none named", record.note, record.path))  # fmt: skip
    columns = ["Of", "What", "Value (range)", "As given", "Stands in", "Basis", "Source", "Note", "Path"]
    return pd.DataFrame(found, columns=columns)


def record_names(case: Case, library: Library) -> dict[tuple[str, str], str]:
    """Give the name shown to people of every record, by group and id."""
    groups = ("machine_classes", "component_kinds", "flux_kinds", "board_parts", "fluids", "wetted_materials")
    named = {(group, record.id): record.name for group in groups for record in getattr(library, group)}
    for group in ("candidates", "board_types"):
        named |= {(group, record.id): record.name for record in getattr(case, group)}
    return named


def board_mix(case: Case, library: Library, system: str) -> pd.DataFrame:
    """List the board types with what makes each easy or hard to clean."""
    flux = {record.id: record for record in library.flux_kinds}
    found = []
    for board in case.board_types:
        tight = tightest_kind(board, library)
        found.append(
            (board.name, f"{show(board.length.si()[1], 'length', system)} × {show(board.width.si()[1], 'length', system)}",
             number(board.volume, system).replace("1/year", "boards/year"), board.alloy, flux[board.flux].name,
             number(board.peak_reflow_temperature, system), number(board.wait_before_wash, system), tight.name,
             number(tight.gap, system), number(tight.flux_path, system))
        )  # fmt: skip
    return pd.DataFrame(found, columns=[
        "Board type", "Size", "Volume", "Alloy", "Flux", "Reflow peak", "Wait before wash", "Tightest component", "Gap",
        "Flux path"])  # fmt: skip


def component_rows(board: BoardType, library: Library, system: str) -> pd.DataFrame:
    """List a board's component kinds, the longest flux path for its gap first, and mark that tightest one."""
    kinds = {kind.id: kind for kind in library.component_kinds}
    tightest = tightest_kind(board, library).id
    present = sorted(board.components, key=lambda part: -path_per_gap(kinds[part.kind]))
    return pd.DataFrame(
        [
            (kinds[part.kind].name, "tightest" if part.kind == tightest else "", part.count,
             number(kinds[part.kind].gap, system), number(kinds[part.kind].flux_path, system),
             f"{path_per_gap(kinds[part.kind]):.0f}", number(kinds[part.kind].open_edge_share, system),
             kinds[part.kind].note)
            for part in present
        ],
        columns=["Component kind", "Mark", "On the board", "Gap", "Flux path", "Path ÷ gap", "Open edge",
                 "Note"],
    )  # fmt: skip


def unit_of(dimension: str, system: str) -> str:
    """Name the unit that a dimension is shown in."""
    shape = DIMENSIONS[dimension]
    return readable_unit(shape.metric_unit if system == "metric" else shape.us_unit)


def amount(value_si: float, dimension: str, system: str) -> float:
    """Turn an SI value into the reader's unit."""
    shape = DIMENSIONS[dimension]
    return convert(float(value_si), shape.si_unit, shape.metric_unit if system == "metric" else shape.us_unit)


def component_ranges(board: BoardType, library: Library, system: str) -> pd.DataFrame:
    """Give gap and flux path of a board's component kinds for drawing, in the reader's units."""
    kinds = {kind.id: kind for kind in library.component_kinds}
    tightest = tightest_kind(board, library).id
    present = sorted({part.kind for part in board.components}, key=lambda kind: -path_per_gap(kinds[kind]))
    found = []
    for panel, name in (
        (f"Gap [{unit_of('gap', system)}]", "gap"), (f"Flux path [{unit_of('length', system)}]", "flux_path"),
    ):
        for kind in present:
            quantity = getattr(kinds[kind], name)
            low, likely, high = (amount(value, quantity.dimension, system) for value in quantity.si())
            found.append((panel, kinds[kind].name, low, likely, high, "tightest" if kind == tightest else "other kinds"))
    return pd.DataFrame(found, columns=["panel", "name", "low", "likely", "high", "mark"])


def text_of(value: object, system: str) -> str:
    """Write any field of a machine: quantity, word, yes or no, list, or not known."""
    if value is None:
        return "not known"
    if isinstance(value, Quantity):
        return number(value, system)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return "; ".join(f"{name}: {word}" for name, word in value.items())
    if isinstance(value, tuple):
        return ", ".join(f"{part.part} of {part.material}" if hasattr(part, "part") else str(part) for part in value)
    return str(value)


def machine_rows(machine: Machine, machine_class: MachineClass, system: str) -> pd.DataFrame:
    """List everything known of a machine: what the offer states, the class's range beside it, basis and source."""
    found = []
    for path, used, of_class in machine_fields(machine, machine_class):
        if used is None:
            continue
        stated = machine.is_stated(path)
        said = text_of(used, system) if stated else ("not stated" if machine.is_candidate else "")
        quantity = used if isinstance(used, Quantity) else None
        basis = (quantity.basis if quantity else None) or ("stated" if stated else "engineering estimate")
        found.append((words(path), said, text_of(of_class, system), quantity.text() if quantity else text_of(used, system),
                      basis, (quantity.source if quantity else "") or "none named",
                      quantity.note if quantity else ""))  # fmt: skip
    columns = ["What", "Offer states", "Class range", "Used, as given", "Basis", "Source", "Note"]
    frame = pd.DataFrame(found, columns=columns)
    return frame if machine.is_candidate else frame.drop(columns="Offer states")


def machine_fields(machine: Machine, machine_class: MachineClass) -> list[tuple[str, object, object]]:
    """Give path, value used and value of the class for every field of a machine."""
    found: list[tuple[str, object, object]] = []
    for section in Equipment.model_fields:
        used, of_class = getattr(machine.equipment, section), getattr(machine_class, section)
        # A section groups fields; a quantity, list or mapping at the top is a field itself.
        if isinstance(of_class, BaseModel) and not isinstance(of_class, Quantity):
            names = type(of_class).model_fields
            found += [(f"{section}.{name}", getattr(used, name), getattr(of_class, name)) for name in names]
        else:
            found.append((section, used, of_class))
    return found


def statements(machine: Machine, machine_class: MachineClass) -> tuple[int, int]:
    """Count the fields that an offer states, and those its class knows but the offer leaves out."""
    fields = machine_fields(machine, machine_class)
    stated = sum(1 for path, _, _ in fields if machine.is_stated(path))
    return stated, sum(1 for path, used, _ in fields if used is not None and not machine.is_stated(path))


def requirement_rows(evaluation: Evaluation, outcome: MachineOutcome, boards: Iterable[BoardOutcome],
                     system: str) -> pd.DataFrame:  # fmt: skip
    """List the musts of a machine on some board types, as they stand with the fluid chosen for each."""
    currency = evaluation.case.plant.currency
    names = record_names(evaluation.case, evaluation.library)
    found = []
    for board in boards:
        for one in board.chosen.judged:
            must = one.requirement
            found.append(
                (names.get(("board_types", must.board_id), must.board_id), names.get(("fluids", must.fluid_id), ""),
                 must.title, must.result, measure(must, system, currency), margin(must), percent(must.probability),
                 must.sentence.text(system, currency))
            )  # fmt: skip
    return pd.DataFrame(found, columns=[
        "Board type", "Fluid", "Must", "Result", "Measure against limit", "Margin", "Probability", "Finding"])  # fmt: skip


def measure(must: Requirement, system: str, currency: str) -> str:
    """Write a must's measure with its band, and its limit."""
    if must.measure is None or must.limit is None:
        return "yes or no"
    low, middle, high = must.measure
    written = span(low, middle, high, must.dimension, system, currency)
    return f"{written}, {must.direction} {show(must.limit, must.dimension, system, currency)}"


def margin(must: Requirement) -> str:
    """Write the margin: how many times better than the limit the middle of the draws is."""
    if must.margin_ratio is None:
        return "–"
    return f"{must.margin_ratio:.2g} ×" if must.margin_ratio < 1000 else "over 1000 ×"


def figures(must: Requirement, system: str, currency: str) -> str:
    """Write a must's probability, margin and measure in one line, as far as it has them."""
    written = [f"Probability {percent(must.probability)}"]
    if must.margin_ratio is not None:
        written.append(f"margin {margin(must)}")
    if must.measure is not None:
        written.append(measure(must, system, currency))
    return " · ".join(written)


def joint_probability(outcome: MachineOutcome) -> str:
    """Write the probability that all musts hold; an upper bound where some could not be computed."""
    open_ended = any(one.met is None for board in outcome.boards for one in board.chosen.judged)
    return f"at most {percent(outcome.probability)}" if open_ended else percent(outcome.probability)


def verdict_rows(evaluation: Evaluation, system: str) -> pd.DataFrame:
    """List the verdict on every machine, with the must that decides."""
    currency = evaluation.case.plant.currency
    names = record_names(evaluation.case, evaluation.library)
    found = []
    for outcome in evaluation.machines:
        must = outcome.deciding.requirement if outcome.deciding else None
        found.append(
            (outcome.machine.name, "offer" if outcome.machine.is_candidate else "class", outcome.result,
             joint_probability(outcome), names.get(("board_types", must.board_id), "all") if must else "",
             must.title if must else "", must.sentence.text(system, currency) if must else "")
        )  # fmt: skip
    return pd.DataFrame(found, columns=[
        "Machine", "Kind", "Result", "Probability", "Decided on", "Deciding must", "Finding"])  # fmt: skip


def machine_list(machines: Iterable[Machine], classes: dict[str, MachineClass]) -> pd.DataFrame:
    """List machines with their class, principle and how much of it an offer states."""
    found = []
    for machine in machines:
        stated, silent = statements(machine, classes[machine.class_id])
        share = f"{stated} of {stated + silent}" if machine.is_candidate else "generic class"
        found.append((machine.name, "offer" if machine.is_candidate else "class", machine.class_name, machine.principle,
                      machine.moving, share))  # fmt: skip
    return pd.DataFrame(found, columns=["Machine", "Kind", "Class", "Drives fluid by", "Boards pass", "Values stated"])


def numeric_paths(machines: Iterable[Machine], classes: dict[str, MachineClass]) -> list[str]:
    """List the paths of all numbers that at least two machines have."""
    counted: dict[str, int] = {}
    for machine in machines:
        for path, used, _ in machine_fields(machine, classes[machine.class_id]):
            counted[path] = counted.get(path, 0) + isinstance(used, Quantity)
    return [path for path, count in counted.items() if count >= 2] or [path for path, count in counted.items() if count]


def across_machines(machines: Iterable[Machine], path: str, system: str) -> pd.DataFrame:
    """Give one number of every machine for drawing, in the reader's units, with what it rests on."""
    section, _, name = path.partition(".")
    found = []
    for machine in machines:
        holder = getattr(machine.equipment, section)
        quantity = getattr(holder, name) if name else holder
        if isinstance(quantity, Quantity):
            unit = f" [{unit_of(quantity.dimension, system)}]".replace(" []", "").replace("money", quantity.currency or "")
            low, likely, high = (amount(value, quantity.dimension, system) for value in quantity.si())
            found.append((words(path) + unit, machine.name, low, likely, high,
                          "stated" if machine.is_stated(path) else "class range"))  # fmt: skip
    return pd.DataFrame(found, columns=["panel", "name", "low", "likely", "high", "mark"])


def thresholds(evaluation: Evaluation) -> tuple[float, float]:
    """Give the probabilities from which a must is met and up to which it is missed."""
    musts = evaluation.case.plant.requirements
    return musts.probability.si()[1], musts.rule_out_below.si()[1]


def probabilities(evaluation: Evaluation) -> pd.DataFrame:
    """Give each machine's result and probability for drawing."""
    found = [(outcome.machine.name, outcome.probability, outcome.result) for outcome in evaluation.machines]
    return pd.DataFrame(found, columns=["name", "probability", "result"])


def verdict_sentence(evaluation: Evaluation) -> str:
    """Say in one sentence how many offers and classes can, cannot, or may clean every board type."""
    written = []
    for word, is_candidate in (("offers", True), ("classes", False)):
        results = [one.result for one in evaluation.machines if one.machine.is_candidate == is_candidate]
        if results:
            written.append(f"of {len(results)} {word}, {results.count('falls short')} are ruled out, "
                           f"{results.count('unknown')} stay open and {results.count('meets')} meet every must")  # fmt: skip
    text = "; ".join(written)
    return f"{text[:1].upper()}{text[1:]}, over {len(evaluation.case.board_types)} board types."


Three = tuple[float, float, float]


def depth_rows(curve: DepthCurve, system: str) -> tuple[pd.DataFrame, Three, Three | None]:
    """Give a depth curve, the depth needed and the longest wash in the reader's units."""

    def three(values: Three, dimension: str) -> Three:
        low, middle, high = (amount(value, dimension, system) for value in values)
        return low, middle, high

    frame = pd.DataFrame(
        {name: [amount(value, dimension, system) for value in values]
         for name, values, dimension in (("time", curve.time_s, "time"), ("low", curve.low_m, "length"),
                                         ("middle", curve.middle_m, "length"), ("high", curve.high_m, "length"))}
    )  # fmt: skip
    return frame, three(curve.needed_m, "length"), None if curve.limit_s is None else three(curve.limit_s, "time")


def depth_table(frame: pd.DataFrame, time_unit: str, depth_unit: str) -> pd.DataFrame:
    """Head the columns of a depth curve for reading."""
    heads = {"time": f"Wash time [{time_unit}]", "low": f"Depth, 5 % [{depth_unit}]",
             "middle": f"Depth, middle [{depth_unit}]", "high": f"Depth, 95 % [{depth_unit}]"}  # fmt: skip
    return frame.rename(columns=heads)


def exposure_rows(shown: Exposure, value: str, title: str, system: str) -> tuple[pd.DataFrame, str, str]:
    """Give the cells of both faces in the reader's units, the title with unit, and the number format."""
    cells = shown.cells
    frame = pd.DataFrame({"side": cells["side"]})
    for edge in ("left", "right", "bottom", "top"):
        frame[edge] = [amount(edge_m, "length", system) for edge_m in cells[f"{edge}_m"]]
    if value == "pressure_Pa":
        frame[value] = [amount(pressure, "low pressure", system) for pressure in cells[value]]
        title, number_format = f"{title} [{unit_of('low pressure', system)}]", ".2~g"
    else:
        frame[value], number_format = cells[value], ".0%" if float(cells[value].max()) >= 0.1 else ".2%"
    return frame.assign(weakest=cells["weakest"]), title, number_format


def exposure_note(shown: Exposure, system: str) -> str:
    """Say how the exposure picture was made."""
    return (
        f"Dashed frame: the weakest place of each face. Traced with {number_text(shown.ray_count)} rays on {shown.boards_traced} "
        f"boards; film run-out {show(shown.run_out_m, 'length', system)}; nozzle pressure with loaded filter "
        f"{show(shown.nozzle_pressure_Pa, 'pressure', system)}. Middle values of the draws; each number is the mean of "
        "its cell. Boards are traced at the nearest standard size and drawn at their own."
    )
