"""Worker processes that share the machines of a large evaluation, and can be stopped at once.

Each worker is a fresh interpreter that reads a job and then machine after machine from its standard input, and
writes each outcome to its standard output. Unlike `multiprocessing` this does not run the caller's main module
again, which in a Streamlit session would be the whole app, and does not fork a process that has threads. Outcomes
travel as pickles between processes of one program on one computer, never from outside.
"""

from __future__ import annotations

import contextlib
import gc
import io
import os
import pickle
import queue
import struct
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import IO, Any

import numpy as np

from catalog_schema.collector import collector_at_rest
from catalog_schema.machine import Machine
from model.machine_job import MachineJob, MachineRunner
from model.outcomes import MachineOutcome
from model.uncertainty import Input

Task = tuple[Machine, str]
"""A machine and its fingerprint."""

Name = tuple[int, tuple[str, str, bool]]
"""Of something drawn: 0 for its record or 1 for its column, and its key in `model.uncertainty.Drawn`; 2 for what
follows from a board type alone, with its name in front."""

# Later protocols bring every small array back with two more objects around it.
_PROTOCOL = 4

Shared = dict[Name, Any]
"""What workers have drawn, by name, as far as it has come home."""

Answer = tuple[int, tuple[bytes, bytes] | Exception]
"""A task's place, and what its worker wrote: what it has newly drawn, and the outcome with what it drew left out."""

_LENGTH = struct.Struct("<Q")
_START = "import sys; sys.path[:0] = [{root!r}]; from model.workers import serve; serve()"
_STOPPED = "A worker process ended before its work was done. Is there enough memory? Try again with fewer workers."


def outcomes_by_workers(job: MachineJob, tasks: Sequence[Task], workers: int) -> Iterator[tuple[int, MachineOutcome]]:
    """Give each task's place and outcome as they become known, in no fixed order.

    Parameters
    ----------
    job : MachineJob
    tasks : sequence of (Machine, fingerprint)
    workers : int
        Processes; each takes the next machine as soon as it is free.

    Yields
    ------
    place in `tasks`, MachineOutcome

    Raises
    ------
    RuntimeError
        When a worker ends before its time. An exception of the computation itself is raised as it is.

    Notes
    -----
    Closing the iterator, or an exception where it is used, ends all workers at once. A geometry that machines on
    different workers have in common is traced once in each of them.
    """
    drawn: Shared = {}
    waiting: queue.SimpleQueue[int] = queue.SimpleQueue()
    for place in range(len(tasks)):
        waiting.put(place)
    found: queue.SimpleQueue[Answer] = queue.SimpleQueue()
    processes = [start_worker() for _ in range(min(workers, len(tasks)))]
    threads = [
        threading.Thread(target=_feed, args=(process, job, tasks, waiting, found), daemon=True)
        for process in processes
    ]
    try:
        for thread in threads:
            thread.start()
        for _ in tasks:
            place, answer = found.get()
            with collector_at_rest():
                outcome = answer if isinstance(answer, Exception) else joined(answer, drawn)
            if isinstance(outcome, Exception):
                raise outcome
            yield place, outcome
    finally:
        for process in processes:
            process.kill()
        for thread in threads:
            thread.join()
        for process in processes:
            end_worker(process)


def end_worker(process: subprocess.Popen[bytes]) -> None:
    """End a worker at once."""
    process.kill()
    process.wait()
    for stream in (process.stdin, process.stdout):
        # What a dead worker has not read is lost on purpose.
        with contextlib.suppress(OSError):
            if stream is not None:
                stream.close()


