"""Who makes the PDFs, and what if it dies?

One child process, started when it is first wanted and kept warm: loading WeasyPrint takes half a
second, and a crash or a memory peak in it must not take the server along. It is a fresh Python
process, never a fork of a server with threads.
"""

from __future__ import annotations

import atexit
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import IO, Any

from batches.labels.errors import LabelRefused, LabelsUnavailable, PrintStopped

START_SECONDS = 60.0
_LOOK_EVERY = 0.05
_LAST_MOMENT = 2.0
_ROOT = Path(__file__).resolve().parents[2]
# After this many labels a fresh process takes over: what a long run held is given back.
_LABELS_A_PROCESS = 4000

Progress = Callable[[int], None]
Cancelled = Callable[[], bool]


class Worker:
    """One print process; jobs are done one at a time, from any thread."""

    def __init__(self, *, environment: Mapping[str, str] | None = None) -> None:
        self._environment = dict(environment or {})
        self._lock = threading.Lock()
        self._child: subprocess.Popen[bytes] | None = None
        self._answers: SimpleQueue[bytes | None] = SimpleQueue()
        self._labels = 0
        self._forgotten: subprocess.Popen[bytes] | None = None

    @property
    def pid(self) -> int | None:
        """The print process's id; None while there is none."""
        child = self._child
        return child.pid if child and child.poll() is None else None

    def run(
        self,
        job: Mapping[str, Any],
        *,
        timeout: float,
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
    ) -> dict[str, Any]:
        """Have one job done and return its answer.

        LabelRefused when the job cannot be done as given, PrintStopped when `cancelled` said so,
        LabelsUnavailable when the process cannot start, dies, fails, or takes over `timeout`
        seconds; the next job then gets a new process.
        """
        deadline = time.monotonic() + timeout
        if not self._lock.acquire(timeout=timeout):
            raise LabelsUnavailable(
                "Another print is still being made. Nothing was printed; try again in a minute."
            )
        try:
            self._send(job)
            answer = self._wait(deadline, progress=progress, cancelled=cancelled)
            self._labels += int(answer.get("labels", 0))
            if self._labels >= _LABELS_A_PROCESS:
                self._end()
            return answer
        except BaseException as error:
            # A refused job leaves a healthy process; after anything else its answers are unknown.
            if not isinstance(error, LabelRefused):
                self._end(kill=True)
            raise
        finally:
            self._lock.release()

    def start(self) -> None:
        """Start the process if it is not running; LabelsUnavailable says why it cannot be."""
        with self._lock:
            self._ready()

    def close(self) -> None:
        """End the process and wait until it is gone; a job that is not done in a moment is lost."""
        if not self._lock.acquire(timeout=_LAST_MOMENT):
            # Its death is the running job's answer, and that thread then gives the lock back.
            if busy := self._child:
                busy.kill()
            self._lock.acquire()
        try:
            self._end()
        finally:
            self._lock.release()

    def forget(self) -> None:
        """Leave the process to the program that started it: this one is a forked copy of that."""
        self._forgotten, self._child = self._child, None
        self._lock = threading.Lock()

    def _send(self, job: Mapping[str, Any]) -> None:
        line = json.dumps(job).encode() + b"\n"
        for last_try in (False, True):
            child = self._ready()
            try:
                _pipe(child.stdin).write(line)
                _pipe(child.stdin).flush()
                return
            except OSError:
                # It died while it was idle, which is nobody's job lost: once more with a new one.
                self._end(kill=True)
                if last_try:
                    raise LabelsUnavailable(_died("before it could begin")) from None

    def _ready(self) -> subprocess.Popen[bytes]:
        if self._child and self._child.poll() is None:
            return self._child
        self._end(kill=True)
        child = self._started()
        try:
            answer = self._next(time.monotonic() + START_SECONDS, cancelled=None)
        except BaseException:
            self._end(kill=True)
            raise
        if "unavailable" in answer:
            self._end()
            raise LabelsUnavailable(str(answer["unavailable"]))
        return child

    def _started(self) -> subprocess.Popen[bytes]:
        environment = {**os.environ, **self._environment}
        paths = [
            self._environment.get("PYTHONPATH", ""),
            str(_ROOT),
            os.environ.get("PYTHONPATH", ""),
        ]
        environment["PYTHONPATH"] = os.pathsep.join(filter(None, paths))
        environment["PYTHONIOENCODING"] = "utf-8"
        command = [sys.executable, "-W", "ignore", "-m", "batches.labels.child"]
        try:
            self._child = subprocess.Popen(  # noqa: S603 - our own module, no shell
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env=environment,
                cwd=_ROOT,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError as error:
            raise LabelsUnavailable(f"The print process cannot be started: {error}") from error
        self._answers = SimpleQueue()
        self._labels = 0
        reader = threading.Thread(
            target=_read,
            args=(_pipe(self._child.stdout), self._answers),
            daemon=True,
            name="print-answers",
        )
        reader.start()
        return self._child

    def _wait(
        self, deadline: float, *, progress: Progress | None, cancelled: Cancelled | None
    ) -> dict[str, Any]:
        while True:
            answer = self._next(deadline, cancelled=cancelled)
            if "done" in answer:
                return dict(answer["done"])
            if "refused" in answer:
                raise LabelRefused(answer["refused"], field=answer["field"])
            if "failed" in answer:
                raise LabelsUnavailable(
                    f"The print could not be made ({answer['failed']}). Nothing was printed."
                )
            if progress and "labels" in answer:
                progress(answer["labels"])

    def _next(self, deadline: float, *, cancelled: Cancelled | None) -> dict[str, Any]:
        """Return the next answer; raises when none comes, or none is wanted any more."""
        while True:
            if cancelled and cancelled():
                raise PrintStopped("The print was stopped. Nothing was printed.")
            try:
                line = self._answers.get(timeout=_LOOK_EVERY)
            except Empty:
                if time.monotonic() < deadline:
                    continue
                raise LabelsUnavailable(
                    "The print took too long and was stopped. Nothing was printed; try fewer "
                    "labels at once."
                ) from None
            if line is None:
                raise LabelsUnavailable(_died(self._how_it_ended()))
            # What something printed before the process kept its output to itself is no answer.
            with suppress(ValueError):
                answer = json.loads(line)
                if isinstance(answer, dict):
                    return answer

    def _how_it_ended(self) -> str:
        if not self._child:
            return ""
        with suppress(subprocess.TimeoutExpired):
            code = self._child.wait(5)
            return f"signal {-code}" if code < 0 else f"exit {code}"
        return "no answer"

    def _end(self, *, kill: bool = False) -> None:
        child, self._child = self._child, None
        if child is None:
            return
        if kill:
            child.kill()
        with suppress(OSError):
            _pipe(child.stdin).close()
        try:
            child.wait(5)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def _died(how: str) -> str:
    return (
        f"The print process stopped in the middle of its work ({how}). Nothing was printed; "
        "try once more."
    )


def _pipe(pipe: IO[bytes] | None) -> IO[bytes]:
    """Return the pipe that the process was started with."""
    if pipe is None:
        raise LabelsUnavailable("The print process has no way to answer. Nothing was printed.")
    return pipe


def _read(pipe: IO[bytes], answers: SimpleQueue[bytes | None]) -> None:
    """Pass on each line of the child's answers, and None at their end."""
    with pipe:
        for line in pipe:
            answers.put(line)
    answers.put(None)


WORKER = Worker()
"""The one print process of this program."""
atexit.register(WORKER.close)
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=WORKER.forget)
