"""The second places of the rig's files, and what the plan expects of them."""

from __future__ import annotations

from controller.decide.checks.facts import PlanFacts, RigFacts, doubt, fine
from controller.words.phrases import count
from controller.words.settings import Finding

NAME = "second places"
_REMEDY = "Put places.toml right on the rig, then try the copies again: on the page, or by duskhand copies --again"


def second_places(rig: RigFacts, plan: PlanFacts | None) -> Finding | None:
    """Left out where none is named and the plan lets nothing go. A plan that waits for copies loses nothing by it."""
    if rig.places_trouble is not None:
        what = f"Nothing is copied: {rig.places_trouble}"
        return doubt(NAME, what, _REMEDY)
    if plan is not None and plan.frees and not rig.places:
        what = "The plan lets files go once they are copied, and the rig has no second place: nothing will go"
        return doubt(NAME, what, "Name one in places.toml, or leave keep and free_card out")
    ill = [place for place in rig.places if place.trouble is not None]
    if ill:
        told = "; ".join(f"{place.name}: {place.trouble}, {count(place.waiting, 'frame')} wait" for place in ill)
        return doubt(NAME, told, ill[0].remedy or "Look at the place")
    return fine(NAME, f"Copies go to {' and '.join(place.name for place in rig.places)}") if rig.places else None
