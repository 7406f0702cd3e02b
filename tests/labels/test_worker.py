"""Does the print process serve, die without harm, and leave nothing behind?"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from textwrap import dedent

import pytest

from batches.labels import (
    LabelRefused,
    LabelsUnavailable,
    PrintStopped,
    print_labels,
    printing,
    why_unavailable,
)
from batches.labels.stocks import STOCKS
from batches.labels.worker import WORKER, Worker
from tests.labels.examples import pot, tray
from tests.labels.paper import PRINTER, run

ROOT = Path(__file__).parents[2]
SHEET = STOCKS["a4-24"]


def alive(pid: int) -> bool:
    """Return whether a process of that id is there, a zombie too."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def gone_within(pid: int, seconds: float) -> bool:
    ends = time.monotonic() + seconds
    while alive(pid) and time.monotonic() < ends:
        time.sleep(0.05)
    return not alive(pid)


def print_one(folder: Path) -> Path:
    output = folder / "one.pdf"
    print_labels([pot(1)], SHEET, output=output)
    return output


@pytest.fixture
def other(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, str]]:
    """Let printing use a worker of its own, started with these variables."""
    environment: dict[str, str] = {}
    made: list[Worker] = []

    class Proxy:
        def __getattr__(self, name: str) -> object:
            if not made:
                made.append(Worker(environment=environment))
            return getattr(made[0], name)

    monkeypatch.setattr(printing, "WORKER", Proxy())
    yield environment
    for worker in made:
        worker.close()


@PRINTER
def test_one_process_serves_one_job_after_another(tmp_path: Path) -> None:
    print_one(tmp_path)
    pid = WORKER.pid
    print_one(tmp_path)
    assert pid is not None
    assert WORKER.pid == pid != os.getpid()


@PRINTER
@pytest.mark.faults
def test_a_killed_process_costs_its_job_and_no_other(tmp_path: Path) -> None:
    output = tmp_path / "long.pdf"
    killed: list[int] = []

    def kill(_done: int) -> None:
        if not killed and WORKER.pid:
            killed.append(WORKER.pid)
            os.kill(WORKER.pid, signal.SIGKILL)

    rows = [tray(number) for number in range(900)]
    with pytest.raises(LabelsUnavailable, match=r"signal 9.*Nothing was printed"):
        print_labels(rows, SHEET, output=output, progress=kill)
    assert list(tmp_path.iterdir()) == []
    assert gone_within(killed[0], 1)
    assert print_one(tmp_path).exists()
    assert WORKER.pid not in (None, killed[0])


@PRINTER
@pytest.mark.faults
def test_a_process_that_died_while_idle_is_replaced_unnoticed(tmp_path: Path) -> None:
    print_one(tmp_path)
    pid = WORKER.pid
    assert pid
    os.kill(pid, signal.SIGKILL)
    ends = time.monotonic() + 5
    while WORKER.pid and time.monotonic() < ends:
        time.sleep(0.02)
    assert print_one(tmp_path).exists()
    assert WORKER.pid != pid


@PRINTER
def test_a_print_can_be_stopped_and_leaves_the_old_file(tmp_path: Path) -> None:
    output = tmp_path / "labels.pdf"
    output.write_bytes(b"the old one")
    heard: list[int] = []
    with pytest.raises(PrintStopped):
        print_labels(
            [tray(number) for number in range(900)],
            SHEET,
            output=output,
            progress=heard.append,
            cancelled=lambda: bool(heard),
        )
    assert heard[0] < 900
    assert output.read_bytes() == b"the old one"
    assert list(tmp_path.iterdir()) == [output]
    assert print_one(tmp_path).exists()


@PRINTER
def test_a_job_that_takes_too_long_is_ended(tmp_path: Path) -> None:
    worker = Worker()
    try:
        worker.start()
        pid = worker.pid
        job = tmp_path / "job"
        job.write_text('{"html": "<p>words</p>", "exact": false}')
        order = {"do": "html", "job": str(job), "out": str(tmp_path / "out.pdf")}
        with pytest.raises(LabelsUnavailable, match="too long"):
            worker.run(order, timeout=0.0001)
        assert pid
        assert not alive(pid)
        assert worker.run(order, timeout=60)["sheets"] == 1
    finally:
        worker.close()


@PRINTER
def test_a_job_that_fails_is_told_and_the_next_is_done(tmp_path: Path) -> None:
    worker = Worker()
    try:
        order = {"do": "html", "job": str(tmp_path / "missing"), "out": str(tmp_path / "out.pdf")}
        with pytest.raises(LabelsUnavailable, match="FileNotFoundError"):
            worker.run(order, timeout=60)
        (tmp_path / "missing").write_text('{"html": "<p>words</p>", "exact": false}')
        assert worker.run(order, timeout=60)["sheets"] == 1
    finally:
        worker.close()


@PRINTER
def test_a_refusal_keeps_the_process(tmp_path: Path) -> None:
    print_one(tmp_path)
    pid = WORKER.pid
    long = f"http://{'h_' * 88}"
    with pytest.raises(LabelRefused, match="does not fit"):
        print_labels([pot(1, host=long)], STOCKS["a4-65"], output=tmp_path / "no.pdf")
    assert WORKER.pid == pid
    assert not (tmp_path / "no.pdf").exists()


