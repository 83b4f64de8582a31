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
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import IO, Any

import numpy as np

from catalog_schema.machine import Machine
from model.machine_job import MachineJob, MachineRunner
from model.outcomes import MachineOutcome
from model.records import changed, record, slots, values
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

Written = tuple[bytes, bytes]
"""What a worker writes of a task: what it has newly drawn, and the outcome with all that was drawn left out."""

Answer = tuple[int, int, Written | Exception]
"""A task's place, the number of its worker, and what that wrote."""

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
    joiners = [Joiner(drawn) for _ in processes]
    threads = [
        threading.Thread(target=_feed, args=(number, process, job, tasks, waiting, found), daemon=True)
        for number, process in enumerate(processes)
    ]
    try:
        for thread in threads:
            thread.start()
        for _ in tasks:
            place, number, answer = found.get()
            outcome = answer if isinstance(answer, Exception) else joiners[number].joined(answer)
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
    number: int, process: subprocess.Popen[bytes], job: MachineJob, tasks: Sequence[Task],
    waiting: queue.SimpleQueue[int], found: queue.SimpleQueue[Answer],
) -> None:  # fmt: skip
    """Hand one worker its job and machine after machine; runs in a thread of its own."""
    place = -1
    try:
        send(process, job)
        while True:
            place = waiting.get_nowait()
            send(process, tasks[place])
            found.put((place, number, read_answer(process)))
    except queue.Empty:
        return
    except (OSError, EOFError):
        # When the evaluation was stopped nobody listens any more.
        found.put((place, number, RuntimeError(_STOPPED)))
    except Exception as problem:  # without an answer the caller would wait for ever
        found.put((place, number, problem))


def send(process: subprocess.Popen[bytes], thing: MachineJob | Task) -> None:
    """Give a worker a job, or a machine of the job it was given last."""
    assert process.stdin is not None
    _write(process.stdin, thing)


def read_answer(process: subprocess.Popen[bytes]) -> Written:
    """Wait for what a worker has newly drawn and for the outcome of the machine it was given."""
    assert process.stdout is not None
    return _read_bytes(process.stdout), _read_bytes(process.stdout)


class Joiner:
    """Puts together again what one worker writes.

    Parameters
    ----------
    drawn : dict
        What workers have drawn, by name; filled. Several workers of one job share it.
    """

    def __init__(self, drawn: Shared) -> None:
        """Start with a worker that has written nothing yet."""
        self._drawn = drawn
        self._numbered: dict[int, Any] = {}
        self._paths: dict[int, str] = {}

    def joined(self, answer: Written) -> MachineOutcome | Exception:
        """Take note of what the worker has newly drawn, and put its outcome together."""
        for number, name, thing in pickle.loads(answer[0]):
            if isinstance(thing, np.ndarray):
                thing.setflags(write=False)
            # What several workers have drawn alike becomes one.
            self._numbered[number] = self._drawn.setdefault(name, thing)
            self._paths[number] = name[1][0]
        found, inputs, columns = _Joining(io.BytesIO(answer[1]), self._numbered).load()
        if isinstance(found, Exception):
            return found
        outcome: MachineOutcome = changed(
            found, inputs=tuple(self._numbered[number] for number in inputs),
            columns={self._paths[number]: self._numbered[number] for number in columns},
        )  # fmt: skip
        return outcome


class _Parting(pickle.Pickler):
    """Pickles an outcome with what was drawn left out and its number instead: many machines share it.

    Records and arrays, thousands a machine, are taken apart here in half the time that they take themselves.
    """

    def __init__(self, stream: IO[bytes], numbers: dict[int, int]) -> None:
        """Start with the number of all that was drawn, by its address."""
        super().__init__(stream, protocol=_PROTOCOL)
        self._numbers = numbers
        self.met: set[int] = set()

    def reducer_override(self, thing: object) -> Any:
        """Say how to make a thing again; NotImplemented leaves it to the thing itself."""
        kind = type(thing)
        if kind is np.ndarray or kind is Input:
            number = self._numbers.get(id(thing))
            if number is not None:
                self.met.add(number)
                return _of_drawn, (number,)
        if isinstance(thing, np.ndarray):
            # Nearly all are numbers over the draws; what is not goes its own way.
            over_draws = thing.ndim == 1 and thing.size > 0 and not thing.dtype.hasobject
            return (np.frombuffer, (thing.tobytes(), thing.dtype.str)) if over_draws else NotImplemented
        return (record, (kind, *values(thing))) if slots(kind) else NotImplemented  # type: ignore[arg-type]


