"""The API's description is complete and true: OpenAPI 3.1, checked by an outside validator and by real answers."""

import io
import pkgutil
import zipfile
from typing import Any

import jsonschema
import msgspec
import pytest
from openapi_spec_validator import validate

import schemas
from service.web.openapi import messages
from tests.support import RunningService
from tests.web.test_api import GROUP, LICK, TUNE


@pytest.fixture(scope="module")
def description(demo: RunningService) -> dict[str, Any]:
    response = demo.member.get("/schema/openapi.json")
    assert response.headers["content-type"].startswith("application/vnd.oai.openapi+json")
    found: dict[str, Any] = response.json()
    return found


def test_it_is_valid_openapi_3_1(description: dict[str, Any]) -> None:
    assert description["openapi"].startswith("3.1")
    validate(description)


def test_the_fixed_names_are_there(description: dict[str, Any]) -> None:
    found = {(method, path) for path, methods in description["paths"].items() for method in methods}
    group = "/v1/groups/{group}"
    wanted = {
        ("get", "/v1/health/live"), ("get", "/v1/health/ready"), ("get", "/metrics"), ("get", "/v1/instruments"),
        ("post", "/v1/tab/readings"), ("post", "/v1/groups"), ("get", group), ("patch", group),
        ("get", f"{group}/tunes"), ("post", f"{group}/tunes"),
        ("get", f"{group}/tunes/{{tune}}"), ("put", f"{group}/tunes/{{tune}}"), ("delete", f"{group}/tunes/{{tune}}"),
        ("get", f"{group}/licks"), ("post", f"{group}/licks"),
        ("get", f"{group}/licks/{{lick_number}}"), ("put", f"{group}/licks/{{lick_number}}"),
        ("delete", f"{group}/licks/{{lick_number}}"), ("get", f"{group}/licks/{{lick_number}}/revisions"),
        ("get", f"{group}/licks/{{lick_number}}/tab.txt"), ("get", f"{group}/licks/taken-down"),
        ("get", f"{group}/licks/{{lick_number}}/taken-down"), ("put", f"{group}/licks/{{lick_number}}/taken-down"),
        ("delete", f"{group}/licks/{{lick_number}}/taken-down"),
        ("post", f"{group}/tunes/{{tune}}/breaks/count"), ("post", f"{group}/tunes/{{tune}}/breaks/random"),
        ("get", f"{group}/tunes/{{tune}}/breaks/number/{{number}}"),
        ("get", f"{group}/breaks/{{code}}"), ("get", f"{group}/breaks/{{code}}/tab.txt"),
    }  # fmt: skip
    assert wanted <= found


def test_components_are_exactly_what_is_enforced(description: dict[str, Any]) -> None:
    _, exact = msgspec.json.schema_components(
        tuple(messages().values()), ref_template="#/components/schemas/{name}"
    )
    for name, schema in msgspec.json.decode(msgspec.json.encode(exact)).items():
        assert description["components"]["schemas"][name] == schema
    avoid = description["components"]["schemas"]["RandomIn"]["properties"]["avoid"]
    assert avoid["items"]["minimum"] == 1
    assert description["components"]["schemas"]["LickIn"]["additionalProperties"] is False


def test_every_module_of_messages_is_described() -> None:
    modules = {f"schemas.{found.name}" for found in pkgutil.iter_modules(schemas.__path__)}
    assert {message.__module__ for message in messages().values()} == modules


def test_every_whole_number_that_is_asked_for_has_bounds(description: dict[str, Any]) -> None:
    unbounded = [
        (method, path, parameter["name"])
        for path, methods in description["paths"].items()
        for method, operation in methods.items()
        for parameter in operation.get("parameters", ())
        for schema in [parameter["schema"]]
        if "integer" in [kind.get("type") for kind in schema.get("oneOf", [schema])]
        and not {"minimum", "maximum"} <= set(schema)
    ]
    assert unbounded == []


def test_every_answer_that_can_be_an_error_is_a_problem(description: dict[str, Any]) -> None:
    for path, methods in description["paths"].items():
        for method, operation in methods.items():
            for status, answer in operation["responses"].items():
                if int(status) >= 400:
                    content = answer["content"]["application/problem+json"]["schema"]
                    assert content == {"$ref": "#/components/schemas/Problem"}, (method, path, status)
            if "health" not in path:
                assert {"400", "401", "403", "404", "429", "500"} <= set(operation["responses"]), path


