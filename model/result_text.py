"""Numbers, names and verdicts of an evaluation as written everywhere: on screens and in the dossier alike."""

from __future__ import annotations

import math

from catalog_schema.case import Case, Library
from catalog_schema.units import DIMENSIONS, convert, number_text, readable_unit, show, show_span
from model import certainty
from model.evaluate import Evaluation
from model.field_names import field_words
from model.outcomes import MachineOutcome
from model.requirements import Requirement

GROUPS = {
    "candidates": "Offer", "plant": "Plant", "board_types": "Board type", "component_kinds": "Component kind",
    "flux_kinds": "Flux", "board_parts": "Sensitive board part", "fluids": "Fluid",
    "wetted_materials": "Wetted material", "constants": "Model constants", "machine_classes": "Machine class",
}  # fmt: skip
"""Groups of records in words; what the plant and the suppliers can check comes first."""


def sentence_case(text: str) -> str:
    """Begin a text with a capital letter."""
    return text[:1].upper() + text[1:]


def words(name: str) -> str:
    """Turn a field's name into words.

    >>> words("spray.nozzle_diameter")
    'Bore of the spray nozzles'
    """
    return sentence_case(field_words(name))


def unit_of(dimension: str, system: str) -> str:
    """Name the unit that a dimension is shown in."""
    shape = DIMENSIONS[dimension]
    return readable_unit(shape.metric_unit if system == "metric" else shape.us_unit)


def amount(value_si: float, dimension: str, system: str) -> float:
    """Turn an SI value into the reader's unit."""
    shape = DIMENSIONS[dimension]
    return convert(float(value_si), shape.si_unit, shape.metric_unit if system == "metric" else shape.us_unit)


def span(low: float, likely: float, high: float, dimension: str, system: str, currency: str = "") -> str:
    """Write a likely value in the reader's unit, with its range behind it.

    >>> span(2e5, 3e5, 5e5, "pressure", "metric"), span(600.0, 1800.0, 18000.0, "time", "metric")
    ('3 bar (2 to 5)', '30 min (10 min to 5 h)')
    """
    return show_span(low, likely, high, dimension, system, currency).replace("1/year", "per year")


def percent(share: float | None) -> str:
    """Write a probability without claiming more than the draws can tell.

    >>> percent(0.42), percent(0.004), percent(None)
    ('42 %', 'under 1 %', 'not computed')
    """
    if share is None or not math.isfinite(share):
        return "not computed"
    return certainty.percent(share)


def record_names(case: Case, library: Library) -> dict[tuple[str, str], str]:
    """Give the name shown to people of every record, by group and id."""
    groups = ("machine_classes", "component_kinds", "flux_kinds", "board_parts", "fluids", "wetted_materials")
    named = {(group, record.id): record.name for group in groups for record in getattr(library, group)}
    for group in ("candidates", "board_types"):
        named |= {(group, record.id): record.name for record in getattr(case, group)}
    return named


def verdict_sentence(evaluation: Evaluation) -> str:
    """Say in one sentence how many offers and classes can, cannot, or may clean every board type."""
    said = []
    for one, more, is_candidate in (("offer", "offers", True), ("generic class", "generic classes", False)):
        results = [found.result for found in evaluation.machines if found.machine.is_candidate == is_candidate]
        if results:
            out, still_open, fine = (results.count(result) for result in ("falls short", "unknown", "meets"))
            noun = one if len(results) == 1 else more
            said.append(f"Of {len(results)} {noun}, {out} ruled out, {still_open} open, {fine} with every must met.")
    return " ".join(said) or "There is no machine to judge."


def joint_probability(outcome: MachineOutcome) -> str:
    """Write the probability that all musts hold; an upper bound where some could not be computed."""
    open_ended = outcome.probability > 0 and any(one.met is None for one in outcome.all_judged())
    return f"at most {percent(outcome.probability)}" if open_ended else percent(outcome.probability)


def measure(must: Requirement, system: str, currency: str) -> str:
    """Write a must's measure with its band against its limit; empty where it is yes or no."""
    if must.measure is None or must.limit is None:
        return ""
    written = span(*must.measure, must.dimension, system, currency)
    return f"{written}; {must.direction} {show(must.limit, must.dimension, system, currency)}"


def margin(must: Requirement) -> str:
    """Write how many times better than the limit the middle of the draws is; a dash where there is no number."""
    if must.margin_ratio is None:
        return "–"
    if must.margin_ratio >= 1000:
        return "over 1000 ×"
    # A very small margin is written without an exponent: how far below nobody needs to know.
    return "below 0.01 ×" if must.margin_ratio < 0.01 else f"{number_text(must.margin_ratio, 2)} ×"


def figures(must: Requirement, system: str, currency: str) -> tuple[str, ...]:
    """Write a must's probability, margin and measure, as far as it has them."""
    written = [f"probability {percent(must.probability)}"]
    if must.margin_ratio is not None:
        written.append(f"margin {margin(must)}")
    found = measure(must, system, currency)
    return (*written, found) if found else tuple(written)
