"""One wetted material against a fluid: the worst rule that applies decides, draw by draw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog_schema.fluids import Fluid
from catalog_schema.materials import MaterialRule, Resistance, WettedMaterial
from model.fluid_state import fluid_path
from model.hansen import drawn_red
from model.phrase import Phrase, phrase
from model.uncertainty import FloatArray, InputBook, median, share_true

BoolArray = NDArray[np.bool_]

SEVERITY: tuple[Resistance, ...] = ("resistant", "limited", "unknown", "not resistant")
"""From best to worst; unknown ranks below limited because it may turn out as not resistant."""
NOT_RESISTANT = SEVERITY.index("not resistant")
"""Severity at which a part rules a machine out."""
UNKNOWN = SEVERITY.index("unknown")
"""Severity of a part that no rule judges."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialFinding:
    """How one wetted material stands one fluid."""

    material_id: str
    """Id of the material."""
    material_name: str
    """Name shown to people."""
    part: str
    """Part of the machine, or empty when the material is judged by itself."""
    result: Resistance
    """Result in the middle draw when all are ordered by severity."""
    reason: Phrase
    """Why, in the words of the rule that decides most of those draws."""
    failure_reason: Phrase | None
    """Why it fails in the draws in which it is not resistant; None when there are none."""
    basis: str
    """Basis of the rule behind `reason`, or empty when none applies."""
    source: str
    """Source of that rule, or empty."""
    severity: NDArray[np.int8]
    """Index into SEVERITY, shape (draws,)."""
    shares: dict[Resistance, float]
    """Share of the draws in which each result applies."""
    not_resistant_met: BoolArray
    """True in draws in which the part is not known to fail, shape (draws,)."""
    red: FloatArray | None
    """Relative energy difference [1], shape (draws,), or None when Hansen parameters are not known."""
    life_s: FloatArray | None
    """Contact time until replacement [s], shape (draws,), infinite where the deciding rule gives none although the
    material is not attacked, 0 where it is; None when no draw has a life."""
    warning: Phrase | None
    """Said when the rules call it resistant although RED is below 1."""
    claimed: Resistance | None
    """What the offer claims, shown beside our result."""


@dataclass(frozen=True, slots=True)
class _Active:
    applies: BoolArray
    level: int
    rule: MaterialRule | None  # None: the material's own temperature limit
    ph_missing: bool = False


def _applies(rule: MaterialRule, path: str, fluid: Fluid, temperature_K: FloatArray,
             book: InputBook) -> tuple[BoolArray, bool] | None:  # fmt: skip
    """Draws in which a rule applies, and whether it hangs on a pH that is not given; None when it is for others."""
    if rule.fluid is not None and rule.fluid != fluid.id:
        return None
    if rule.family is not None and rule.family != fluid.family:
        return None
    applies = np.ones(temperature_K.shape, dtype=np.bool_)
    ph_missing = False
    for bound, field, sign in ((rule.ph_above, "ph_above", 1.0), (rule.ph_below, "ph_below", -1.0)):
        if bound is None:
            continue
        if fluid.ph is None:
            if not fluid.water_based:
                return None  # without water there is no pH that could attack
            ph_missing = True
            continue
        ph = book.take(fluid.ph, fluid_path(fluid, "ph"), "engineering estimate")
        applies &= sign * (ph - book.take(bound, f"{path}.{field}", rule.basis)) > 0.0
    if rule.above_temperature is not None:
        applies &= temperature_K > book.take(rule.above_temperature, f"{path}.above_temperature", rule.basis)
    return applies, ph_missing