def _holds(description: dict[str, Any], name: str, answer: object) -> None:
    schema = {"$ref": f"#/components/schemas/{name}", "components": description["components"]}
    jsonschema.Draft202012Validator(schema).validate(answer)


def test_real_answers_hold_to_their_schemas(service: RunningService, description: dict[str, Any]) -> None:
    ask = service.organiser
    drawn = ask.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 1}).json()
    for name, answer in {
        "InstrumentList": ask.get("/v1/instruments").json(),
        "GroupOut": ask.get(GROUP).json(),
        "TuneList": ask.get(f"{GROUP}/tunes").json(),
        "TuneOut": ask.post(f"{GROUP}/tunes", json=TUNE).json(),
        "LickOut": ask.post(f"{GROUP}/licks", json=LICK).json(),
        "LickList": ask.get(f"{GROUP}/licks").json(),
        "RevisionList": ask.get(f"{GROUP}/licks/1/revisions").json(),
        "CountOut": ask.post(f"{GROUP}/tunes/heron-ferry/breaks/count", json={}).json(),
        "BreakOut": drawn,
        "ReadingOut": ask.post("/v1/tab/readings", json={"text": "32514251", "instrument": "banjo"}).json(),
        "Problem": ask.get(f"{GROUP}/licks/99999").json(),
    }.items():
        _holds(description, name, answer)
    lick = f"{GROUP}/licks/{drawn['phrases'][0]['lick']['number']}"
    taken = ask.put(f"{lick}/taken-down", json={"reason": "why"}, headers={"If-Match": "*"}).json()
    _holds(description, "TakenDownOut", taken)
    _holds(description, "TakenDownList", ask.get(f"{GROUP}/licks/taken-down").json())
    _holds(description, "BreakOut", ask.get(drawn["links"]["self"]).json())
    _holds(description, "Problem", ask.get(lick).json())


def test_methods_that_change_things_offer_their_headers(description: dict[str, Any]) -> None:
    def headers(method: str, path: str) -> set[str]:
        parameters = description["paths"][path][method].get("parameters", [])
        return {p["name"] for p in parameters if p["in"] == "header"}

    assert "Idempotency-Key" in headers("post", "/v1/groups/{group}/licks")
    assert "If-Match" in headers("put", "/v1/groups/{group}/licks/{lick_number}")
    assert "If-Match" in headers("put", "/v1/groups/{group}/licks/{lick_number}/taken-down")
    assert "If-Match" in headers("delete", "/v1/groups/{group}/licks/{lick_number}/taken-down")
    assert "If-Match" in headers("delete", "/v1/groups/{group}/tunes/{tune}")


def test_answers_about_the_pools_care_hold_to_their_schemas(
    service: RunningService, description: dict[str, Any]
) -> None:
    ask, newest = service.member, {"If-Match": "*"}
    sent = ask.post(f"{GROUP}/licks", json=LICK | {"rights": {"may_share": True}}).json()
    lick = f"{GROUP}/licks/{sent['number']}"
    zipped = io.BytesIO()
    with zipfile.ZipFile(zipped, "w") as packed:
        packed.writestr("a.txt", "1|-?-|")
        packed.writestr("b.md", "")
    kind = {"Content-Type": "application/zip"}
    keep = {"decision": "back", "reason": "Look again."}
    for name, answer in {
        "ReportOut": ask.post(f"{lick}/reports", json={"reason": "wrong"}),
        "ReportList": service.organiser.get(f"{GROUP}/reports"),
        "SharedOut": service.organiser.post(f"{GROUP}/swap-table", json={"lick": sent["number"]}),
        "SharedList": ask.get(f"{GROUP}/swap-table"),
        "ImportOut": ask.post(f"{GROUP}/imports", content=zipped.getvalue(), headers=kind),
        "RevisionList": ask.get(f"{lick}/revisions"),
        "LickOut": service.organiser.post(f"{lick}/review", json=keep, headers=newest),
    }.items():
        assert answer.is_success, answer.text
        _holds(description, name, answer.json())
    body = description["paths"]["/v1/groups/{group}/imports"]["post"]["requestBody"]
    assert list(body["content"]) == ["application/zip"]


@pytest.mark.parametrize("sent", [{"uses": "5"}, {"uses": True}, {"role": 0}, {"unknown": 1}, [], None])
def test_a_body_is_read_as_strictly_as_described(demo: RunningService, sent: object) -> None:
    answer = demo.organiser.post(f"{GROUP}/invitations", json=sent)
    assert (answer.status_code, answer.json()["code"]) == (400, "bad-request")
