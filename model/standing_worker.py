"""One worker process that stays, for a server in which many sessions evaluate again and again.

numpy lets go of the interpreter in every step on more than some hundred numbers. In a server whose other threads work,
each time costs a turn of waiting, so that an evaluation takes many times its own time and keeps the others waiting as
well. A process has an interpreter of its own.
"""

from __future__ import annotations

import contextlib
import subprocess
import threading
from collections.abc import Generator, Sequence

from model.machine_job import MachineJob
from model.outcomes import MachineOutcome
from model.workers import Joiner, Task, end_worker, read_answer, send, start_worker


class StandingWorker:
    """A worker for one evaluation at a time; whoever comes while it is busy computes for himself."""

    def __init__(self) -> None:
        """Start the process, which gets ready while other things are done."""
        self._busy = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = start_worker()

    def outcomes(
        self, job: MachineJob, tasks: Sequence[Task]
    ) -> Generator[tuple[int, MachineOutcome], None, None]:
        """Give each task's place and outcome, in order.

        Notes
        -----
        It ends early, or gives nothing, where the process is busy or dies: the caller then computes the rest. An
        exception of the computation itself is raised as it is.
        """
        if not self._busy.acquire(blocking=False):
            return
        idle = False
        try:
            process = self._process = self._process or start_worker()
            joiner = Joiner({})
            # What a dead process cannot do the caller does.
            with contextlib.suppress(OSError, EOFError):
                send(process, job)
                for place, task in enumerate(tasks):
                    idle = False
                    send(process, task)
                    answer = read_answer(process)
                    idle = True
                    outcome = joiner.joined(answer)
                    if isinstance(outcome, Exception):
                        raise outcome
                    yield place, outcome
        finally:
            # One that was left in the middle of something would answer the next evaluation with that.
            if not idle:
                self._end()
            self._busy.release()

    def close(self) -> None:
        """End the process; the next evaluation would start another."""
        with self._busy:
            self._end()

    def _end(self) -> None:
        if self._process is not None:
            end_worker(self._process)
            self._process = None
