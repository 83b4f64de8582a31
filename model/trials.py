"""Trial boards replace estimates: what each draw predicts for them decides how much that draw counts from then on."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from catalog_schema.boards import BoardType
from catalog_schema.priorities import Trial
from catalog_schema.quantity import Quantity
from model.calibrate import Calibration, calibrate_draws, systematic_resample, weighted_quantile
from model.clearing import cleared_depth_m
from model.context import Context, TraceOf
from model.evaluate import Evaluation, Progress
from model.machine_inputs import MachineInputs
from model.machine_job import MachineJob, MachineRunner, with_chosen_details
from model.machine_process import evaluate_machine
from model.outcomes import FluidOutcome, MachineOutcome
from model.pictures import kind_clearing
from model.requirements import Thresholds
from model.spray_drive import SprayGeometry
from model.spray_field import ExposureTrace
from model.uncertainty import FloatArray, InputBook
from model.wash import KindClearing

IntArray = npt.NDArray[np.intp]

LEAST_EFFECTIVE_SHARE = 0.1
"""Below this share of draws that still count, the result is coarse and the screen says so."""

LEAST_PROBABILITY = 0.01
"""Results that were less probable than this beforehand contradict the model."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialFinding:
    """One trial against what was expected of it."""

    trial: Trial
    """As entered."""
    problem: str
    """Why it cannot be used, or empty."""
    prior: tuple[float, float, float] | None
    """5 %, 50 % and 95 % point of the residue share expected before all trials."""
    posterior: tuple[float, float, float] | None
    """The same after all trials."""
    observed: float | None
    """Residue share found (likely value)."""
    tail_probability: float | None
    """Probability, beforehand, of a result at least this far out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialSummary:
    """What all trials together say."""

    findings: tuple[TrialFinding, ...]
    """One per trial of the case."""
    weights: FloatArray
    """Posterior weight of each draw, adding up to 1, shape (draws,)"""
    effective_sample_size: float
    """Number of equally weighted draws worth as much."""
    draws: int
    """Number of draws."""
    warnings: tuple[str, ...]
    """Contradictions and coarseness, in words."""
    headline: str
    """What the trials changed, in one sentence."""

    @property
    def used(self) -> int:
        """Number of trials that could be used."""
        return sum(1 for finding in self.findings if not finding.problem)


class ResampledBook(InputBook):
    """Draws quantities as any book, then picks the same draws of every one: the draws that the trials left."""

    def __init__(self, draws: int, seed: int, exchange_rates: dict[str, float], index: IntArray) -> None:
        """Start an empty book that picks draws by `index`."""
        super().__init__(draws, seed, exchange_rates)
        self._index = index

    def take(self, quantity: Quantity, path: str, default_basis: str, *, stated: bool = True) -> FloatArray:
        """Draw a quantity by its path, pick the draws that the trials left, and note it; see `InputBook.take`."""
        if path not in self._columns:
            column = super().take(quantity, path, default_basis, stated=stated)[self._index]
            column.setflags(write=False)
            self._columns[path] = column
        return self._columns[path]


def residue_left_share(kind: KindClearing, time_s: float, cleared_share_needed: FloatArray) -> FloatArray:
    """Share of the residue that stays under a component at the worst place after a wash time.

    Parameters
    ----------
    kind : KindClearing
    time_s : float
        s.
    cleared_share_needed : ndarray (draws,)
        Share of the flux path that `kind.depth_needed_m` stands for.

    Returns
    -------
    ndarray (draws,)
        0-1.

    Notes
    -----
    1 − cleared depth ÷ flux path, at most 1 and at least 0: residue is taken as spread evenly along its path. It is the
    place of the board that is worst but for the excluded share, so the part to lift is the one in the worst place.
    """
    path = kind.depth_needed_m / np.where(cleared_share_needed > 0.0, cleared_share_needed, 1.0)
    cleared = np.asarray(cleared_depth_m(time_s, kind.speed_m_s, kind.soak_m_s05))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(path > 0.0, 1.0 - cleared / path, 0.0)
    return np.asarray(np.clip(share, 0.0, 1.0))


def cleared_share_needed(evaluation: Evaluation, outcome: MachineOutcome, board: BoardType) -> FloatArray:
    """Share of the flux path that must be cleared on a board type, as the machine's computation drew it."""
    column = outcome.columns.get(f"board_types[{board.id}].cleared_share_needed")
    likely = board.cleared_share_needed.si()[1]
    return np.full(evaluation.draws, likely) if column is None else column


