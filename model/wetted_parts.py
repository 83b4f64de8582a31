"""All wetted parts of a machine against its fluid: the must, the replacement that would save it, and the want."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from catalog_schema.fluids import Fluid
from catalog_schema.machines import WettedPart
from catalog_schema.materials import WettedMaterial
from catalog_schema.quantity import Share
from model.machine_inputs import MachineInputs
from model.materials import UNKNOWN, BoolArray, MaterialFinding, assess_material
from model.phrase import Phrase, phrase
from model.requirements import Judged, Subject, Thresholds, judge_fact, judge_share
from model.uncertainty import FloatArray, low_middle_high, median, share_true


@dataclass(frozen=True, slots=True, kw_only=True)
class SealUpgrade:
    """Replacement of every offending part by an offered material that is resistant."""

    parts: tuple[tuple[str, str, str], ...]
    """Per part: its name, its material now, the material instead."""
    price: FloatArray | None
    """Of all replacements together, in the plant's currency, shape (draws,); None when a price is not known."""
    sentence: Phrase
    """What would be replaced by what."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WettedCompatibility:
    """Measure of the criterion wetted-material compatibility."""

    share: FloatArray
    """Share of the wetted parts that stand the fluid [1], limited counting half, shape (draws,)."""
    share_low_likely_high: tuple[float, float, float]
    """5 %, 50 % and 95 % point of that share [1]."""
    first_replacement_s: FloatArray | None
    """Contact time to the first expected replacement [s], shape (draws,), infinite where none is expected; None when
    no part's life is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialOutcome:
    """Wetted parts of one machine with one fluid."""

    judged: Judged
    """The must, as the machine is offered."""
    findings: tuple[MaterialFinding, ...]
    """One per wetted part, in the order of the offer; empty when they are not known."""
    measure: WettedCompatibility | None
    """As offered; None when the wetted parts are not known."""
    upgrade: SealUpgrade | None
    """Priced option, when parts are not resistant and every one of them can be replaced."""
    judged_with_upgrade: Judged | None
    """The must with the replacements made."""
    findings_with_upgrade: tuple[MaterialFinding, ...]
    """Findings with the replacements made; empty without an upgrade."""
    measure_with_upgrade: WettedCompatibility | None
    """Measure with the replacements made."""


def judge_known_and_unknown(
    subject: Subject, key: str, title: str, stage: str, *, met: BoolArray, doubtful: BoolArray, thresholds: Thresholds,
    sentence: Phrase,
) -> Judged:  # fmt: skip
    """Judge something that fails in some draws and is in doubt in others.

    Parameters
    ----------
    subject, key, title, stage : as in `judge_share`
    met : ndarray (draws,)
        False where it is known to fail.
    doubtful : ndarray (draws,)
        True where nobody knows.
    thresholds : Thresholds
    sentence : Phrase

    Returns
    -------
    Judged
        Falls short and the middling unknown as `judge_share` has them; what would be met is unknown when more draws
        are in doubt than the thresholds forgive. Its outcomes then stay when some draws are known to fail, so that
        joint probabilities keep them; else they are None.
    """
    judged = judge_share(subject, key, title, stage, met=met, thresholds=thresholds, sentence=sentence)
    forgiven = 1.0 - thresholds.meets_from
    if judged.requirement.result != "meets" or share_true(doubtful & met) <= forgiven:
        return judged
    requirement = replace(judged.requirement, result="unknown", probability=None)
    return Judged(requirement=requirement, met=None if bool(met.all()) else met)


def _part_path(inputs: MachineInputs, number: int, field: str) -> str:
    return inputs.full_path(f"wetted_parts[{number}].{field}")


def _named(findings: list[MaterialFinding]) -> str:
    return ", ".join(f"{finding.part} ({finding.material_id})" for finding in findings)


def _offending(findings: tuple[MaterialFinding, ...], thresholds: Thresholds) -> list[MaterialFinding]:
    """Parts that may fail, when all together fail in more draws than the thresholds forgive."""
    if share_true(np.logical_and.reduce([finding.not_resistant_met for finding in findings])) >= thresholds.meets_from:
        return []
    return [finding for finding in findings if finding.shares["not resistant"] > 0.0]


