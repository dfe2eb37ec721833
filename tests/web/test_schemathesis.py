"""Every operation under requests that schemathesis makes of the API's description, good ones and bad ones, to a real service:
whatever is sent, the answer is one that the description names, of the shape it names."""

import os
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
import requests
import schemathesis
from schemathesis import Case
from schemathesis.checks import CheckFunction
from schemathesis.config import (
    ChecksConfig,
    GenerationConfig,
    HealthCheck,
    PositiveDataAcceptanceConfig,
    ProjectConfig,
    ProjectsConfig,
    SchemathesisConfig,
    SimpleCheckConfig,
)
from schemathesis.core.parameters import ParameterLocation
from schemathesis.specs.openapi.checks import ignored_auth, positive_data_acceptance

from service.web.application import ROUTES
from service.web.openapi import described
from tests.support import RunningService

NIGHTLY = os.environ.get("BREAKWRIGHT_TEST_PROFILE") == "nightly"
EXAMPLES = 300 if NIGHTLY else 6  # drawn for each operation, beside those that cover its description

OFF = SimpleCheckConfig(enabled=False)
CHECKS = ChecksConfig(
    # What is of its schema may still be refused for what it says, but never with 400, which is for what is not.
    positive_data_acceptance=PositiveDataAcceptanceConfig(
        expected_statuses=["2xx", "401", "403", "404", "409", "410", "412", "422", "428", "451"]
    ),
    # The framework answers OPTIONS, which the API does not offer, with the first method of an address alone; 405 names all.
    allow_header_conformance=OFF,
    # These look at chains of requests or at two callers, which single requests have not; tests/web/test_people.py,
    # test_tokens.py and test_authorisation.py do.
    use_after_free=OFF,
    ensure_resource_availability=OFF,
    object_level_authorization=OFF,
)
CONFIG = SchemathesisConfig(
    seed=None if NIGHTLY else 1,
    suppress_health_check=list(HealthCheck),  # how hard it is to draw is not what is tested
    projects=ProjectsConfig(
        default=ProjectConfig(
            checks=CHECKS,
            generation=GenerationConfig(
                deterministic=not NIGHTLY,
                max_examples=EXAMPLES,
                database="none",
                allow_extra_parameters=False,  # query and headers that nobody knows are passed over, as is usual
            ),
        )
    ),
)
# Pictures, sheets and sound take up to seconds each, and most of what is asked is about one text: tests/web/test_files.py.
# A zip is nothing that is drawn: tests/web/test_imports.py.
API = (
    schemathesis.openapi.from_dict(described(ROUTES), config=CONFIG)
    .exclude(tag="files")
    .exclude(path_regex="/imports$")
)

# What is there, in place of what was drawn for a path; else nearly all would be 404.
HERE: dict[str, object] = {
    "group": "ferry-lane", "tune": "heron-ferry", "lick_number": 1, "other": 2, "phrase": 1, "member": 1,
}  # fmt: skip
# Not for these, which would take it from the others.
INSTEAD: dict[str, dict[str, object]] = {
    "PATCH /v1/groups/{group}": {"group": "quay"},
    "POST /v1/groups/{group}/members/{member}/erasure": {"member": 2},
    "PUT /v1/groups/{group}/settings": {"group": "quay"},
    "PUT /v1/groups/{group}/tunes/{tune}": {"tune": "millers-mitten"},
    "DELETE /v1/groups/{group}/tunes/{tune}": {"tune": "thimble-creek"},
    "PUT /v1/groups/{group}/licks/{lick_number}": {"lick_number": 5},
    "DELETE /v1/groups/{group}/licks/{lick_number}": {"lick_number": 6},
    "PUT /v1/groups/{group}/licks/{lick_number}/taken-down": {"lick_number": 7},
    "DELETE /v1/groups/{group}/licks/{lick_number}/taken-down": {"lick_number": 7},
}


@dataclass(frozen=True)
class Target:
    address: str
    session: requests.Session
    code: str
    callers: dict[bool, dict[str, str]]  # an organiser for what is a group's, else an operator
    guarded: set[str] = field(default_factory=set)  # operations that were asked without a token


@pytest.fixture(scope="module")
def target(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Target]:
    with (
        RunningService(tmp_path_factory.mktemp("target"), demo=True) as service,
        requests.Session() as session,
    ):
        service.operator.post("/v1/groups", json={"slug": "quay", "name": "Quay"})
        drawn = service.member.post("/v1/groups/ferry-lane/tunes/heron-ferry/breaks/random", json={"seed": 1})
        organiser = service.client("organiser", "ferry-lane", "Kit")
        callers = {
            of_a_group: {"Authorization": client.headers["authorization"]}
            for of_a_group, client in ((False, service.operator), (True, organiser))
        }
        organiser.close()
        yield Target(service.address, session, drawn.json()["code"], callers)


def _as_sent(value: object) -> object:
    """Whole numbers without a point: 4.0 is one by JSON Schema, but nobody writes it so, and the service does not read it."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, list):
        return [_as_sent(item) for item in value]
    if isinstance(value, dict):
        return {name: _as_sent(item) for name, item in value.items()}
    return value


# Without a parameter pytest 9.2 would know all items of schemathesis 4.32 by one name, and run one of them on many processors.
@pytest.mark.parametrize("named", [""])
@API.parametrize()
def test_answers_are_as_described(
    case: Case, target: Target, named: str, request: pytest.FixtureRequest
) -> None:
    assert case.operation.label in request.node.nodeid
    drawn_for = case.meta.phase.data.parameter if case.meta else None
    here = {**HERE, "code": target.code, **INSTEAD.get(case.operation.label, {})}
    if drawn_for is None and case.meta and case.meta.is_negative_at(ParameterLocation.PATH):
        here = {}
    for name in case.path_parameters:
        if name in here and name != drawn_for:
            case.path_parameters[name] = here[name]
    if "If-Match" in case.headers and drawn_for != "If-Match":
        case.headers["If-Match"] = "*"
    case.body = _as_sent(case.body)
    # a cursor is no text that anybody makes up
    excluded: list[CheckFunction] = [positive_data_acceptance] if "cursor" in case.query else []
    if case.operation.label in target.guarded:
        excluded.append(ignored_auth)
    answer = case.call_and_validate(
        base_url=target.address,
        session=target.session,
        headers=target.callers["{group}" in case.operation.label and here.get("group") != "quay"],
        excluded_checks=excluded,
    )
    if answer.status_code < 300:
        target.guarded.add(case.operation.label)