class _Joining(pickle.Unpickler):
    """Puts what is numbered back in its places."""

    def __init__(self, stream: IO[bytes], numbered: dict[int, Any]) -> None:
        super().__init__(stream)
        self._numbered = numbered

    def find_class(self, module: str, name: str) -> Any:
        """Give what makes a thing again."""
        mine = (module, name) == (__name__, _of_drawn.__name__)
        return self._numbered.__getitem__ if mine else super().find_class(module, name)


def _of_drawn(number: int) -> Any:
    """Stand in a pickle for what was drawn; `_Joining` puts it there."""
    raise LookupError(f"Nothing here knows what was drawn as number {number}.")


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
    # A machine makes so many objects that the collector would be at it all the time, and leaves next to no rings of
    # them: it looks once after each machine, at what is new, and after each job at everything.
    gc.disable()
    drawn = _Drawn(runner)
    while True:
        try:
            given = _read(incoming)
        except EOFError:
            return
        if isinstance(given, MachineJob):
            # Another case, or the same one edited: of what was made before only traces are the same.
            alike = (given.rays, given.seed) == (runner.job.rays, runner.job.seed)
            runner = MachineRunner(given, runner.traces if alike else None)
            drawn = _Drawn(runner)
        else:
            for part in _answer(runner, drawn, *given):
                _write_bytes(outgoing, part)
        gc.collect(2 if isinstance(given, MachineJob) else 0)


class _Drawn:
    """What a runner has drawn, numbered in the order in which it was met here.

    The runner keeps all of it, so an address stands for one thing for good.
    """

    def __init__(self, runner: MachineRunner) -> None:
        """Start with nothing numbered and nothing sent."""
        self._runner = runner
        self._things: list[tuple[Name, Any]] = []
        self._counted = [0, 0]
        self._sent: set[int] = set()
        self.numbers: dict[int, int] = {}
        """Numbers by address."""

    def count(self) -> None:
        """Give numbers to what was drawn since the last time."""
        runner, known = self._runner, self._counted
        new: list[tuple[Name, Any]] = [
            ((part, key), thing)
            for key, pair in islice(runner.drawn.items(), known[0], None)
            for part, thing in enumerate(pair)
        ]
        new += [((2, (name, "", True)), array) for name, array in islice(runner.of_boards.items(), known[1], None)]
        self.numbers |= {id(thing): number for number, (_, thing) in enumerate(new, start=len(self._things))}
        self._things += new
        self._counted = [len(runner.drawn), len(runner.of_boards)]

    def unsent(self, met: set[int]) -> list[tuple[int, Name, Any]]:
        """Give what of those met was never sent, with number and name."""
        new = met - self._sent
        self._sent |= new
        return [(number, *self._things[number]) for number in sorted(new)]


def _answer(runner: MachineRunner, drawn: _Drawn, machine: Machine, fingerprint: str) -> Written:
    """Do one machine and write what came of it."""
    content = io.BytesIO()
    inputs: list[int] = []
    columns: list[int] = []
    answer: MachineOutcome | Exception
    try:
        answer = runner.outcome(machine, fingerprint)
    except Exception as problem:  # handed on to the caller, who raises it
        answer = problem
    drawn.count()
    if isinstance(answer, MachineOutcome):
        # All that was taken note of was drawn, so that numbers say it.
        inputs = [drawn.numbers[id(one)] for one in answer.inputs]
        columns = [drawn.numbers[id(one)] for one in answer.columns.values()]
        answer = changed(answer, inputs=(), columns={})
    parting = _Parting(content, drawn.numbers)
    parting.dump((answer, inputs, columns))
    return pickle.dumps(drawn.unsent(parting.met.union(inputs, columns)), protocol=_PROTOCOL), content.getvalue()
