"""Runs tests in forks of one warm process, each with one mutant in the place of its module.

A fork imports the project afresh, so that changed constants and defaults count like changed functions; what comes
from packages is loaded once, before. The tests see neither Django nor a database (`pytest.ini` beside this file).
"""

import contextlib
import gc
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import io
import json
import os
import resource
import signal
import sys
import traceback
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import CodeType, ModuleType
from typing import Protocol

import hypothesis
import pytest

SETTINGS = Path(__file__).with_name("pytest.ini")
MEMORY = 2 * 2**30
"""Bytes that a mutant may take beyond what the warm process holds: some loop for ever and remember each turn."""


FEW, ALL = 10, 100
"""Examples of each property: a few notice most mutants in a fraction of the time, all are tried on the others."""


class Outcome(StrEnum):
    """What became of a mutant."""

    KILLED = "killed"
    TIMEOUT = "timeout"
    SURVIVED = "survived"


class TestsFailed(Exception):  # noqa: N818 -- what happened, not what is wrong with the program
    """The tests don't pass on the module as it stands; the message is what they printed."""

    __test__ = False


@dataclass(frozen=True, slots=True)
class Trial:
    """Tests of one module, with what they cost on the module as it stands."""

    module: str
    path: Path
    tests: tuple[str, ...]
    seconds: float

    @property
    def limit(self) -> int:
        """Seconds of processor time after which a mutant counts as one that never ends."""
        return int(self.seconds * 5) + 2


class _Loader(importlib.machinery.SourceFileLoader):
    """Loads a module from another text than its file holds."""

    def __init__(self, fullname: str, path: str, source: bytes) -> None:
        super().__init__(fullname, path)
        self._source = source

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._source, self.path, "exec", dont_inherit=True)


class _Finder(importlib.abc.MetaPathFinder):
    """Finds the mutated module before anybody else does."""

    def __init__(self, module: str, path: Path, source: bytes) -> None:
        self._module, self._path, self._source = module, path, source

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        del path, target
        if fullname != self._module:
            return None
        loader = _Loader(fullname, str(self._path), self._source)
        return importlib.util.spec_from_file_location(fullname, self._path, loader=loader)


def path_of(module: str) -> Path:
    """The file of a module."""
    name = module.replace(".", "/") + ".py"
    for place in sys.path:
        if (Path(place) / name).is_file():
            return Path(place) / name
    raise TestsFailed(f"There is no file {name}.")


def _run_tests(tests: Sequence[str], examples: int = ALL) -> int:
    """Pytest's exit code. Examples are the same each time, and a failing one is as good as the smallest."""
    hypothesis.settings.register_profile(
        "mutants",
        max_examples=examples,
        deadline=None,
        derandomize=True,
        database=None,
        phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
        suppress_health_check=list(hypothesis.HealthCheck),
    )
    hypothesis.settings.load_profile("mutants")
    return int(pytest.main(["-c", str(SETTINGS), "--rootdir", str(Path.cwd()), "--noconftest", *tests]))


class _Work(Protocol):
    def __call__(self) -> int: ...


def _forked(work: _Work, limit: int = 0) -> tuple[int, bool, str, resource.struct_rusage]:
    """Exit code, whether it ran out of time, output and cost of some work in a fork."""
    read, write = os.pipe()
    sys.stdout.flush()
    sys.stderr.flush()
    pid = os.fork()
    if pid == 0:
        code = 3
        try:
            os.close(read)
            os.dup2(write, 1)
            os.dup2(write, 2)
            _limit(limit)
            code = work()
        finally:
            if sys.exc_info()[0] is not None:
                traceback.print_exc()
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    os.close(write)
    with os.fdopen(read, "rb") as pipe:
        said = pipe.read().decode(errors="replace")
    _, status, cost = os.wait4(pid, 0)
    out_of_time = os.WIFSIGNALED(status) and os.WTERMSIG(status) in {signal.SIGXCPU, signal.SIGKILL}
    return os.waitstatus_to_exitcode(status), out_of_time, said, cost


def _limit(seconds: int) -> None:
    if seconds:
        signal.signal(signal.SIGXCPU, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 2))
        statm = Path("/proc/self/statm")
        if statm.exists():
            held = int(statm.read_text(encoding="ascii").split()[0]) * resource.getpagesize()
            resource.setrlimit(resource.RLIMIT_AS, (held + MEMORY, held + MEMORY))


def prepare(module: str, tests: Sequence[str]) -> Trial:
    """Run the tests on the module as it stands, keep ready what they load. Raises `TestsFailed`."""
    path = path_of(module)
    mark = "loaded from packages: "

    def work() -> int:
        code = _run_tests(tests)
        print(mark + json.dumps(_from_packages()))  # noqa: T201 -- to the process that forked this one
        return code

    code, _, said, _ = _forked(work)
    if code != 0:
        raise TestsFailed(f"The tests of {module} don't pass as it stands:\n{said.split(mark)[0]}")
    _load(json.loads(said.rsplit(mark, 1)[1]))
    gc.freeze()  # what every fork shares is no garbage of theirs
    code, _, said, cost = _forked(lambda: _run_tests(tests))
    if code != 0:
        raise TestsFailed(f"The tests of {module} don't pass a second time:\n{said}")
    return Trial(module, path, tuple(tests), cost.ru_utime + cost.ru_stime)


def _from_packages() -> list[str]:
    return [
        name
        for name, module in sys.modules.items()
        if "site-packages" in (getattr(module, "__file__", None) or "") and not name.startswith("_")
    ]


def _load(names: Sequence[str]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name in names:
            with contextlib.suppress(ImportError):  # some only load as a part of another
                importlib.import_module(name)


def outcome_of(trial: Trial, source: bytes) -> Outcome:
    """What the tests say of another text of the module."""
    for examples in (FEW, ALL):
        code, out_of_time = _tried(trial, source, examples)
        if out_of_time:
            return Outcome.TIMEOUT
        if code != 0:
            return Outcome.KILLED
    return Outcome.SURVIVED


def _tried(trial: Trial, source: bytes, examples: int) -> tuple[int, bool]:
    def work() -> int:
        sys.meta_path.insert(0, _Finder(trial.module, trial.path, source))
        with contextlib.redirect_stdout(io.StringIO()):
            return _run_tests(trial.tests, examples)

    code, out_of_time, _, _ = _forked(work, trial.limit)
    return code, out_of_time
