"""What shoots through faults and ends came to, in sums."""

from __future__ import annotations

from collections.abc import Sequence

from tests.support.fault_schedule import Outcome


def print_sums(outcomes: Sequence[Outcome]) -> None:
    """A line for each of what log, card and the camera's own record have."""
    print(f"slots             {sum(o.slots for o in outcomes)}: {sum(o.done for o in outcomes)} on the card, "
          f"{sum(o.missed for o in outcomes)} missed, {sum(o.lost for o in outcomes)} lost")  # fmt: skip
    print(f"camera            {sum(o.taken for o in outcomes)} exposures by its own record")
    print(f"noted             {sum(o.noted for o in outcomes)} files that the log names without a slot")
    print(f"log lacks         {sum(len(o.log_lacks) for o in outcomes)} frames that the camera took")
    print(f"camera lacks      {sum(len(o.camera_lacks) for o in outcomes)} frames that the log claims")
    print(f"at another slot   {sum(len(o.misplaced) for o in outcomes)}")