def predicted_residue(evaluation: Evaluation, trial: Trial) -> FloatArray:
    """Residue share that every draw predicts for a trial.

    Parameters
    ----------
    evaluation : Evaluation
        Before any trial was used.
    trial : Trial

    Returns
    -------
    ndarray (draws,)

    Raises
    ------
    ValueError
        With a sentence, where that wash is not computed in this case.
    """
    try:
        board = evaluation.machine(trial.machine).board(trial.board_type)
    except KeyError as missing:
        raise ValueError(f"{missing.args[0]} is not among the machines and board types computed here.") from None
    fluid = next((one for one in board.fluids if one.fluid_id == trial.fluid), None)
    if fluid is not None and fluid.wash is None and evaluation.details == "chosen fluid":
        # Large cases keep the stages of the chosen fluid only: this machine is computed again with all of them.
        fluid = _fluid_again(evaluation, trial)
    if fluid is None or fluid.wash is None:
        raise ValueError(f"{trial.machine} is not computed with {trial.fluid}: add the fluid to its wash fluids.")
    stage = fluid.wash
    if stage.outcome is None:
        return np.ones(evaluation.draws)
    kind = kind_clearing(evaluation, trial.board_type, stage, trial.component)
    record = next(one for one in evaluation.case.board_types if one.id == trial.board_type)
    needed = cleared_share_needed(evaluation, evaluation.machine(trial.machine), record)
    return residue_left_share(kind, trial.wash_time.si()[1], needed)


def _fluid_again(evaluation: Evaluation, trial: Trial) -> FluidOutcome | None:
    job = MachineJob(case=evaluation.case, library=evaluation.library, draws=evaluation.draws, seed=evaluation.seed,
                     rays=evaluation.rays, details="all fluids")  # fmt: skip
    kept = evaluation.machine(trial.machine)
    board = MachineRunner(job, evaluation.traces).outcome(kept.machine, kept.fingerprint).board(trial.board_type)
    return next((one for one in board.fluids if one.fluid_id == trial.fluid), None)


def weigh_trials(evaluation: Evaluation, trials: tuple[Trial, ...] | None = None) -> TrialSummary:
    """Weigh every draw by how well it predicts the trials.

    Parameters
    ----------
    evaluation : Evaluation
        Before any trial was used.
    trials : tuple of Trial, optional
        Those of the case when absent.

    Returns
    -------
    TrialSummary

    Notes
    -----
    Per trial a normal error on the share, cut off at 0 and 1, with the variance of the reading plus that of the model
    itself (`trial_model_error` of the library); trials count as independent (`model.calibrate`).
    """
    wanted = evaluation.case.trials if trials is None else trials
    error = evaluation.library.constants.trial_model_error
    model_error = 0.0 if error is None else error.si()[1]
    log_weights = np.zeros(evaluation.draws)
    predicted: list[FloatArray | None] = []
    checks: list[Calibration | None] = []
    problems: list[str] = []
    for trial in wanted:
        try:
            share = predicted_residue(evaluation, trial)
            check = calibrate_draws(
                share[:, None], np.array([trial.residue_left.si()[1]]),
                measurement_sd=trial.measurement_error.si()[1], discrepancy_sd=model_error,
                least_effective_share=LEAST_EFFECTIVE_SHARE, least_probability=LEAST_PROBABILITY,
            )  # fmt: skip
        except ValueError as problem:
            predicted.append(None)
            checks.append(None)
            problems.append(str(problem))
            continue
        log_weights += np.log(np.maximum(check.weights, np.finfo(np.float64).tiny))
        predicted.append(share)
        checks.append(check)
        problems.append("")
    weights = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    findings = tuple(
        TrialFinding(
            trial=trial, problem=problem, prior=None if share is None else _points(share, np.ones(share.size)),
            posterior=None if share is None else _points(share, weights),
            observed=None if share is None else trial.residue_left.si()[1],
            tail_probability=None if check is None else float(check.prior_tail_share[0]),
        )
        for trial, share, check, problem in zip(wanted, predicted, checks, problems, strict=True)
    )  # fmt: skip
    effective = float(1.0 / np.sum(weights**2))
    return TrialSummary(
        findings=findings, weights=weights, effective_sample_size=effective, draws=evaluation.draws,
        warnings=_warnings(findings, effective, evaluation.draws), headline=_headline(findings, effective, evaluation),
    )  # fmt: skip


