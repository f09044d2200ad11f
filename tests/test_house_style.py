"""The marks that every file keeps: short functions, files with one subject, words on everything public.

What ruff and mypy can check stands in pyproject.toml; these are the rest.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.checkout import ROOT, project_files

LONGEST_FUNCTION = 60
LONGEST_FILE = 400

Function = ast.FunctionDef | ast.AsyncFunctionDef

# Written apart, so that this file does not hold what it looks for.
MACHINE_PATHS = re.compile(r"(?<![\w.~*-])/(?:" + "|".join(["wo" + "rk", "ro" + "ot", "ho" + r"me/\w+"]) + r")/")
OUTSIDE_NAMES = [
    "py" + "pi.org",
    "python" + "hosted.org",
    "npm" + "js.org",
    "npm" + "js.com",
    "deb." + "debian.org",
    "ftp." + "debian.org",
    "../" + "shared",
]


def modules(top: str) -> list[Path]:
    return [path for path in project_files() if path.parts[0] == top and path.suffix == ".py"]


def tree(path: Path) -> ast.Module:
    return ast.parse((ROOT / path).read_text(encoding="utf-8"), str(path))


def functions(path: Path) -> Iterator[Function]:
    return (node for node in ast.walk(tree(path)) if isinstance(node, Function))


def length(function: Function) -> int:
    """Return the lines from `def` to the last, docstring included, decorators not."""
    return (function.end_lineno or function.lineno) - function.lineno + 1


def has_all(module: ast.Module) -> bool:
    targets = [target for node in module.body if isinstance(node, ast.Assign) for target in node.targets]
    targets += [node.target for node in module.body if isinstance(node, ast.AnnAssign)]
    return any(isinstance(target, ast.Name) and target.id == "__all__" for target in targets)


@pytest.mark.parametrize("top", ["scenebook", "migrations", "tests"])
def test_every_module_says_what_it_is(top: str) -> None:
    """A file that can't say its subject in a docstring has none, or two."""
    assert [str(path) for path in modules(top) if not ast.get_docstring(tree(path))] == []


def test_every_module_of_the_package_says_what_others_may_import() -> None:
    """Without `__all__` every helper is a promise; a `__main__` is run and never imported."""
    package = [path for path in modules("scenebook") if path.name != "__main__.py"]

    assert [str(path) for path in package if not has_all(tree(path))] == []


@pytest.mark.parametrize("top", ["scenebook", "tests"])
def test_no_function_is_longer_than_a_screen(top: str) -> None:
    """What does not fit on a screen is read in parts and changed by guess."""
    too_long = [
        f"{path}:{function.lineno} {function.name}: {length(function)} lines"
        for path in modules(top)
        for function in functions(path)
        if length(function) > LONGEST_FUNCTION
    ]

    assert too_long == []


@pytest.mark.parametrize("top", ["scenebook", "migrations", "tests"])
def test_every_file_stays_under_400_lines(top: str) -> None:
    """A longer file has a second subject in it."""
    counted = {str(path): len((ROOT / path).read_text(encoding="utf-8").splitlines()) for path in modules(top)}

    assert {path: lines for path, lines in counted.items() if lines >= LONGEST_FILE} == {}


def test_every_test_says_why_a_musician_would_care() -> None:
    """The name says what holds and the docstring why; a test with neither is kept by nobody."""
    silent = [
        f"{path}:{function.lineno} {function.name}"
        for path in modules("tests")
        for function in functions(path)
        if function.name.startswith("test") and not ast.get_docstring(function)
    ]

    assert silent == []


def test_no_file_names_this_machine_or_a_registry() -> None:
    """The project stands alone: it works in any folder, and whoever installs it chooses from where."""
    found = []
    for path in project_files():
        try:
            text = (ROOT / path).read_text(encoding="utf-8")
        except UnicodeDecodeError:  # a font or another binary
            continue
        for number, line in enumerate(text.splitlines(), start=1):
            if MACHINE_PATHS.search(line) or any(name in line for name in OUTSIDE_NAMES):
                found.append(f"{path}:{number}: {line.strip()[:100]}")

    assert found == []