def assess_material(
    material: WettedMaterial, fluid: Fluid, temperature_K: FloatArray, book: InputBook, *,
    part: str = "", claimed: Resistance | None = None,
) -> MaterialFinding:  # fmt: skip
    """Judge one wetted material against a fluid at a temperature.

    Parameters
    ----------
    material : WettedMaterial
    fluid : Fluid
    temperature_K : ndarray (draws,)
        Of the fluid at the part [K].
    book : InputBook
    part : str, optional
        Name of the part made of it.
    claimed : Resistance, optional
        What the offer claims; shown, never deciding.

    Returns
    -------
    MaterialFinding

    Errors
    ------
    ValueError if the temperatures are not one per draw of the book, or not all finite and above 0 K.

    Notes
    -----
    In every draw the worst rule that applies decides, a general rule (one without a fluid) like a specific one. No
    rule applies: unknown. Hotter than the material's own limit: not resistant. A pH rule for a water-based fluid
    whose pH is not given counts as unknown unless it says resistant; a fluid without water has no pH. RED below 1 is
    evidence that the fluid may swell the polymer: it gives a warning and never decides, because Hansen parameters
    know neither cross-linking nor chemical attack. Life is the shortest that the deciding rules give. Neglected:
    mechanical stress, what flux dissolved in the fluid does, rinse water, and permeation.
    """
    draws = book.draws
    if temperature_K.shape != (draws,) or not np.all(np.isfinite(temperature_K) & (temperature_K > 0.0)):
        raise ValueError(f"{material.name}: give one finite temperature above 0 K for each of the {draws} draws.")
    base = f"wetted_materials[{material.id}]"
    severity = np.full(draws, -1, dtype=np.int8)
    active: list[_Active] = []
    for number, rule in enumerate(material.rules, start=1):
        found = _applies(rule, f"{base}.rules[{number}]", fluid, temperature_K, book)
        if found is None:
            continue
        level = SEVERITY.index(rule.result)
        if found[1] and level > 0:
            level = UNKNOWN
        active.append(_Active(found[0], level, rule, found[1]))
        severity = np.where(found[0], np.maximum(severity, level), severity).astype(np.int8)
    limit_K = book.take(material.max_temperature, f"{base}.max_temperature", "from memory")
    too_hot = temperature_K > limit_K
    active.append(_Active(too_hot, NOT_RESISTANT, None))
    severity = np.where(too_hot, NOT_RESISTANT, severity).astype(np.int8)
    severity[severity < 0] = UNKNOWN

    middle = int(np.sort(severity)[draws // 2])
    reason, basis, source = _reason(active, severity, middle, material, limit_K, fluid)
    failure = None
    if bool((severity == NOT_RESISTANT).any()):
        failure = _reason(active, severity, NOT_RESISTANT, material, limit_K, fluid)[0]
    result = SEVERITY[middle]
    red = drawn_red(fluid.hansen, fluid_path(fluid, "hansen"), material.hansen, f"{base}.hansen", book)
    return MaterialFinding(
        material_id=material.id, material_name=material.name, part=part, result=result, reason=reason,
        failure_reason=failure, basis=basis, source=source, severity=severity,
        shares={name: share_true(severity == level) for level, name in enumerate(SEVERITY)},
        not_resistant_met=severity != NOT_RESISTANT, red=red, life_s=_life_s(active, severity, base, material, book),
        warning=_red_warning(result, red, material, fluid), claimed=claimed,
    )  # fmt: skip


def _reason(
    active: list[_Active], severity: NDArray[np.int8], level: int, material: WettedMaterial, limit_K: FloatArray,
    fluid: Fluid,
) -> tuple[Phrase, str, str]:  # fmt: skip
    """Words, basis and source of what decides most of the draws at a severity."""
    deciding = [(int(np.sum(one.applies & (severity == level))), one) for one in active if one.level == level]
    most, chosen = max(deciding, key=lambda item: item[0], default=(0, None))
    if most == 0 or chosen is None:
        return phrase("No rule for {family} fluids is known.", family=fluid.family), "", ""
    if chosen.rule is None:
        limit = material.max_temperature
        reason = phrase("It must not get hotter than {limit}.", limit=(median(limit_K), "temperature"))
        return reason, limit.basis or "from memory", limit.source
    if chosen.ph_missing:
        reason = phrase("It depends on the pH of {fluid}, which is not given: {why}", fluid=fluid.name,
                        why=chosen.rule.why)  # fmt: skip
    else:
        reason = phrase("{why}", why=chosen.rule.why)
    return reason, chosen.rule.basis, chosen.rule.source


def _life_s(active: list[_Active], severity: NDArray[np.int8], base: str, material: WettedMaterial,
            book: InputBook) -> FloatArray | None:  # fmt: skip
    shortest = np.full(severity.shape, np.inf)
    any_known = False
    for one in active:
        decides = one.applies & (severity == one.level)
        if one.rule is None or one.rule.life is None or not decides.any():
            continue
        path = f"{base}.rules[{material.rules.index(one.rule) + 1}].life"
        shortest = np.where(decides, np.minimum(shortest, book.take(one.rule.life, path, one.rule.basis)), shortest)
        any_known = True
    # An attacked part without a stated life must not look as if it lasted for ever.
    attacked = (severity == NOT_RESISTANT) & np.isinf(shortest)
    shortest = np.where(attacked, 0.0, shortest)
    return shortest if any_known or bool(attacked.any()) else None


def _red_warning(result: Resistance, red: FloatArray | None, material: WettedMaterial, fluid: Fluid) -> Phrase | None:
    if red is None or result != "resistant" or median(red) >= 1.0:
        return None
    return phrase(
        "The rules call {material} resistant to {fluid}, but their Hansen parameters are close (RED {red}): it may "
        "swell. Soak a sample before you rely on it.",
        material=material.name, fluid=fluid.name, red=(median(red), "number"),
    )  # fmt: skip
