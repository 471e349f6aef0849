import json

import httpx
import pytest

from controller.decide.plan import read_plan
from controller.decide.plan.schema import plan_schema
from tests.decide import PLANS
from tests.support.serving import PLAN


async def test_a_plan_is_kept_read_replaced_and_forgotten(client: httpx.AsyncClient) -> None:
    kept = await client.post("/api/v1/plans", json=PLAN)
    assert kept.status_code == 201
    assert kept.headers["location"] == "/api/v1/plans/evening"
    assert (await client.get(kept.headers["location"])).json()["site"]["latitude"] == PLAN["site"]["latitude"]

    moved = PLAN | {"site": PLAN["site"] | {"latitude": 58.0}}
    assert (await client.put("/api/v1/plans/evening", json=moved)).status_code == 200
    listed = (await client.get("/api/v1/plans")).json()
    assert [(plan["name"], plan["site"]["latitude"]) for plan in listed] == [("evening", 58.0)]

    assert (await client.delete("/api/v1/plans/evening")).status_code == 204
    assert (await client.get("/api/v1/plans")).json() == []


async def test_a_name_that_is_no_name_is_refused(client: httpx.AsyncClient) -> None:
    for name in ("", "../../etc", "a b/c", "x" * 500):
        refused = await client.post("/api/v1/plans", json=PLAN | {"name": name})
        assert (refused.status_code, refused.json()["code"], refused.json()["where"]) == (422, "bad-plan", "name"), name
    assert (await client.get("/api/v1/plans")).json() == []


async def test_a_kept_plan_is_not_overwritten_by_post(client: httpx.AsyncClient) -> None:
    await client.post("/api/v1/plans", json=PLAN)
    again = await client.post("/api/v1/plans", json=PLAN)
    assert (again.status_code, again.json()["code"]) == (409, "plan-exists")
    assert "PUT" in again.json()["remedy"]


async def test_put_makes_a_plan_and_refuses_another_name_in_it(client: httpx.AsyncClient) -> None:
    nameless = {key: value for key, value in PLAN.items() if key != "name"}
    assert (await client.put("/api/v1/plans/pier", json=nameless)).json()["name"] == "pier"
    other = await client.put("/api/v1/plans/pier", json=PLAN)
    assert (other.status_code, other.json()["code"], other.json()["where"]) == (422, "bad-plan", "name")
    assert (await client.get("/api/v1/plans/evening")).status_code == 404


async def test_a_bad_plan_is_refused_with_one_line(client: httpx.AsyncClient) -> None:
    bad = PLAN | {"site": PLAN["site"] | {"latitude": 95}}
    for answer in (
        await client.post("/api/v1/plans", json=bad),
        await client.put("/api/v1/plans/evening", json=bad),
        await client.post("/api/v1/shoots", json={"plan": bad}),
    ):
        problem = answer.json()
        assert answer.status_code == 422
        assert answer.headers["content-type"] == "application/problem+json"
        assert problem["code"] == "bad-plan"
        assert "latitude" in problem["where"]
        assert problem["remedy"]
        assert "\n" not in problem["detail"]
    assert (await client.get("/api/v1/plans")).json() == []


async def test_unknown_plans_are_404(client: httpx.AsyncClient) -> None:
    for answer in (
        await client.get("/api/v1/plans/none"),
        await client.delete("/api/v1/plans/none"),
        await client.post("/api/v1/shoots", json={"plan": "none"}),
    ):
        assert (answer.status_code, answer.json()["code"]) == (404, "no-such-plan")


async def test_copies_names_and_versions(client: httpx.AsyncClient) -> None:
    first = await client.post("/api/v1/plans", json=PLAN)
    copy = await client.post("/api/v1/plans/evening/copy", json={"name": "morning"})
    assert (copy.status_code, copy.headers["location"]) == (201, "/api/v1/plans/morning")
    assert copy.json() == first.json() | {"name": "morning"}
    taken = await client.post("/api/v1/plans/evening/copy", json={"name": "morning"})
    assert (taken.status_code, taken.json()["code"]) == (409, "plan-exists")
    for bad in ("", "../x", "a b", "x" * 500):
        refused = await client.post("/api/v1/plans/evening/rename", json={"name": bad})
        assert (refused.status_code, refused.json()["code"]) == (422, "bad-plan")
    renamed = await client.post("/api/v1/plans/evening/rename", json={"name": "dusk"})
    assert renamed.json()["name"] == "dusk"
    assert (await client.get("/api/v1/plans/evening")).status_code == 404
    versions = (await client.get("/api/v1/plans/dusk/versions")).json()
    assert [v["sha256"] for v in versions][1] == first.headers["etag"].strip('"')
    old = await client.get(f"/api/v1/plans/dusk/versions/{versions[1]['sha256']}")
    assert old.json() == first.json() | {"name": "dusk"}  # as it was, and can be put where it was asked for
    assert (await client.put("/api/v1/plans/dusk", json=old.json())).status_code == 200
    gone = await client.get("/api/v1/plans/dusk/versions/none")
    assert (gone.status_code, gone.json()["code"]) == (404, "no-such-version")


async def test_two_phones_do_not_overwrite_each_other(client: httpx.AsyncClient) -> None:
    tag = (await client.post("/api/v1/plans", json=PLAN)).headers["etag"]
    assert (await client.get("/api/v1/plans/evening")).headers["etag"] == tag
    mine = {"If-Match": tag}
    changed = PLAN | {"clip": {"fps": 30}}
    theirs = await client.put("/api/v1/plans/evening", json=changed, headers=mine)
    assert theirs.status_code == 200
    assert theirs.headers["etag"] != tag
    for late in (
        await client.put("/api/v1/plans/evening", json=PLAN, headers=mine),
        await client.delete("/api/v1/plans/evening", headers=mine),
    ):
        assert (late.status_code, late.json()["code"]) == (412, "plan-changed")
        assert late.json()["remedy"]
    assert (await client.put("/api/v1/plans/evening", json=PLAN)).status_code == 200  # who does not ask is not told
    assert (await client.delete("/api/v1/plans/evening", headers={"If-Match": "*"})).status_code == 204


