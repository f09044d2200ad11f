"""The top level of the repository holds what it should and nothing else."""

from tests.support.checkout import ROOT, project_files

ALLOWED = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "CHANGELOG.md",
    "pyproject.toml",
    "scenebook",
    "migrations",
    "tests",
    "demo_library",
}


def test_nothing_else_lies_at_the_top_level() -> None:
    """Whoever opens the repository finds the house and no boxes in the hall; dot files are the tools' own."""
    top = {path.parts[0] for path in project_files()}

    assert {name for name in top if not name.startswith(".")} <= ALLOWED


def test_every_part_of_the_top_level_is_there() -> None:
    """A reader needs the words, a builder the settings, a user the licence, and the tool its two folders."""
    assert {name for name in ALLOWED if not (ROOT / name).exists()} == set()
