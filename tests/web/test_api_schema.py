"""Whatever is sent to the API, as its own description allows or forbids: an answer that the description names."""

import copy
from collections.abc import Iterator

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scenebook.web.keys import Right
from tests.web.support import House, house

POSITIVE = schemathesis.GenerationMode.POSITIVE
FEW, MANY = 25, 1_500
OPERATIONS = [
    ("GET", "/api/state"),
    ("POST", "/api/act"),
    ("GET", "/api/programme"),
    ("GET", "/api/records"),
    ("GET", "/api/keys"),
    ("GET", "/events"),
]


@pytest.fixture(scope="module")
def served() -> Iterator[House]:
    with house() as made:
        made.serve()
        yield made


def hold_to_the_description(served: House, method: str, path: str, examples: int) -> None:
    """Send what the description allows, and what it does not; all of the tool's checks hold.

    The cookie is given each time, so the description that is held to does not ask for it.
    """
    assert served.serving is not None
    base = served.serving.address("")
    described = copy.deepcopy(served.app.openapi())
    said = described["paths"][path][method.lower()]
    del said["security"]
    modes = list(schemathesis.GenerationMode) if {"parameters", "requestBody"} & said.keys() else [POSITIVE]
    operation = schemathesis.openapi.from_dict(described)[path][method]
    wanted = [operation.as_strategy(generation_mode=mode) for mode in modes]

    @settings(max_examples=examples, suppress_health_check=list(HealthCheck), database=None)
    @given(st.data())
    def ask(data: st.DataObject) -> None:
        case = data.draw(st.one_of(wanted))
        if path == "/events":  # a stream without an end is none to wait for
            case.query = {**(case.query or {}), "once": "true"}
        case.call_and_validate(base_url=base, cookies=served.cookies(Right.STEP))

    ask()
    assert served.snapshot.version >= 0


def test_every_address_of_the_api_is_tried(served: House) -> None:
    """One that is added later is tried as well."""
    paths = served.app.openapi()["paths"]

    assert {(method.upper(), path) for path, each in paths.items() for method in each} == set(OPERATIONS)


@pytest.mark.parametrize(("method", "path"), OPERATIONS)
def test_the_api_does_as_its_description_says(served: House, method: str, path: str) -> None:
    """A page that sends nonsense gets a sentence, and the gig goes on."""
    hold_to_the_description(served, method, path, FEW)


@pytest.mark.benchmark
@pytest.mark.parametrize(("method", "path"), OPERATIONS)
def test_the_api_does_as_its_description_says_a_thousand_times(served: House, method: str, path: str) -> None:
    """The same, with many more requests."""
    hold_to_the_description(served, method, path, MANY)