async def test_any_version_is_one_that_is_there(client: httpx.AsyncClient) -> None:
    """RFC 9110, section 13.1.1: If-Match with * is false where there is nothing."""
    any_there = {"If-Match": "*"}
    refused = await client.put("/api/v1/plans/evening", json=PLAN, headers=any_there)
    assert (refused.status_code, refused.json()["code"]) == (412, "plan-changed")
    assert refused.json()["remedy"]
    assert (await client.get("/api/v1/plans")).json() == []
    await client.post("/api/v1/plans", json=PLAN)
    assert (await client.put("/api/v1/plans/evening", json=PLAN, headers=any_there)).status_code == 200


async def test_a_plan_in_toml(client: httpx.AsyncClient) -> None:
    path = next(path for path in PLANS if path.stem == "tower_for_a_winter")
    toml = {"Content-Type": "application/toml; charset=utf-8"}
    kept = await client.post("/api/v1/plans", content=path.read_bytes(), headers=toml)
    assert kept.status_code == 201, kept.text
    assert kept.json() == read_plan(path.read_text("utf-8")).document()
    again = await client.put(kept.headers["location"], content=path.read_bytes(), headers=toml)
    assert again.json() == kept.json()


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        (b"name = ", "body", "not TOML"),
        (b"name = 'x\xff'", "body", "UTF-8"),
        (b"name = 0x" + b"f" * 9000, "body", "not TOML that can be read"),
        (b"name = 'x'\n[site]\nlat = 3", "[site] lat", "unknown key"),
    ],
)
async def test_toml_that_is_no_plan(client: httpx.AsyncClient, text: bytes, where: str, says: str) -> None:
    answer = await client.post("/api/v1/plans", content=text, headers={"Content-Type": "application/toml"})
    problem = answer.json()
    assert (answer.status_code, problem["code"], problem["where"]) == (422, "bad-plan", where)
    assert says in problem["detail"]
    assert problem["remedy"]


async def test_a_plan_within_another_document(client: httpx.AsyncClient) -> None:
    for answer in (
        await client.post("/api/v1/plans", json={"plan": PLAN}),
        await client.put("/api/v1/plans/evening", json={"plan": PLAN}),
    ):
        problem = answer.json()
        assert (answer.status_code, problem["code"], problem["where"]) == (422, "bad-plan", "plan")
        assert "as the document itself" in problem["remedy"]


async def test_what_plans_leave_to_the_rig(client: httpx.AsyncClient) -> None:
    assert (await client.get("/api/v1/defaults")).json() == {}
    site = {"latitude": 60.0, "longitude": 5.3, "timezone": "Europe/Oslo"}
    kept = await client.put("/api/v1/defaults", json={"site": site, "clip": {"fps": 30}})
    assert kept.status_code == 200
    assert (await client.get("/api/v1/defaults")).json() == kept.json()
    short = {key: value for key, value in PLAN.items() if key not in ("site", "clip")}
    plan = (await client.post("/api/v1/plans", json=short)).json()
    assert (plan["site"]["timezone"], plan["clip"]["fps"]) == ("Europe/Oslo", 30)
    other = (await client.put("/api/v1/plans/own", json=PLAN | {"name": "own"})).json()
    assert other["site"]["latitude"] == PLAN["site"]["latitude"]
    await client.put("/api/v1/defaults", json={})
    assert (await client.get("/api/v1/defaults")).json() == {}
    assert (await client.get("/api/v1/plans/evening")).json() == plan
    for bad, code in (
        ({"pace": {}}, "bad-defaults"),
        ({"site": {"latitude": 99}}, "bad-plan"),
        ({"clip": 3}, "bad-plan"),
    ):
        refused = await client.put("/api/v1/defaults", json=bad)
        assert (refused.status_code, refused.json()["code"]) == (422, code)
        assert refused.json()["remedy"]


async def test_a_shoot_says_which_version_it_runs(client: httpx.AsyncClient) -> None:
    tag = (await client.post("/api/v1/plans", json=PLAN)).headers["etag"]
    shoot = (await client.post("/api/v1/shoots", json={"plan": "evening"})).json()
    await client.put("/api/v1/plans/evening", json=PLAN | {"clip": {"fps": 30}})
    again = (await client.get(f"/api/v1/shoots/{shoot['id']}")).json()
    assert shoot["plan_sha256"] == again["plan_sha256"] == tag.strip('"')
    assert again["plan"]["clip"]["fps"] != 30


async def test_the_schema_is_served_beside_the_plans(client: httpx.AsyncClient) -> None:
    answer = await client.get("/api/v1/plan-schema")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/schema+json")
    assert answer.json() == plan_schema()
    assert set(PLAN) <= set(answer.json()["properties"])


async def test_half_a_character_is_no_name(client: httpx.AsyncClient) -> None:
    """JSON can carry one half of a surrogate pair, which UTF-8 cannot (RFC 8259, section 8.2)."""
    headers = {"Content-Type": "application/json"}
    name = json.dumps(PLAN).replace('"evening"', '"a\\ud800"')
    for path, body in (("plans", name), ("shoots", '{"plan": "a\\ud800"}')):
        answer = await client.post(f"/api/v1/{path}", content=body, headers=headers)
        assert answer.status_code in (404, 422), answer.text
        assert answer.json()["remedy"]
