"""The mutants of a source: each changes one place to what a slip of the pen could have made of it.

Mutants are cut into the text itself, so that a report shows the line as its author wrote it. Wording isn't mutated:
docstrings, messages of errors, the text of f-strings and strings with a space in them are for readers to judge.
Values of enumerations are formats of the database and the API, which the migrations check and the schema hold.
"""

import ast
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

COMPARISONS: dict[type[ast.cmpop], tuple[str, str]] = {
    ast.Lt: ("<", "<="),
    ast.LtE: ("<=", "<"),
    ast.Gt: (">", ">="),
    ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
    ast.Is: ("is", "is not"),
    ast.IsNot: (r"is\s+not", "is"),
    ast.In: ("in", "not in"),
    ast.NotIn: (r"not\s+in", "in"),
}
ARITHMETIC: dict[type[ast.operator], tuple[str, str]] = {
    ast.Add: (r"\+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: (r"\*", "/"),
    ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "*"),
    ast.Mod: ("%", "//"),
    ast.BitAnd: ("&", "|"),
    ast.BitOr: (r"\|", "&"),
}
FUNCTIONS = {"min": "max", "max": "min", "any": "all", "all": "any"}
# What may stand between an operand and its operator.
_BETWEEN = r"(?:[\s()\\]|#[^\n]*\n)*"


@dataclass(frozen=True, slots=True)
class Mutant:
    """`old`, bytes `start` to `end` of a source, becomes `new`. `function` is "" outside functions and classes."""

    function: str
    line: int
    start: int
    end: int
    old: str
    new: str

    @property
    def change(self) -> str:
        """The change on one line; with the text of the line and the function it names the mutant."""
        return f"{' '.join(self.old.split()).strip(', ')} -> {self.new or 'nothing'}"

    def applied(self, source: bytes) -> bytes:
        """The source with this change."""
        return source[: self.start] + self.new.encode() + source[self.end :]


def mutants_of(source: bytes) -> tuple[Mutant, ...]:
    """All mutants of a module's source that compile, in the order of the text."""
    walk = _Walk(source)
    walk.visit(ast.parse(source))
    found = dict.fromkeys(sorted(walk.found, key=lambda one: (one.start, one.end, one.new)))
    return tuple(one for one in found if _compiles(one.applied(source)))


def _compiles(source: bytes) -> bool:
    try:
        compile(source, "mutant", "exec", dont_inherit=True)
    except SyntaxError:
        return False
    return True