@PRINTER
def test_many_threads_print_at_once(tmp_path: Path) -> None:
    outputs = [tmp_path / f"{number}.pdf" for number in range(6)]
    threads = [
        threading.Thread(
            target=print_labels, args=([pot(number)], SHEET), kwargs={"output": output}
        )
        for number, output in enumerate(outputs, start=1)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for number, output in enumerate(outputs, start=1):
        assert f"26W14-{number:03d}-K" in run("pdftotext", output, "-")


# What a system without the library says, word for word (cffi's message under WeasyPrint).
NO_PANGO = dedent(
    """
    import ctypes.util, cffi

    original = cffi.FFI.dlopen

    def dlopen(self, name, flags=0):
        if "pango" in str(name):
            raise OSError(
                f"cannot load library {name!r}: {name}: cannot open shared object file: No such "
                f"file or directory. Additionally, ctypes.util.find_library() did not manage to "
                f"locate a library called {name!r}"
            )
        return original(self, name, flags)

    cffi.FFI.dlopen = dlopen
    """
)


def test_without_pango_one_line_says_what_to_install(
    tmp_path: Path, other: dict[str, str], capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "sitecustomize.py").write_text(NO_PANGO)
    other["PYTHONPATH"] = str(tmp_path)
    output = tmp_path / "labels.pdf"
    with pytest.raises(LabelsUnavailable, match="system library") as told:
        print_labels([pot(1)], SHEET, output=output)
    assert "pango" in told.value.message
    assert "\n" not in told.value.message
    assert not output.exists()
    assert why_unavailable() == told.value.message
    assert capfd.readouterr() == ("", "")


def test_without_weasyprint_one_line_says_so(tmp_path: Path, other: dict[str, str]) -> None:
    (tmp_path / "weasyprint.py").write_text("raise ImportError('No module named weasyprint')")
    other["PYTHONPATH"] = str(tmp_path)
    assert "pip install weasyprint" in why_unavailable()


@PRINTER
def test_a_computer_without_any_font_prints_all_the_same(
    tmp_path: Path, other: dict[str, str]
) -> None:
    empty = tmp_path / "fonts.conf"
    empty.write_text(f"<fontconfig><cachedir>{tmp_path}</cachedir></fontconfig>")
    other["FONTCONFIG_FILE"] = str(empty)
    output = print_one(tmp_path)
    assert "Dryopteris affinis" in run("pdftotext", output, "-")
    assert "Atkinson" in run("pdffonts", output)


# Before the process keeps its output to itself, and then in the midst of a job.
NOISE = dedent(
    """
    import pathlib

    print("noise")
    print(7)
    original = pathlib.Path.read_text

    def read_text(self, *args, **kwargs):
        print('{"done": {}}', flush=True)
        return original(self, *args, **kwargs)

    pathlib.Path.read_text = read_text
    """
)


@PRINTER
def test_what_a_library_prints_does_not_garble_the_answers(
    tmp_path: Path, other: dict[str, str]
) -> None:
    (tmp_path / "sitecustomize.py").write_text(NOISE)
    other["PYTHONPATH"] = str(tmp_path)
    output = print_one(tmp_path)
    assert "26W14-001-K" in run("pdftotext", output, "-")


def started_script(text: str, folder: Path) -> subprocess.Popen[str]:
    script = folder / "script.py"
    script.write_text(f"import sys; sys.path.insert(0, {str(ROOT)!r})\n{dedent(text)}")
    return subprocess.Popen(
        [sys.executable, str(script)],
        cwd=folder,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@PRINTER
@pytest.mark.parametrize("how", ["by itself", "killed"])
def test_nothing_is_left_when_the_program_ends(how: str, tmp_path: Path) -> None:
    program = started_script(
        """
        from batches.labels.worker import WORKER
        WORKER.start()
        print(WORKER.pid, flush=True)
        input()
        """,
        tmp_path,
    )
    assert program.stdout
    pid = int(program.stdout.readline())
    assert alive(pid)
    if how == "killed":
        program.kill()
    said, complaints = program.communicate(input="\n", timeout=30)
    assert (said, complaints) == ("", "")
    assert gone_within(pid, 10)


@PRINTER
def test_a_program_that_ends_in_the_middle_of_a_print_does_not_wait_for_it(tmp_path: Path) -> None:
    program = started_script(
        """
        import threading
        from pathlib import Path
        from batches.labels import print_labels
        from batches.labels.stocks import STOCKS
        from batches.labels.worker import WORKER
        from tests.labels.examples import tray

        begun = threading.Event()
        rows = [tray(number) for number in range(15_000)]
        job = dict(output=Path("never.pdf"), progress=lambda done: begun.set())
        printer = threading.Thread(
            target=print_labels, args=(rows, STOCKS["a4-24"]), kwargs=job, daemon=True
        )
        printer.start()
        begun.wait(60)
        print(WORKER.pid, flush=True)
        """,
        tmp_path,
    )
    assert program.stdout
    pid = int(program.stdout.readline())
    began = time.monotonic()
    program.communicate(timeout=30)
    assert time.monotonic() - began < 15
    assert gone_within(pid, 5)


@PRINTER
@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system does not fork")
def test_a_forked_copy_of_the_program_gets_a_process_of_its_own(tmp_path: Path) -> None:
    program = started_script(
        """
        import os
        from batches.labels.worker import WORKER
        WORKER.start()
        first = WORKER.pid
        copy = os.fork()
        if copy == 0:
            WORKER.start()
            assert WORKER.pid != first
            raise SystemExit(0)
        assert os.waitpid(copy, 0)[1] == 0
        assert WORKER.pid == first
        print("both well")
        """,
        tmp_path,
    )
    said, complaints = program.communicate(timeout=60)
    assert (said.strip(), complaints) == ("both well", "")


def test_the_print_process_knows_no_django() -> None:
    script = (
        "import sys, batches.labels.child, batches.labels.sheets, batches.labels.webpages\n"
        "print([name for name in sys.modules if name.split('.')[0] == 'django'])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_asking_to_print_loads_no_pdf_library_here() -> None:
    script = "import sys, batches.labels\nprint({'weasyprint', 'segno'} & set(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "set()"