def _sentence(findings: tuple[MaterialFinding, ...], fluid: Fluid, temperature_K: FloatArray,
              thresholds: Thresholds) -> Phrase:  # fmt: skip
    """Name the worst part with its reason, else the parts in doubt, else say that all stand it."""
    celsius = (median(temperature_K), "temperature")
    failing = sorted(_offending(findings, thresholds), key=lambda finding: -finding.shares["not resistant"])
    if failing:
        worst = failing[0]
        why = worst.failure_reason or worst.reason
        verdict = (
            "{part} of {material} does not stand {fluid} at {temperature}. "
            if worst.shares["not resistant"] >= 1.0 - thresholds.misses_to
            else "{part} of {material} may not stand {fluid} at {temperature} ({chance} likely). "
        )
        template = verdict + why.template
        figures = phrase(
            verdict, part=worst.part, material=worst.material_name, fluid=fluid.name, temperature=celsius,
            chance=(worst.shares["not resistant"], "share"),
        ).figures + why.figures  # fmt: skip
        if worst.claimed == "resistant":
            template += " The offer claims that it is resistant: ask what that rests on."
        if len(failing) > 1:
            template += " Also: {others}."
            figures += (("others", _named(failing[1:]), ""),)
        return Phrase(template, figures)
    in_doubt = float(np.mean(np.logical_or.reduce([finding.severity == UNKNOWN for finding in findings])))
    doubtful = [finding for finding in findings if finding.shares["unknown"] > 0.0]
    if in_doubt > 1.0 - thresholds.meets_from:
        return phrase(
            "How these stand {fluid} at {temperature} is not known: {parts}. Ask the supplier or soak a sample.",
            fluid=fluid.name, temperature=celsius, parts=_named(doubtful),
        )  # fmt: skip
    limited = [finding for finding in findings if finding.result == "limited"]
    if limited:
        return phrase(
            "No wetted part fails in {fluid} at {temperature}; these wear and need replacing: {parts}.",
            fluid=fluid.name, temperature=celsius, parts=_named(limited),
        )  # fmt: skip
    return phrase("Every wetted part ({count}) stands {fluid} at {temperature}.", count=len(findings), fluid=fluid.name,
                  temperature=celsius)  # fmt: skip


def _judge(findings: tuple[MaterialFinding, ...], subject: Subject, fluid: Fluid, temperature_K: FloatArray,
           thresholds: Thresholds) -> Judged:  # fmt: skip
    met = np.logical_and.reduce([finding.not_resistant_met for finding in findings])
    doubtful = np.logical_or.reduce([finding.severity == UNKNOWN for finding in findings])
    return judge_known_and_unknown(
        subject, "wetted materials", "Wetted materials", "materials", met=met, doubtful=doubtful,
        thresholds=thresholds, sentence=_sentence(findings, fluid, temperature_K, thresholds),
    )  # fmt: skip


def wetted_compatibility(
    findings: tuple[MaterialFinding, ...], fluid: Fluid, inputs: MachineInputs
) -> WettedCompatibility:
    """Measure how far the wetted parts stand a fluid.

    Parameters
    ----------
    findings : tuple of MaterialFinding
        One per part, at least one.
    fluid : Fluid
    inputs : MachineInputs

    Returns
    -------
    WettedCompatibility

    Errors
    ------
    ValueError if there is no part.

    Notes
    -----
    Share = mean over parts of 1 (resistant), ½ (limited), 0 (not resistant); every part weighs the same. A part that
    is unknown in any draw takes there a value drawn evenly between 0 and 1 and noted in the book under the part and
    the fluid, so that the value of asking the supplier can be computed like that of any other input.
    """
    if not findings:
        raise ValueError(f"{inputs.machine.name} has no wetted part to measure.")
    scores = []
    for number, finding in enumerate(findings, start=1):
        score = np.select([finding.severity == 0, finding.severity == 1], [1.0, 0.5], 0.0)
        unknown = finding.severity == UNKNOWN
        if unknown.any():
            open_question = Share(
                low=0.0, high=1.0, basis="engineering estimate",
                note=f"No rule says how {finding.material_id} stands {fluid.name}.",
            )  # fmt: skip
            path = _part_path(inputs, number, f"resistance[{finding.material_id}, {fluid.id}]")
            guess = inputs.book.take(open_question, path, "engineering estimate", stated=False)
            score = np.where(unknown, guess, score)
        scores.append(score)
    share = np.asarray(np.mean(scores, axis=0), dtype=np.float64)
    lives = [finding.life_s for finding in findings if finding.life_s is not None]
    return WettedCompatibility(
        share=share, share_low_likely_high=low_middle_high(share),
        first_replacement_s=np.minimum.reduce(lives) if lives else None,
    )  # fmt: skip


