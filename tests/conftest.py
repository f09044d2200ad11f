"""What every test may ask for, and the rule that in CI nothing is left out."""

import os
from collections.abc import Callable, Generator, Iterator
from typing import TypeVar

import pytest
from hypothesis import settings

from tests.support import parts
from tests.support.jack import JackServer, jack_server

Report = TypeVar("Report", pytest.TestReport, pytest.CollectReport)

# Busy machines make any time limit for one example a coin toss. In CI the examples are the same on every run, so that a
# failure there is never news about a change that has nothing to do with it.
settings.register_profile("here", deadline=None, print_blob=True)
settings.register_profile("ci", deadline=None, print_blob=True, derandomize=True)
settings.load_profile("ci" if parts.in_ci() else "here")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep all tests with a JACK server in one process: two servers that start or stop at once disturb each other.

    Those that start and kill servers of their own come last, since what they leave behind can hold up later clients.
    """
    items.sort(key=lambda item: "test_jack_server" in item.nodeid)
    for item in items:
        if "jack_server_of_this_worker" in getattr(item, "fixturenames", ()) or "test_jack_server" in item.nodeid:
            item.add_marker(pytest.mark.xdist_group("jack"))
            item.add_marker(pytest.mark.jack)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Let the markers that name a part of the machine ask for it."""
    for name in parts.PARTS:
        if item.get_closest_marker(name) is not None:
            parts.needs(name)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Turn a skip into a failure in CI, whoever asked for it; an expected failure stays what it is."""
    return _without_skips((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Hold a whole file that skips itself to the same rule."""
    return _without_skips((yield))


def _without_skips(report: Report) -> Report:
    if parts.in_ci() and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped, and with CI=true nothing may be left out: {report.longrepr}"
    return report


@pytest.fixture
def needs() -> Callable[[str], None]:
    """Give the function that skips the test (in CI: fails it) where the machine lacks a part: `needs("midicsv")`."""
    return parts.needs


@pytest.fixture(scope="session")
def jack_server_of_this_worker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[JackServer]:
    """Run one JACK server for each test process; the process number keeps two test runs apart."""
    parts.needs("jack")
    worker = os.environ.get("PYTEST_XDIST_WORKER", "main")
    name = f"scenebook-test-{worker}-{os.getpid()}"
    with jack_server(name, tmp_path_factory.mktemp("jack")) as server:
        yield server


@pytest.fixture
def jack(jack_server_of_this_worker: JackServer, monkeypatch: pytest.MonkeyPatch) -> JackServer:
    """Lead this test's JACK clients, and those of the commands that it starts, to a server with no sound card."""
    for key, value in jack_server_of_this_worker.environment.items():
        monkeypatch.setenv(key, value)
    return jack_server_of_this_worker


@pytest.fixture
def tell(record_property: Callable[[str, object], None]) -> Callable[[str], None]:
    """Give the function that says a count or a measure at the end of the whole run, whoever ran the test."""
    return lambda said: record_property("told", said)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say what tests have told."""
    reports = [report for name in ("passed", "failed") for report in terminalreporter.stats.get(name, [])]
    told = [(report.nodeid, said) for report in reports for key, said in report.user_properties if key == "told"]
    if told:
        terminalreporter.section("counts and measures")
    for where, said in sorted(told):
        terminalreporter.write_line(f"{where.rpartition('::')[2]}: {said}")
