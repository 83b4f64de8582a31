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