def _upgrade(
    findings: tuple[MaterialFinding, ...], parts: tuple[WettedPart, ...], fluid: Fluid, temperature_K: FloatArray,
    materials: Mapping[str, WettedMaterial], inputs: MachineInputs, thresholds: Thresholds,
) -> tuple[SealUpgrade, tuple[MaterialFinding, ...]] | None:  # fmt: skip
    replaced, changes, prices, unpriced = list(findings), [], [], []
    offending = _offending(findings, thresholds)
    for position, (part, finding) in enumerate(zip(parts, findings, strict=True)):
        if not any(finding is one for one in offending):
            continue
        if part.replacement_material is None:
            return None
        instead = assess_material(materials[part.replacement_material], fluid, temperature_K, inputs.book,
                                  part=part.part)  # fmt: skip
        if instead.result != "resistant":
            return None
        replaced[position] = instead
        changes.append((part.part, finding.material_id, instead.material_id))
        if part.replacement_price is None:
            unpriced.append(part.part)
        else:
            stated = inputs.machine.is_stated("wetted_parts") or not inputs.machine.is_candidate
            basis = "stated" if inputs.machine.is_stated("wetted_parts") else "engineering estimate"
            path = _part_path(inputs, position + 1, "replacement_price")
            prices.append(inputs.book.take(part.replacement_price, path, basis, stated=stated))
    if not changes:
        return None
    listed = ", ".join(f"{name} of {instead} instead of {now}" for name, now, instead in changes)
    if unpriced:
        price = None
        sentence = phrase("With {parts} it stands {fluid}; ask for the price of: {unpriced}.", parts=listed,
                          fluid=fluid.name, unpriced=", ".join(unpriced))  # fmt: skip
    else:
        price = np.sum(prices, axis=0)
        sentence = phrase("With {parts} it stands {fluid}, for {price}.", parts=listed, fluid=fluid.name,
                          price=(median(price), "money"))  # fmt: skip
    return SealUpgrade(parts=tuple(changes), price=price, sentence=sentence), tuple(replaced)


def material_requirement(
    inputs: MachineInputs, fluid: Fluid, temperature_K: FloatArray, materials: Mapping[str, WettedMaterial],
    thresholds: Thresholds,
) -> MaterialOutcome:  # fmt: skip
    """Judge a machine's wetted parts against a fluid, as offered and with the replacements that are offered.

    Parameters
    ----------
    inputs : MachineInputs
    fluid : Fluid
    temperature_K : ndarray (draws,)
        Of the fluid in the machine [K].
    materials : mapping of id to WettedMaterial
        The library's.
    thresholds : Thresholds

    Returns
    -------
    MaterialOutcome

    Errors
    ------
    ValueError if the temperatures are not one per draw; KeyError if a material is not in the library (the case file
    is checked for that when it is read).

    Notes
    -----
    One part that is not resistant makes the machine fall short. A draw counts as missed when any part is not
    resistant in it. Machines that are no equipment of the plant (a service, or none) have no wetted parts of concern
    unless they state some. An upgrade counts only when every part that may fail has an offered replacement that is
    resistant.
    """
    machine = inputs.machine
    subject = Subject(machine_id=machine.id, fluid_id=fluid.id)
    parts = machine.equipment.wetted_parts
    if not parts:
        outside = parts is not None or machine.principle in ("service", "none")
        template = (
            "{machine} has no wetted part that the plant would have to look after."
            if outside
            else "The wetted materials of {machine} are not known. Ask the supplier."
        )
        judged = judge_fact(
            subject, "wetted materials", "Wetted materials", "materials", holds=True if outside else None,
            draws=inputs.book.draws, sentence=phrase(template, machine=machine.name),
        )  # fmt: skip
        return MaterialOutcome(judged=judged, findings=(), measure=None, upgrade=None, judged_with_upgrade=None,
                               findings_with_upgrade=(), measure_with_upgrade=None)  # fmt: skip
    by_material: dict[str, MaterialFinding] = {}
    for part in parts:
        if part.material not in by_material:
            by_material[part.material] = assess_material(materials[part.material], fluid, temperature_K, inputs.book)
    findings = tuple(
        replace(by_material[part.material], part=part.part, claimed=part.resistance_stated) for part in parts
    )
    judged = _judge(findings, subject, fluid, temperature_K, thresholds)
    measure = wetted_compatibility(findings, fluid, inputs)
    found = _upgrade(findings, parts, fluid, temperature_K, materials, inputs, thresholds)
    if found is None:
        return MaterialOutcome(judged=judged, findings=findings, measure=measure, upgrade=None,
                               judged_with_upgrade=None, findings_with_upgrade=(),
                               measure_with_upgrade=None)  # fmt: skip
    upgrade, replaced = found
    return MaterialOutcome(
        judged=judged, findings=findings, measure=measure, upgrade=upgrade,
        judged_with_upgrade=_judge(replaced, subject, fluid, temperature_K, thresholds),
        findings_with_upgrade=replaced, measure_with_upgrade=wetted_compatibility(replaced, fluid, inputs),
    )  # fmt: skip

