"""Whether somebody has to come for the second places."""

from __future__ import annotations

from controller.decide.health.facts import Readings, Sign
from controller.decide.health.rig_disk import SOON_H
from controller.decide.health.second_places import PATIENCE_S, second_places
from controller.words.documents import PlaceNow


def signs(**place: object) -> dict[str, Sign]:
    made = PlaceNow.model_validate({"name": "office", "waiting": 3, **place})
    return {sign.check: sign for sign in second_places(Readings(places=(made,)))}


def test_a_line_that_is_down_has_an_hour_and_a_wrong_password_none():
    away = signs(trouble="h does not answer", remedy="It is tried again by itself", by_itself=True)[
        "second place office"
    ]
    assert (away.says, away.raise_s, away.what) == ("raise", PATIENCE_S, "3 frames wait for office: h does not answer")
    refused = signs(trouble="h refuses rig", remedy="Look at user")["second place office"]
    assert (refused.says, refused.raise_s, refused.remedy) == ("raise", 0.0, "Look at user")
    assert signs()["second place office"].says == "clear"


def test_room_is_told_by_the_hours_that_it_lasts():
    def says(hours: float | None) -> str:
        return signs(free_bytes=10**10, hours_left=hours)["room on office"].says

    assert [says(SOON_H - 1), says(SOON_H + 1), says(2 * SOON_H), says(None)] == ["raise", "stay", "clear", "stay"]


def test_a_document_that_cannot_be_used_is_told():
    (sign,) = second_places(Readings(places_trouble="places.toml: not TOML. Put texts in quotes"))
    assert (sign.says, sign.what) == ("raise", "Nothing is copied: places.toml: not TOML. Put texts in quotes")
    assert second_places(Readings())[0].says == "clear"