class _Walk(ast.NodeVisitor):
    """Collects the mutants of every node that isn't wording, annotation or decorator."""

    def __init__(self, source: bytes) -> None:
        self.source = source
        self.found: list[Mutant] = []
        self._names: list[str] = []
        self._lines = [0]
        for line in source.splitlines(keepends=True):
            self._lines.append(self._lines[-1] + len(line))

    # ---- places in the text

    def _span(self, node: ast.expr | ast.stmt | ast.keyword) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        start = self._lines[node.lineno - 1] + node.col_offset
        return start, self._lines[node.end_lineno - 1] + node.end_col_offset

    def _add(self, start: int, end: int, new: str) -> None:
        line = self.source.count(b"\n", 0, start) + 1
        self.found.append(Mutant(".".join(self._names), line, start, end, self.source[start:end].decode(), new))

    def _replace(self, node: ast.expr | ast.stmt, new: str) -> None:
        self._add(*self._span(node), new)

    def _operator(self, before: int, pattern: str, new: str) -> None:
        """The operator that follows the operand which ends at `before`."""
        found = re.compile(rf"{_BETWEEN}({pattern})".encode()).match(self.source, before)
        assert found is not None
        self._add(*found.span(1), new)

    # ---- what is left alone

    def _body(self, body: Sequence[ast.stmt]) -> None:
        for statement in body:
            is_text = isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)
            if not is_text:
                self.visit(statement)

    def visit_Module(self, node: ast.Module) -> None:
        self._body(node.body)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._names.append(node.name)
        is_enum = any(isinstance(base, ast.Name) and base.id.endswith("Enum") for base in node.bases)
        self._body([one for one in node.body if not (is_enum and isinstance(one, ast.Assign))])
        self._names.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self._names.append(node.name)
        for default in (*node.args.defaults, *node.args.kw_defaults):
            if default is not None:
                self.visit(default)
        self._body(node.body)
        self._names.pop()

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_TypeAlias(self, node: ast.TypeAlias) -> None:
        del node

    def visit_Raise(self, node: ast.Raise) -> None:
        del node

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        for part in node.values:
            if isinstance(part, ast.FormattedValue):
                self.visit(part.value)

    # ---- what is changed

    def _condition(self, test: ast.expr, *values: str) -> None:
        for value in values:
            self._replace(test, value)

    def visit_If(self, node: ast.If) -> None:
        self._condition(node.test, "True", "False")
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self._condition(node.test, "True", "False")
        self.generic_visit(node)

    def visit_While(self, node: ast.While) -> None:
        self._condition(node.test, "False")
        self.generic_visit(node)

    def visit_comprehension(self, node: ast.comprehension) -> None:
        for test in node.ifs:
            self._condition(test, "True", "False")
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        word, other, neutral = ("and", "or", "True") if isinstance(node.op, ast.And) else ("or", "and", "False")
        for operand in node.values:
            if not isinstance(operand, ast.Constant):
                self._replace(operand, neutral)
        for operand in node.values[:-1]:
            self._operator(self._span(operand)[1], rf"{word}\b", other)
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        for operand, operator in zip((node.left, *node.comparators), node.ops, strict=False):
            self._operator(self._span(operand)[1], *COMPARISONS[type(operator)])
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        if type(node.op) in ARITHMETIC:
            self._operator(self._span(node.left)[1], *ARITHMETIC[type(node.op)])
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        if type(node.op) in ARITHMETIC:
            pattern, new = ARITHMETIC[type(node.op)]
            self._operator(self._span(node.target)[1], f"{pattern}=", f"{new}=")
        self._replace(node, "pass")
        self.visit(node.value)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        self._add(self._span(node)[0], self._span(node.operand)[0], "")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        new = _other_constant(node.value)
        if new is not None:
            self._replace(node, new)

    def visit_Expr(self, node: ast.Expr) -> None:
        if isinstance(node.value, ast.Call):
            self._replace(node, "pass")
        self.generic_visit(node)

    def visit_Break(self, node: ast.Break) -> None:
        self._replace(node, "continue")

    def visit_Continue(self, node: ast.Continue) -> None:
        self._replace(node, "break")

    def visit_Call(self, node: ast.Call) -> None:
        if isinstance(node.func, ast.Name):
            plain = len(node.args) == 1 and not node.keywords
            new = "list" if node.func.id == "sorted" and plain else FUNCTIONS.get(node.func.id)
            if new is not None:
                self._replace(node.func, new)
        for keyword in node.keywords:
            if keyword.arg is not None:
                self._add(*self._with_comma(keyword), "")
        self.generic_visit(node)

    def _with_comma(self, keyword: ast.keyword) -> tuple[int, int]:
        """Where an argument stands, with the comma behind it or else before it."""
        start, end = self._span(keyword)
        behind = re.compile(rb"\s*,").match(self.source, end)
        if behind is not None:
            return start, behind.end()
        before = re.search(rb",\s*$", self.source[:start])
        return (before.start() if before else start), end


def _other_constant(value: object) -> str | None:
    """Another value of the same kind; None for wording and what has no other value."""
    if isinstance(value, bool):
        return str(not value)
    if isinstance(value, int | float):
        return repr(value + 1)
    if isinstance(value, str) and re.fullmatch(r"\d+(\.\d+)?", value):
        return repr(str(int(value[0]) + 1) + value[1:])
    if isinstance(value, str) and re.search(r"\w", value) and not re.search(r"\s", value):
        return repr(f"{value}~")
    return None


def survivors_in_words(source: bytes, mutants: Sequence[Mutant], path: str) -> Iterator[str]:
    """Each mutant as file, line, function and the lines before and after."""
    for one in mutants:
        first = source.rfind(b"\n", 0, one.start) + 1
        last = source.find(b"\n", one.end)
        before = source[first:last].decode()
        after = (source[first : one.start] + one.new.encode() + source[one.end : last]).decode()
        lines = [f"{path}:{one.line} in {one.function or 'the module'}: {one.change}"]
        lines += [f"  - {line}" for line in before.splitlines()]
        lines += [f"  + {line}" for line in after.splitlines()]
        yield "\n".join(lines)
