"""The command line: `washcase` or `python -m model`."""

from __future__ import annotations

import argparse
import datetime
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from catalog_schema.atomic_write import write_atomically
from catalog_schema.case import Case
from catalog_schema.errors import CaseError, Problem
from catalog_schema.files import load_case
from model.decision import decide
from model.dossier import SYSTEMS, dossier_html
from model.dossier_pdf import NO_BROWSER, PAPERS, Paper, PdfError, dossier_pdf, find_browser
from model.evaluate import DEFAULT_DRAWS, DEFAULT_SEED, Evaluation, evaluate
from model.json_output import CAUTION, documents_schema, evaluation_json
from model.self_check import run_self_check, self_check_text
from model.trials import with_trials
from model.workbook import build_workbook, machines_for_workbook

FINE, DISAGREES, BAD_INPUT = 0, 1, 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="washcase", description="Which machine can clean our boards, what it costs, how sure that is.",
        epilog=CAUTION,
    )  # fmt: skip
    commands = parser.add_subparsers(dest="command", required=True)
    check = commands.add_parser("check", help="read a case and list every problem in it")
    check.add_argument("case", type=Path)
    run = commands.add_parser("evaluate", help="compute a case and print each machine's verdict")
    run.add_argument("case", type=Path)
    run.add_argument("--json", type=Path, metavar="F", help="write the whole evaluation to this file")
    book = commands.add_parser("workbook", help="write the costs as a workbook with live formulas")
    book.add_argument("case", type=Path)
    book.add_argument("-o", "--output", type=Path, metavar="F", required=True, help="the .xlsx file to write")
    paper = commands.add_parser("dossier", help="write the printable document for the purchase request")
    paper.add_argument("case", type=Path)
    paper.add_argument("-o", "--output", type=Path, metavar="F", required=True, help="the .html or .pdf file to write")
    paper.add_argument("--units", choices=SYSTEMS, default=SYSTEMS[0], help="unit system (default %(default)s)")
    paper.add_argument("--paper", choices=PAPERS, default=PAPERS[0], help="paper of the PDF (default %(default)s)")
    for one in (run, book, paper):
        one.add_argument("--draws", type=_count, default=DEFAULT_DRAWS, metavar="N", help="draws (default %(default)s)")
        one.add_argument("--seed", type=_seed, default=DEFAULT_SEED, metavar="S", help="seed (default %(default)s)")
    commands.add_parser("schema", help="print the JSON Schema of every document")
    commands.add_parser("selfcheck", help="compute published values on this machine and compare")
    show = commands.add_parser("open", help="open the screens in a browser")
    show.add_argument("case", type=Path, nargs="?")
    return parser


def _count(text: str) -> int:
    number = int(text)
    if not 1 <= number <= 1_000_000:
        raise argparse.ArgumentTypeError(f"{number} is not between 1 and 1000000")
    return number


def _seed(text: str) -> int:
    number = int(text)
    if number < 0:
        raise argparse.ArgumentTypeError(f"{number} is below 0")
    return number


def _write(path: Path, content: bytes) -> None:
    try:
        write_atomically(path, content, keep_previous=False)
    except OSError as problem:
        message = f"cannot be written: {problem.strerror or problem}."
        raise CaseError([Problem(file=path.name, path="", message=message)]) from None


def _write_workbook(evaluation: Evaluation, path: Path) -> int:
    try:
        content = build_workbook(evaluation)
    except ValueError as problem:
        raise CaseError([Problem(file=path.name, path="", message=str(problem))]) from None
    _write(path, content)
    print(f"{path.name}: {len(machines_for_workbook(evaluation))} machines, every amount as a live formula.")
    return FINE


def _check_dossier(path: Path) -> None:
    """Refuse what cannot be written before anything is computed."""
    message = ""
    if path.suffix.lower() not in (".html", ".pdf"):
        message = f'"{path.suffix}" is no kind of dossier. Name a file that ends in .html or .pdf.'
    elif path.suffix.lower() == ".pdf" and find_browser() is None:
        message = NO_BROWSER
    if message:
        raise CaseError([Problem(file=path.name, path="", message=f"cannot be written: {message}")])


def _write_dossier(evaluation: Evaluation, path: Path, system: str, paper: Paper) -> int:
    counted = with_trials(evaluation)
    today = datetime.date.today().isoformat()
    html = dossier_html(counted, decision=decide(counted), system=system, today=today)
    try:
        content = dossier_pdf(html, paper=paper) if path.suffix.lower() == ".pdf" else html.encode("utf-8")
    except PdfError as problem:
        raise CaseError([Problem(file=path.name, path="", message=str(problem))]) from None
    _write(path, content)
    print(f"{path.name}: dossier of case {evaluation.fingerprint}, {len(evaluation.inputs)} assumptions listed.")
    return FINE


def _print_verdicts(evaluation: Evaluation) -> None:
    case = evaluation.case
    print(f"{case.name}{' (invented data)' if case.invented else ''}, case {evaluation.fingerprint}")
    for row in evaluation.verdicts.to_dict("records"):
        print(f"{row['result']:>11}  {row['probability']:4.0%}  {row['name']}: {row['sentence']}")
    print(CAUTION)


def _progress(done: int, total: int, name: str) -> None:
    if sys.stderr.isatty():
        print(f"\r{done}/{total} {name[:50]:<50}", end="\n" if done == total else "", file=sys.stderr)


def _open_screens(case: Path | None) -> int:
    app = Path(__file__).resolve().parent.parent / "app.py"
    environment = dict(os.environ)
    if case is not None:
        environment["WASHCASE_OPEN"] = str(case.resolve())
    # The app's settings (loopback only, no telemetry) stand beside app.py, so it must run from there.
    return subprocess.call([sys.executable, "-m", "streamlit", "run", str(app)], cwd=app.parent, env=environment)


def run(arguments: Sequence[str]) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str
        Words after the program's name.

    Returns
    -------
    int
        0 fine, 1 when a self-check disagrees, 2 bad input (problems are on standard error).
    """
    given = _parser().parse_args(arguments)
    if given.command == "schema":
        print(json.dumps(documents_schema(), indent=2, ensure_ascii=False))
        return FINE
    if given.command == "selfcheck":
        results = run_self_check()
        print(self_check_text(results))
        return FINE if all(result.passed for result in results) else DISAGREES
    case: Case | None = load_case(given.case) if given.case is not None else None
    if given.command == "open":
        return _open_screens(given.case)
    assert case is not None  # only `open` may come without a case
    if given.command == "check":
        print(
            f"{given.case.name}: fine. {len(case.board_types)} board types, {len(case.candidates)} candidates, "
            f"{len(case.trials)} trials."
        )
        return FINE
    if given.command == "dossier":
        _check_dossier(given.output)
    evaluation = evaluate(case, draws=given.draws, seed=given.seed, progress=_progress)
    if given.command == "workbook":
        return _write_workbook(evaluation, given.output)
    if given.command == "dossier":
        return _write_dossier(evaluation, given.output, given.units, given.paper)
    if given.json is not None:
        _write(given.json, evaluation_json(evaluation).encode("utf-8"))
    _print_verdicts(evaluation)
    return FINE


def main() -> int:
    """Run the command line and turn refused input into exit code 2."""
    try:
        return run(sys.argv[1:])
    except CaseError as refused:
        for problem in refused.problems:
            print(problem, file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # The reader of our output went away (such as `| head`); that is no fault.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE


if __name__ == "__main__":
    sys.exit(main())