def with_trials(
    evaluation: Evaluation, summary: TrialSummary | None = None, *, progress: Progress | None = None, threads: int = 2
) -> Evaluation:
    """Compute every machine again from the draws that the trials left.

    Parameters
    ----------
    evaluation : Evaluation
        Before any trial was used.
    summary : TrialSummary, optional
        Made by `weigh_trials` when absent.
    progress : callable, optional
        Told after each machine; may raise to stop.
    threads : int
        Machines computed at the same time.

    Returns
    -------
    Evaluation
        The same one where no trial could be used. Its traces, case and fingerprint stay.

    Notes
    -----
    Draws are picked in proportion to their weights (systematic resampling) and shuffled, and the same picks are made in
    every quantity of every machine: what a trial of one machine says about residue, fluid or gap so reaches all
    machines that share it. Pictures that draw quantities of their own show the picture before the trials.
    """
    found = weigh_trials(evaluation) if summary is None else summary
    if found.used == 0:
        return evaluation
    index = systematic_resample(found.weights, seed=evaluation.seed)
    # Picks come in rising order; stages that look at the first draws only need them mixed.
    index = np.random.default_rng([evaluation.seed, index.size]).permutation(index)
    marked = hashlib.blake2b(index.tobytes(), digest_size=8).hexdigest()
    traces = dict(evaluation.traces)

    def trace_of(geometry: SprayGeometry) -> ExposureTrace:
        if geometry not in traces:
            traces[geometry] = geometry.trace(evaluation.rays, evaluation.seed)
        return traces[geometry]

    def again(outcome: MachineOutcome) -> MachineOutcome:
        return _machine_again(evaluation, outcome, index, trace_of, marked)

    outcomes: list[MachineOutcome] = []
    with ThreadPoolExecutor(max_workers=threads) as pool:
        for outcome in pool.map(again, evaluation.machines):
            outcomes.append(outcome)
            if progress is not None:
                progress(len(outcomes), len(evaluation.machines), outcome.machine.name)
    return replace(evaluation, machines=tuple(outcomes), traces=traces)


def _machine_again(evaluation: Evaluation, outcome: MachineOutcome, index: IntArray, trace_of: TraceOf,
                   marked: str) -> MachineOutcome:  # fmt: skip
    case = evaluation.case
    rates = {code: rate.si()[1] for code, rate in case.plant.exchange_rates.items()}
    musts = case.plant.requirements
    context = Context(
        case=case, library=evaluation.library,
        inputs=MachineInputs(outcome.machine, ResampledBook(evaluation.draws, evaluation.seed, rates, index)),
        thresholds=Thresholds(meets_from=musts.probability.si()[1], misses_to=musts.rule_out_below.si()[1]),
        trace_of=trace_of, fields={}, materials={},
    )  # fmt: skip
    found = evaluate_machine(context, f"{outcome.fingerprint}-after-trials-{marked}")
    return found if evaluation.details == "all fluids" else with_chosen_details(found)


def _points(share: FloatArray, weights: FloatArray) -> tuple[float, float, float]:
    low, middle, high = (float(point) for point in weighted_quantile(share, weights, np.array([0.05, 0.5, 0.95])))
    return low, middle, high


def _warnings(findings: tuple[TrialFinding, ...], effective: float, draws: int) -> tuple[str, ...]:
    found = []
    for finding in findings:
        if finding.problem:
            found.append(f"Trial {finding.trial.id} is not used: {finding.problem}")
        elif finding.tail_probability is not None and finding.tail_probability < LEAST_PROBABILITY / _used(findings):
            assert finding.prior is not None
            assert finding.observed is not None
            low, middle, high = finding.prior
            found.append(
                f"Trial {finding.trial.id} contradicts the model: {finding.observed:.0%} of the residue was left where "
                f"{middle:.0%} ({low:.0%} to {high:.0%}) was expected. Check the trial and the estimates before you "
                "rely on the result."
            )
    if effective < LEAST_EFFECTIVE_SHARE * draws:
        found.append(f"Only {effective:.0f} of {draws} draws still count, so the result is coarse. Compute with more "
                     "draws, or state wider ranges.")  # fmt: skip
    return tuple(found)


def _used(findings: tuple[TrialFinding, ...]) -> int:
    return max(1, sum(1 for finding in findings if not finding.problem))


def _headline(findings: tuple[TrialFinding, ...], effective: float, evaluation: Evaluation) -> str:
    used = [finding for finding in findings if not finding.problem]
    if not findings:
        return "No trial has been entered yet, so the answer rests on estimates alone."
    if not used:
        return f"None of the {len(findings)} trials can be used, so the answer rests on estimates alone."
    first = used[0]
    assert first.prior is not None
    assert first.posterior is not None
    trials = "One trial counts" if len(used) == 1 else f"{len(used)} trials count"
    return (f"{trials}: {effective:.0f} of {evaluation.draws} draws still carry weight. For trial {first.trial.id} the "
            f"expected residue moved from {first.prior[1]:.0%} to {first.posterior[1]:.0%}.")  # fmt: skip
