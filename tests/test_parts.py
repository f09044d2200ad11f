"""Parts of the machine that tests need: named where they lack, and never quietly left out in CI."""

import pytest

from tests.support import parts

pytest_plugins = ["pytester"]

CONFTEST = "from tests.conftest import pytest_make_collect_report, pytest_runtest_makereport, pytest_runtest_setup\n"


@pytest.fixture
def absent(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take one part away from this machine, as far as the table can tell."""
    monkeypatch.setitem(parts.PARTS, "midicsv", parts.Part("a test", lambda: "no program midicsv"))


@pytest.mark.parametrize(("value", "expected"), [("true", True), ("1", True), ("", False), ("false", False)])
def test_ci_is_told_by_its_variable(value: str, expected: bool) -> None:
    """A player who runs the tests at home may lack a part; CI may not."""
    assert parts.in_ci({"CI": value}) is expected


@pytest.mark.usefixtures("absent")
def test_a_missing_part_skips_the_test_and_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    """The rest of the tests is still worth running."""
    monkeypatch.delenv("CI", raising=False)

    with pytest.raises(pytest.skip.Exception, match="needs midicsv: no program midicsv"):
        parts.needs("midicsv")


@pytest.mark.usefixtures("absent")
def test_a_missing_part_fails_the_test_in_ci(monkeypatch: pytest.MonkeyPatch) -> None:
    """A proof that did not run is no proof."""
    monkeypatch.setenv("CI", "true")

    with pytest.raises(pytest.fail.Exception, match="nothing may be left out"):
        parts.needs("midicsv")


SKIPPING = {
    "in the test": "import pytest\ndef test_it():\n    pytest.skip('no such thing')\n",
    "by a mark": "import pytest\n@pytest.mark.skip(reason='no such thing')\ndef test_it():\n    pass\n",
    "for the whole file": "import pytest\npytest.importorskip('no_such_thing')\ndef test_it():\n    pass\n",
}


@pytest.mark.parametrize("source", SKIPPING.values(), ids=SKIPPING.keys())
def test_any_skip_is_a_failure_in_ci(source: str, pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> None:
    """However a test is left out, CI says so by failing; at home it stays a skip."""
    pytester.makeconftest(CONFTEST)
    pytester.makepyfile(source)

    monkeypatch.delenv("CI", raising=False)
    at_home = pytester.runpytest_inprocess("-p", "no:cacheprovider")
    monkeypatch.setenv("CI", "true")
    in_ci = pytester.runpytest_inprocess("-p", "no:cacheprovider")

    assert at_home.parseoutcomes() == {"skipped": 1}
    assert set(in_ci.parseoutcomes()) <= {"failed", "errors", "error"}
    in_ci.stdout.fnmatch_lines(["*nothing may be left out*"])


def test_an_expected_failure_is_no_skip(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> None:
    """A known fault that is written down as such did run."""
    pytester.makeconftest(CONFTEST)
    pytester.makepyfile("import pytest\n@pytest.mark.xfail\ndef test_it():\n    assert False\n")
    monkeypatch.setenv("CI", "true")

    assert pytester.runpytest_inprocess("-p", "no:cacheprovider").parseoutcomes() == {"xfailed": 1}
