"""Every public name in `stats` says what it takes, in which shape and unit, what it gives and what it refuses.

The rule, for every name without a leading underscore in footing, inference, practice and charts (a function, a class, a
method or property of such a class):

1. It has a docstring.
2. A `raise` in its body stands under `Raises`, by the name of the error, unless the same body catches it.
3. A function or method that another file of `stats`, `results` or `api` names has each argument under `Parameters`, and
   what it gives under `Returns`. One that no other file names needs only a summary line. So does one that overrides a
   method of a class in `stats`, where the arguments are described. In charts, whose drawing methods are many and small,
   a method needs only a summary, and so does what no file outside charts names.
4. One argument alone may be named in the text instead (`name`, or its words: ``peak load`` for ``peak_load``), and then
   `Returns` may be left out too.
5. An argument that is an array is never left to the text: its entry says its shape, and so does the text of what gives
   an array. A property counts as what gives one.
6. An argument that is a float says its unit: in its name (``arm_mm``), in brackets (``[N]``, ``[-]``), by a word for a
   number that has none (share, ratio, log, ...) or by whose unit it has ("in the unit of the readings").
7. The fields of a dataclass or named tuple are arguments of it, and so are those of ``__init__``; outside charts,
   whoever names it.

Whether a docstring is true, no test can tell.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = ("footing", "inference", "practice", "charts")
SECTIONS = "Parameters|Attributes|Returns|Yields|Warns|Raises|See Also|Notes|References|Examples"

Function = ast.FunctionDef | ast.AsyncFunctionDef
ARRAY = re.compile(r"\b(ArrayLike|NDArray|ndarray|Floats|Ints|Bools)\b")
FLOAT = re.compile(r"^(float|float \| None)$")
UNIT_IN_NAME = re.compile(r"_(n|nm|mm|mm2|mm3|mpa|pct|deg|kg|kgm3|s|h|c|kpa|gm2|nmm|m|days|years)$")
UNIT_IN_TEXT = re.compile(
    r"\[[^\]]+\]|units?\b|\b(between 0 and 1|chance|coefficient|confidence|counts?|coverage|degrees of freedom|"
    r"factors?|level|logs?|numbers? of|power|probability|ratios?|shares?|standard errors|statistic)\b",
    re.IGNORECASE,
)


def tree_of(path: Path) -> ast.Module:
    # Not kept: hundreds of trees in memory make the collector slower than reading them again.
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def named_by() -> dict[tuple[str, str], set[Path]]:
    """Files that name something, by (module, name) for what a module holds and by ("", name) for what an object has."""
    found: dict[tuple[str, str], set[Path]] = {}
    for path in (path for room in ("stats", "results", "api") for path in (ROOT / room).rglob("*.py")):
        nodes = list(ast.walk(tree_of(path)))
        imports = [
            (node.module or "", alias) for node in nodes if isinstance(node, ast.ImportFrom) for alias in node.names
        ]
        called = {alias.asname or alias.name: alias.name for _, alias in imports}
        keys = {(module.split(".")[-1], alias.name) for module, alias in imports}
        for node in nodes:
            if isinstance(node, ast.Attribute):
                owner = called.get(node.value.id, "") if isinstance(node.value, ast.Name) else ""
                keys |= {("", node.attr), (owner, node.attr)}
        for key in keys:
            found.setdefault(key, set()).add(path)
    return found


@cache
def methods_of() -> dict[str, set[str]]:
    """The methods of every class in `stats`, by the class's name."""
    found: dict[str, set[str]] = {}
    for path in (ROOT / "stats").rglob("*.py"):
        for node in tree_of(path).body:
            if isinstance(node, ast.ClassDef):
                found[node.name] = {part.name for part in node.body if isinstance(part, Function)}
    return found


def sections(docstring: str) -> dict[str, str]:
    """The text of each section; what stands before the first is under ""."""
    parts = re.split(rf"^({SECTIONS})\n-+\n", docstring + "\n", flags=re.MULTILINE)
    return {"": parts[0]} | dict(zip(parts[1::2], parts[2::2], strict=True))


