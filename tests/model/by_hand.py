"""What was drawn under a path, for tests that follow a stage by hand."""

from __future__ import annotations

import numpy as np

from model.evaluate import Evaluation
from model.uncertainty import FloatArray


def column(evaluation: Evaluation, path: str) -> FloatArray:
    """Give the draws of the only machine's input at a path, or its one value for each draw."""
    outcome = evaluation.machines[0]
    record = next(one for one in outcome.inputs if one.path == path)
    return outcome.columns.get(path, np.full(evaluation.draws, record.likely))


COUNTS = {"chip-0402": 320, "chip-0603": 90, "qfn-5x5": 6, "qfn-7x7": 3, "power-qfn": 8, "tssop-20": 5,
          "connector-smt": 3}  # fmt: skip
"""Components of the demo's dense controller."""


def gaps_m3(evaluation: Evaluation) -> FloatArray:
    """Liquid under the components of one dense controller, m³: gap times body squared, or the share it traps."""
    kinds = {kind.id: kind for kind in evaluation.library.component_kinds}
    total = np.zeros(evaluation.draws)
    for kind, count in COUNTS.items():
        here = f"component_kinds[{kind}]"
        held = count * column(evaluation, f"{here}.gap") * column(evaluation, f"{here}.body_length") ** 2
        if kinds[kind].trapped_volume_share is not None:
            held = held * column(evaluation, f"{here}.trapped_volume_share")
        total = total + held
    return total
