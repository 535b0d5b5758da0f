"""Watches which module calls which while something runs, and which of the calls go upwards.

A call counts once for each pair of functions in two modules of the house, whatever of Django lies between them. It
goes upwards if the module that is called imports the one that calls, perhaps through others, or if a contract of
pyproject.toml, by which import-linter holds the order of imports, puts it above. Imports can't make such calls, but
functions that were handed down, overridden methods and signals can. The planner counts as one: its walk is told in
docs/planner.md.
"""

import sys
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

from grimp import ImportGraph, build_graph

ROOT = Path(__file__).resolve().parents[2]
FLOORS = ("accounts", "caseload", "config", "jobs", "schedule", "travel")
PART_OF_ANOTHER = {"<genexpr>", "<module>", "<lambda>"}
"""Runs where it is used and belongs to the function around it: no call of its own."""
PLANNER = "schedule.planner."
TOOL = 4
"""A tool's number that no program claims for itself (docs.python.org/3/library/sys.monitoring.html)."""


@dataclass(frozen=True, slots=True)
class Call:
    """One function calls another; modules by their dotted names."""

    caller: str
    calling: str
    callee: str
    called: str

    def __str__(self) -> str:
        return f"{self.caller}.{self.calling} -> {self.callee}.{self.called}"

    @property
    def modules(self) -> tuple[str, str]:
        """From which module to which."""
        return self.caller, self.callee

    @property
    def is_upward(self) -> bool:
        """Whether the called module stands above the calling one."""
        if any(_above(levels, self.callee, self.caller) for levels in contracts()):
            return True
        return imports().chain_exists(importer=self.callee, imported=self.caller)


@dataclass(slots=True)
class Walk:
    """The calls between modules, in the order in which each was made first."""

    begin: str
    calls: dict[Call, None] = field(default_factory=dict)
    has_begun: bool = False

    @property
    def modules(self) -> list[str]:
        """Each module once, in the order of the walk."""
        return list(dict.fromkeys(one for call in self.calls for one in call.modules))

    @property
    def upward(self) -> list[Call]:
        """The calls that go upwards."""
        return [call for call in self.calls if call.is_upward]

    def see(self, code: CodeType, offset: int) -> object:
        """A function begins."""
        del offset
        if not _is_ours(code) or code.co_name in PART_OF_ANOTHER:
            return sys.monitoring.DISABLE
        frame = sys._getframe(1)
        callee = _module(frame)
        self.has_begun = self.has_begun or f"{callee}.{code.co_qualname}" == self.begin
        caller = _calling(frame)
        if self.has_begun and caller is not None and _module(caller) != callee:
            call = Call(_module(caller), _name(caller.f_code), callee, code.co_qualname)
            if not (call.caller.startswith(PLANNER) and call.callee.startswith(PLANNER)):
                self.calls.setdefault(call)
        return None


@contextmanager
def walking(begin: str) -> Iterator[Walk]:
    """Watch what runs in this block, from the function `begin` on (module and name)."""
    walk, watch = Walk(begin), sys.monitoring
    watch.use_tool_id(TOOL, "walks")
    watch.register_callback(TOOL, watch.events.PY_START, walk.see)
    watch.set_events(TOOL, watch.events.PY_START)
    watch.restart_events()
    try:
        yield walk
    finally:
        watch.set_events(TOOL, 0)
        watch.register_callback(TOOL, watch.events.PY_START, None)
        watch.free_tool_id(TOOL)


@cache
def _is_ours(code: CodeType) -> bool:
    file = Path(code.co_filename)
    return file.is_relative_to(ROOT) and file.relative_to(ROOT).parts[0] in FLOORS


def _name(code: CodeType) -> str:
    """A function's own name, also of an expression inside it."""
    return code.co_qualname.split(".<locals>")[0]


def _module(frame: FrameType) -> str:
    return str(frame.f_globals["__name__"])


def _calling(frame: FrameType) -> FrameType | None:
    """The nearest function of the house that this one was called from."""
    back = frame.f_back
    while back is not None and not _is_ours(back.f_code):
        back = back.f_back
    return back


@cache
def imports() -> ImportGraph:
    """Which module imports which."""
    return build_graph(*FLOORS)


@cache
def contracts() -> tuple[dict[str, int], ...]:
    """Each order of modules that import-linter holds: a module's level by its name, 0 at the top."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        named: list[dict[str, Any]] = tomllib.load(file)["tool"]["importlinter"]["contracts"]
    return tuple(
        _levels(one["layers"], f"{container}." if container else "")
        for one in named
        if one["type"] == "layers"
        for container in one.get("containers", [""])
    )


def _levels(layers: list[str], begin: str) -> dict[str, int]:
    return {
        begin + name.strip(" ()"): level
        for level, layer in enumerate(layers)
        for name in layer.replace("|", ":").split(":")
    }


def _above(levels: dict[str, int], one: str, other: str) -> bool:
    upper, lower = _level(levels, one), _level(levels, other)
    return upper is not None and lower is not None and upper < lower


def _level(levels: dict[str, int], module: str) -> int | None:
    """The level of a module or of the package around it that the contract names."""
    parts = module.split(".")
    names = (".".join(parts[:size]) for size in range(len(parts), 0, -1))
    return next((levels[name] for name in names if name in levels), None)