def entries(section: str) -> dict[str, str]:
    """What a `Parameters` section says of each name: its type and its text."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in section.splitlines():
        if line and not line.startswith(" "):
            names = [name.strip(" *`") for name in line.split(" : ")[0].split(",")]
        for name in names:
            found[name] = found.get(name, "") + line + "\n"
    return found


def decorated(node: ast.ClassDef | Function) -> set[str]:
    return {word for part in node.decorator_list for word in re.findall(r"\w+", ast.unparse(part).split("(")[0])}


def arguments(node: ast.ClassDef | Function) -> list[ast.arg]:
    if isinstance(node, ast.ClassDef):
        inits = [part for part in node.body if isinstance(part, Function) and part.name == "__init__"]
        bases = {ast.unparse(base) for base in node.bases}
        if "dataclass" in decorated(node) or "NamedTuple" in bases:
            fields = [part for part in node.body if isinstance(part, ast.AnnAssign)]
            every = [ast.arg(ast.unparse(part.target), part.annotation) for part in fields]
            return [arg for arg in every if not arg.arg.startswith("_")]
        return arguments(inits[0]) if inits else []
    spec = node.args
    every = [*spec.posonlyargs, *spec.args, spec.vararg, *spec.kwonlyargs, spec.kwarg]
    return [arg for arg in every if arg is not None and arg.arg not in ("self", "cls")]


def raised(node: Function) -> set[str]:
    """Errors that leave a function: not those it catches itself, nor that of a method which others have to write."""
    caught = [part for block in ast.walk(node) if isinstance(block, ast.Try) and block.handlers for part in block.body]
    inside = {id(part) for block in caught for part in ast.walk(block)}
    made = [part.exc for part in ast.walk(node) if isinstance(part, ast.Raise) and id(part) not in inside]
    names = [ast.unparse(exc.func if isinstance(exc, ast.Call) else exc).split(".")[-1] for exc in made if exc]
    # An error that was caught and is raised again stands under a small letter.
    return {name for name in names if name[0].isupper() and name != "NotImplementedError"}


def told_of_array(annotation: ast.expr | None, text: str) -> bool:
    return annotation is None or not ARRAY.search(ast.unparse(annotation)) or "shape" in text


def told_of_unit(arg: ast.arg, text: str) -> bool:
    if arg.annotation is None or not FLOAT.match(ast.unparse(arg.annotation)):
        return True
    return bool(UNIT_IN_NAME.search(arg.arg) or UNIT_IN_TEXT.search(text))


def missing_of_arguments(node: ast.ClassDef | Function, said: dict[str, str]) -> Iterator[str]:
    args = arguments(node)
    described = entries(said.get("Parameters", "") + said.get("Attributes", ""))
    for arg in args:
        text = described.get(arg.arg)
        if text is None:
            words = re.compile(rf"(?i)\b({arg.arg}|{arg.arg.replace('_', '.')})\b")
            named = len(args) == 1 and isinstance(node, Function) and words.search("".join(said.values()))
            if not named or not told_of_array(arg.annotation, ""):
                yield f"argument {arg.arg} is not described"
        elif not told_of_array(arg.annotation, text):
            yield f"argument {arg.arg} says no shape"
        elif not told_of_unit(arg, text):
            yield f"argument {arg.arg} says no unit"


def missing_of_returns(node: Function, said: dict[str, str]) -> Iterator[str]:
    given = "None" if node.returns is None else ast.unparse(node.returns)
    if not told_of_array(node.returns, said.get("Returns") or said[""]):
        yield "the array it gives says no shape"
    short = len(arguments(node)) <= 1 and "Parameters" not in said
    if given not in ("None", "Self") and not short and not {"Returns", "Yields"} & set(said):
        yield "what it gives is not described"


def only_summary(node: ast.ClassDef | Function, path: Path, owner: ast.ClassDef | None) -> bool:
    """Whether rule 3 lets this one off with its summary line."""
    users = named_by().get(("" if owner else path.stem, node.name), set()) - {path}
    if path.parent.name == "charts":
        users = {user for user in users if user.parent != path.parent and not owner}
    elif isinstance(node, ast.ClassDef):
        return False
    bases = [ast.unparse(base).split("[")[0].split(".")[-1] for base in owner.bases] if owner else []
    return not users or any(node.name in methods_of().get(base, ()) for base in bases)


def missing(node: ast.ClassDef | Function, path: Path, owner: ast.ClassDef | None = None) -> Iterator[str]:
    docstring = ast.get_docstring(node)
    if not docstring:
        yield "no docstring"
        return
    said = sections(docstring)
    if isinstance(node, Function):
        for name in sorted(raised(node)):
            if not re.search(rf"^(\w+, )*{name}\b", said.get("Raises", ""), flags=re.MULTILINE):
                yield f"{name} is raised and not under Raises"
    if not only_summary(node, path, owner):
        yield from missing_of_arguments(node, said)
        yield from missing_of_returns(node, said) if isinstance(node, Function) else ()


def faults(path: Path) -> list[str]:
    found = []
    for node in tree_of(path).body:
        if not isinstance(node, ast.ClassDef | Function) or node.name.startswith("_"):
            continue
        found += [f"{path.name}: {node.name}: {fault}" for fault in missing(node, path)]
        for part in node.body if isinstance(node, ast.ClassDef) else []:
            if isinstance(part, Function) and not part.name.startswith("_"):
                found += [f"{path.name}: {node.name}.{part.name}: {fault}" for fault in missing(part, path, node)]
    return found


@pytest.mark.parametrize("room", ROOMS)
def test_public_names_say_what_they_take_give_and_refuse(room):
    paths = sorted((ROOT / "stats" / room).rglob("*.py"))

    assert paths
    assert "\n".join(fault for path in paths for fault in faults(path)) == ""


DESCRIBED = '''
def lower_limit(values: ArrayLike, arm_mm: float, spread: float) -> Floats:
    """Summary.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings.
    arm_mm : float
        An arm.
    spread : float
        A spread [N].

    Returns
    -------
    ndarray, shape (n,)

    Raises
    ------
    BadSample, TooFew
        If it can't be.
    """
    if len(values) < 2:
        raise TooFew("one")
'''


@pytest.mark.parametrize(
    ("taken_out", "left", "fault"),
    [
        ("Readings.", "Values.", None),
        ("array_like, shape (n,)", "array_like", "argument values says no shape"),
        ("    arm_mm : float\n        An arm.\n", "", "argument arm_mm is not described"),
        ("A spread [N].", "A spread.", "argument spread says no unit"),
        ("ndarray, shape (n,)\n", "ndarray\n", "the array it gives says no shape"),
        ("BadSample, TooFew", "BadSample", "TooFew is raised and not under Raises"),
    ],
)
def test_what_is_left_out_is_found(taken_out, left, fault):
    # Under the name of a function that other files import.
    path = ROOT / "stats" / "inference" / "tolerance.py"
    assert taken_out in DESCRIBED

    found = list(missing(ast.parse(DESCRIBED.replace(taken_out, left)).body[0], path))

    assert found == ([fault] if fault else [])


def test_a_result_that_is_left_out_is_found():
    source = DESCRIBED.replace("    Returns\n    -------\n    ndarray, shape (n,)\n", "").replace(
        "Floats:", "LowerLimit:"
    )
    node = ast.parse(source).body[0]

    assert list(missing(node, ROOT / "stats" / "inference" / "tolerance.py")) == ["what it gives is not described"]


def test_a_function_that_no_other_file_names_needs_only_its_summary():
    path = ROOT / "stats" / "inference" / "tolerance.py"
    own = 'def known_here_only(a: float, b: float) -> float:\n    """Summary."""'

    assert list(missing(ast.parse(own).body[0], path)) == []
    assert list(missing(ast.parse(own.replace('"""Summary."""', "pass")).body[0], path)) == ["no docstring"]


def test_fields_of_a_dataclass_are_arguments():
    source = '@dataclass(frozen=True)\nclass Own:\n    """Summary."""\n\n    load: float\n    _kept: float\n'
    node = ast.parse(source).body[0]

    assert list(missing(node, ROOT / "stats" / "inference" / "tolerance.py")) == ["argument load is not described"]