def start_worker() -> subprocess.Popen[bytes]:
    """Start a worker, which ends by itself with the program that started it."""
    root = str(Path(__file__).resolve().parent.parent)
    # There are as many workers as processors: threads of their own would only get in one another's way.
    one_thread = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
    # Arrays come and go all the time: memory that is given back each time has to be fetched again (GNU's library only).
    keep_memory = dict.fromkeys(("MALLOC_TRIM_THRESHOLD_", "MALLOC_MMAP_THRESHOLD_"), str(64 * 2**20))
    return subprocess.Popen(
        [sys.executable, "-c", _START.format(root=root)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        env=os.environ | one_thread | keep_memory,
    )  # fmt: skip


def _feed(
    process: subprocess.Popen[bytes], job: MachineJob, tasks: Sequence[Task], waiting: queue.SimpleQueue[int],
    found: queue.SimpleQueue[Answer],
) -> None:  # fmt: skip
    """Hand one worker its job and machine after machine; runs in a thread of its own."""
    place = -1
    try:
        send(process, job)
        while True:
            place = waiting.get_nowait()
            send(process, tasks[place])
            found.put((place, read_answer(process)))
    except queue.Empty:
        return
    except (OSError, EOFError):
        # When the evaluation was stopped nobody listens any more.
        found.put((place, RuntimeError(_STOPPED)))
    except Exception as problem:  # without an answer the caller would wait for ever
        found.put((place, problem))


def send(process: subprocess.Popen[bytes], thing: MachineJob | Task) -> None:
    """Give a worker a job, or a machine of the job it was given last."""
    assert process.stdin is not None
    _write(process.stdin, thing)


def read_answer(process: subprocess.Popen[bytes]) -> tuple[bytes, bytes]:
    """Wait for what a worker has newly drawn and for the outcome of the machine it was given."""
    assert process.stdout is not None
    return _read_bytes(process.stdout), _read_bytes(process.stdout)


def joined(answer: tuple[bytes, bytes], drawn: Shared) -> MachineOutcome | Exception:
    """Take note of what a worker has newly drawn, and put its outcome together again."""
    for name, thing in pickle.loads(answer[0]).items():
        if isinstance(thing, np.ndarray):
            thing.setflags(write=False)
        # What several workers have drawn alike becomes one.
        drawn.setdefault(name, thing)
    outcome: MachineOutcome | Exception = _Joining(io.BytesIO(answer[1]), drawn).load()
    return outcome


class _Parting(pickle.Pickler):
    """Pickles an outcome with what was drawn left out and named instead: many machines share it.

    Records and arrays, thousands a machine, are taken apart here in half the time that they take themselves.
    """

    def __init__(self, stream: IO[bytes], names: dict[int, Name]) -> None:
        super().__init__(stream, protocol=_PROTOCOL)
        self._names = names
        self.named: set[Name] = set()

    def reducer_override(self, thing: object) -> Any:
        """Say how to make a thing again; NotImplemented leaves it to the thing itself."""
        kind = type(thing)
        if kind is np.ndarray or kind is Input:
            name = self._names.get(id(thing))
            if name is not None:
                self.named.add(name)
                return _of_drawn, name
        if isinstance(thing, np.ndarray):
            # Nearly all are numbers over the draws; what is not goes its own way.
            over_draws = thing.ndim == 1 and thing.size > 0 and not thing.dtype.hasobject
            return (np.frombuffer, (thing.tobytes(), thing.dtype.str)) if over_draws else NotImplemented
        names = _slots(kind)  # type: ignore[arg-type]
        return (_record, (kind, *[getattr(thing, name) for name in names])) if names else NotImplemented


class _Joining(pickle.Unpickler):
    """Puts what is named back in its places."""

    def __init__(self, stream: IO[bytes], drawn: Shared) -> None:
        super().__init__(stream)
        self._drawn = drawn

    def find_class(self, module: str, name: str) -> Any:
        """Give what makes a thing again."""
        return self._named if (module, name) == (__name__, _of_drawn.__name__) else super().find_class(module, name)

    def _named(self, *name: Any) -> Any:
        return self._drawn[name]


def _of_drawn(*name: Any) -> Any:
    """Stand in a pickle for what was drawn; `_Joining` puts it there."""
    raise LookupError(f"Nothing here knows what was drawn as {name}.")


@cache
def _slots(kind: Any) -> tuple[str, ...]:
    """Give the names of a frozen record's fields; none for anything else."""
    return tuple(field.name for field in fields(kind)) if is_dataclass(kind) and hasattr(kind, "__slots__") else ()


@cache
def _setters(kind: Any) -> tuple[Callable[[object, object], None], ...]:
    return tuple(getattr(kind, name).__set__ for name in _slots(kind))


def _record(kind: type[Any], *values: object) -> Any:
    """Make a frozen record that was checked when it was first made."""
    record = object.__new__(kind)
    setters = _setters(kind)  # type: ignore[arg-type]
    for set_value, value in zip(setters, values, strict=True):
        set_value(record, value)
    return record


def _write(stream: IO[bytes], thing: object) -> None:
    _write_bytes(stream, pickle.dumps(thing, protocol=_PROTOCOL))


def _write_bytes(stream: IO[bytes], content: bytes) -> None:
    stream.write(_LENGTH.pack(len(content)))
    stream.write(content)
    stream.flush()


def _read(stream: IO[bytes]) -> Any:
    return pickle.loads(_read_bytes(stream))


def _read_bytes(stream: IO[bytes]) -> bytes:
    head = stream.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        raise EOFError
    return stream.read(_LENGTH.unpack(head)[0])


def serve() -> None:
    """Do the jobs and their machines that come in until the input ends; the whole life of a worker."""
    incoming = sys.stdin.buffer
    # Whatever prints must not get between the outcomes.
    outgoing = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    try:
        runner = MachineRunner(_read(incoming))
    except EOFError:
        return
    # What is loaded by now lives as long as the worker: the garbage collector need not look through it again.
    gc.freeze()
    sent: set[Name] = set()
    while True:
        try:
            given = _read(incoming)
        except EOFError:
            return
        if isinstance(given, MachineJob):
            # Another case, or the same one edited: of what was made before only traces are the same.
            alike = (given.rays, given.seed) == (runner.job.rays, runner.job.seed)
            runner, sent = MachineRunner(given, runner.traces if alike else None), set()
            continue
        machine, fingerprint = given
        answer: MachineOutcome | Exception
        try:
            answer = runner.outcome(machine, fingerprint)
        except Exception as problem:  # handed on to the caller, who raises it
            answer = problem
        # The runner keeps all that it has drawn, so an address stands for one thing for good.
        content = io.BytesIO()
        shared = {(part, key): thing for key, pair in runner.drawn.items() for part, thing in enumerate(pair)}
        shared |= {(2, (name, "", True)): values for name, values in runner.of_boards.items()}
        names = {id(thing): name for name, thing in shared.items()}
        parting = _Parting(content, names)
        parting.dump(answer)
        new = parting.named - sent
        sent |= new
        _write(outgoing, {name: shared[name] for name in new})
        _write_bytes(outgoing, content.getvalue())
