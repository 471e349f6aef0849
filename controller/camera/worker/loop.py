"""The worker's main loop: one thing at a time, the next release before all else.

What may be done is decided by the time that is left. In order: release; set the next exposure; hear what the camera
tells; pictures and files; questions of the daemon. Nothing is begun that would probably run into the next release.
"""

from __future__ import annotations

import logging
import math
import time
from collections.abc import Callable
from dataclasses import replace

from controller.camera.messages import (
    STILL_EXPOSING,
    TOO_SLOW,
    TOOK_NONE,
    Alive,
    Cancel,
    Close,
    Fetch,
    LookThrough,
    Missed,
    PauseFetching,
    Question,
    Release,
    Released,
    Report,
    Settled,
    Trouble,
)
from controller.camera.wire import Message
from controller.camera.worker.bulb import Bulb, wanted
from controller.camera.worker.channel import Channel
from controller.camera.worker.disk import Disk
from controller.camera.worker.doubt import Doubt, Doubts
from controller.camera.worker.draining import Draining
from controller.camera.worker.exposure import as_kept
from controller.camera.worker.faults import CARD_REMEDY, Fault, Kind, plain, why_missed
from controller.camera.worker.fetch import Fetcher
from controller.camera.worker.frames import Frames
from controller.camera.worker.live import LiveView
from controller.camera.worker.opening import QUIET_OPENING_S, Body
from controller.camera.worker.process import tidy
from controller.camera.worker.questions import Questions
from controller.camera.worker.settings import Change, Reading
from controller.camera.worker.timing import AGAIN_S, Durations, wait_until
from controller.camera.worker.waking import SLOW_S, Waking

log = logging.getLogger("camera")

_APPROACH_S = 0.004  # from here on only the release is waited for
_BEAT_S = 1.0
_SYNC_S = 0.01  # between looks at a disk that is busy
_SAME_QUESTION_S = 1.0  # between questions to a body that does not answer them
_RESETTLE_S = 0.5  # between readings of an exposure that was changed on the body
_POLL_S = {"awaiting": 0.005, "exposing": 0.05, "ready": 0.1, "idle": 0.2}
_AT_ONCE_S = 0.0005  # between polls for a file when the exposure has just ended; less and less often after that
_TIDY_S, _TIDY_ROOM_S = 60.0, 0.5
_DIAL_REMEDY = "Put the camera's dial on M and see that the lens allows the value; frames go on with what it has"
_FIRST_S = {
    "poll": 0.003,
    "preview": 0.05,
    "status": 0.25,
    "battery": 0.02,
    "settle": 0.05,
    Reading.kind: 0.1,
    Change.kind: 0.3,
    LiveView.kind: 0.3,
}


class Ended(Exception):
    """The daemon asked for the end."""


class Loop:
    """Runs until Ended, Closed or a Fault of a lost session is raised."""

    def __init__(self, channel: Channel, body: Body, disk: Disk) -> None:
        self._channel, self._body = channel, body
        self._orders: dict[int, Release] = {}
        self._settled: int | None = None  # the slot for which the exposure is set
        self._told: Settled | None = None
        self._refusal = ""  # told last, so that one wrong dial makes one note and not one for each frame
        self._full = False  # told that the card is full
        self._why: dict[int, str] = {}  # what stood in a slot's way
        self._not_before, self._draining = 0.0, Draining(self._report)
        self._bulb, self._live = Bulb(), LiveView()
        self._fetcher = Fetcher(disk, self._report)
        self._frames = Frames(self._report, self._fetcher, body)
        self._took = Durations({**_FIRST_S, "reopen": 1.5 * body.took_s}, frozenset({"reopen"}))
        self._questions = Questions(self._took, self._frames)
        self._waking = Waking(body.opened_mono)
        self._doubts = Doubts()
        self._doubt: Doubt | None = None
        self._next_poll = self._next_beat = self._next_settle = self._next_life = 0.0
        self._next_tidy = time.monotonic()

    def run(self) -> None:
        while True:
            for command in self._channel.receive(self._turn()):
                self._take(command)

    def close(self) -> None:
        """End the session with the body, and before it an exposure that is held open; raises Fault."""
        self._bulb.close(self._body.session)
        self._body.trigger.let_go()
        self._live.end(self._body.session)
        self._body.session.close()

    def give_up(self) -> None:
        """The session is lost: give back what it held. Raises Fault."""
        self._draining.over("the camera was lost", worked=False)
        self._fetcher.abandon()
        self._body.session.close()

    # ---- commands

    def _take(self, command: Message) -> None:
        match command:
            case Release():
                self._live.end(self._body.session)  # before the frame, never beside it
                self._orders[command.seq] = command
                if self._settled == command.seq:
                    self._settled = None
                if time.monotonic() > command.due_mono:
                    self._why[command.seq] = "ordered too late"
            case Cancel(seq=seq):
                if self._orders.pop(seq, None) is not None:
                    self._why.pop(seq, None)
                    self._report(Missed(seq, "cancelled"))
                elif self._doubt is not None and self._doubt.order.seq == seq:
                    self._doubt.order = replace(self._doubt.order, latest_mono=-math.inf)  # not again
            case Fetch():
                self._fetcher.want(command.seq, command.camera_file, command.directory, command.stem)
            case PauseFetching(paused=paused):
                self._fetcher.pause(paused)
            case _ if isinstance(command, Question):
                self._questions.ask(command)
            case LookThrough():
                self._live.look(command, self._body.session)
            case Close():
                raise Ended

    def _report(self, report: Report) -> None:
        self._channel.send(report)

    # ---- one turn

    def _turn(self) -> float:
        """Do the most urgent thing that there is time for; seconds that may be waited before the next turn."""
        now = time.monotonic()
        if now >= self._next_beat:
            self._report(Alive(now))
            self._next_beat = now + _BEAT_S
        self._fetcher.collect(now)
        if (closes := self._bulb.closes_mono) is not None:
            if now < closes - _APPROACH_S:
                return min(self._between(now, closes - _APPROACH_S), closes - _APPROACH_S - now)
            self._bulb.try_to_close(self._body.session)
            return 0.0
        if (doubt := self._doubt) is not None:
            if not doubt.taken and now < doubt.until_mono:
                return min(self._between(now, doubt.until_mono), doubt.until_mono - now)
            self._settle_doubt(doubt)
        order = self._next_order(now)
        if order is None:
            return self._between(now, math.inf)
        exposing_until = self._frames.exposing_until
        if now < exposing_until:
            return min(self._between(now, exposing_until), exposing_until - now)
        approach = order.due_mono - _APPROACH_S - self._body.trigger.lead_s
        if now < self._not_before:
            limit = max(self._not_before, approach - self._took.expected("settle", now))
            return min(self._between(now, limit), self._not_before - now)
        if self._settled != order.seq or self._must_resettle(now, approach):
            self._settle(order)
            return 0.0
        if now >= approach:
            self._release(order)
            return 0.0
        return min(self._between(now, approach), approach - now)

    def _next_order(self, now: float) -> Release | None:
        """The order due next; those whose time is over are reported as missed."""
        for order in [*self._orders.values()]:
            if now > order.latest_mono:
                del self._orders[order.seq]
                self._report(Missed(order.seq, self._why.pop(order.seq, "") or self._late_cause(now)))
        return min(self._orders.values(), key=lambda order: order.due_mono, default=None)

    def _late_cause(self, now: float) -> str:
        exposing = now < self._frames.exposing_until
        return STILL_EXPOSING if exposing else TOO_SLOW

    # ---- exposure and release

    def _settle(self, order: Release) -> None:
        begun = time.monotonic()
        try:
            bulb = wanted(order, self._body.exposure)
            settled, refusal = self._body.exposure.settle(self._body.session, order, bulb)
        except Fault as fault:
            self._retry(order, fault)
            return
        self._took.took("settle", time.monotonic() - begun, begun)
        self._next_settle = begun + _RESETTLE_S
        now_in_force = (settled.shutter_s, settled.aperture, settled.iso)
        told = self._told and (self._told.shutter_s, self._told.aperture, self._told.iso)
        if self._settled != order.seq or told != now_in_force:
            self._report(settled)
        self._settled, self._told = order.seq, settled
        what = f"{refusal.doing}: {plain(refusal.reason) or 'the camera refused'}" if refusal else ""
        if what and what != self._refusal:
            self._report(Trouble("setting-refused", what, _DIAL_REMEDY, order.seq))
        self._refusal = what

    def _must_resettle(self, now: float, approach: float) -> bool:
        """The body told of a change, by hand or by itself, and there is time to look."""
        return self._body.exposure.stale and now >= self._next_settle and self._fits("settle", now, approach)

    def _release(self, order: Release) -> None:
        bulb = wanted(order, self._body.exposure)
        wait_until(order.due_mono if bulb else order.due_mono - self._body.trigger.lead_s)
        at_mono = time.monotonic()
        try:
            if bulb:
                opened_mono = self._bulb.open(self._body.session, order)
            else:
                opened_mono = at_mono = self._body.trigger.release()
        except Fault as fault:
            self._retry(order, fault)
            return
        del self._orders[order.seq]
        self._settled, self._full = None, False
        call_s, kept = time.monotonic() - at_mono, as_kept(order, self._told)
        nikon = self._body.answers_in_vain and not bulb
        doubtful = nikon and self._doubts.arise(call_s, kept.exposure_s)
        told = Released(order.seq, at_mono, call_s, at_mono - order.due_mono, ready=nikon and not doubtful)
        shot = self._frames.released(kept, opened_mono, told, doubtful)
        self._next_poll = min(at_mono + _POLL_S["exposing"], self._frames.exposing_until)
        if shot.untold is None:
            self._taken(order, call_s)
        else:
            self._doubt = Doubt(order, shot, call_s, self._frames.proven_by(shot))
        if (news := self._body.trigger.after(order.seq)) is not None:
            self._report(news)

    def _taken(self, order: Release, call_s: float) -> None:
        self._why.pop(order.seq, None)
        self._draining.over()
        if (slept := self._waking.released(order, call_s, self._frames.exposing_until)) is not None:
            self._report(slept)

    def _settle_doubt(self, doubt: Doubt) -> None:
        """Its file has come, or there was none: then it is released again, while its time lasts."""
        self._doubt = None
        self._doubts.settle(doubt)
        if doubt.taken or not self._frames.untaken(doubt.shot):
            self._taken(doubt.order, doubt.call_s)
        else:
            self._orders[doubt.order.seq] = doubt.order
            self._retry(doubt.order, Fault("releasing", 0, "", Kind.BUSY), TOOK_NONE)

    def _retry(self, order: Release, fault: Fault, why: str = "") -> None:
        """Come back in a moment, until the slot's time is over; a lost session passes through."""
        if fault.kind is Kind.LOST:
            raise fault
        now = time.monotonic()
        if fault.kind is Kind.BUSY:
            self._next_poll = now  # it may be waiting to be heard
            if not self._draining.busy(now, order.exposure_s):
                raise Fault(fault.doing, fault.code, "it was busy for too long", Kind.LOST)
        if fault.kind is Kind.FULL and not self._full:
            self._full = True
            self._report(Trouble("card-full", "the camera's card is full", CARD_REMEDY, order.seq))
        self._why[order.seq] = why or why_missed(fault)
        self._not_before = now + AGAIN_S

    # ---- what is done between releases

    def _fits(self, kind: str, now: float, limit: float) -> bool:
        return now + self._took.expected(kind, now) <= limit

    def _between(self, now: float, limit: float) -> float:
        """Do one thing that ends before `limit`; seconds until there is something to do again."""
        if now >= self._next_poll and self._fits("poll", now, limit):
            self._poll(now)
            return 0.0
        if now >= self._frames.exposing_until:
            if self._ask_for_life(now, limit):
                return 0.0
            ends = self._waking.limit(limit, now)
            for work in (self._preview, self._fetch, self._look_for_files, self._answer, self._look):
                if work(now, ends):
                    return 0.0
            if limit - now > _TIDY_ROOM_S and now >= self._next_tidy:
                tidy()
                self._next_tidy = now + _TIDY_S
        wait_s = min(self._next_poll, self._next_beat, self._live.due_mono) - now
        return max(0.0, min(wait_s, _SYNC_S) if self._fetcher.syncing else wait_s)

    def _timed(self, kind: str, call: Callable[[], None]) -> None:
        begun = time.monotonic()
        call()
        now = time.monotonic()
        self._took.took(kind, now - begun, now)

    def _poll(self, now: float) -> None:
        self._body.trigger.let_go()
        event = self._body.session.poll()
        done = time.monotonic()
        self._took_call("poll", done - now, done)
        if event is None:
            self._frames.quiet(done)
            self._next_poll = done + _POLL_S["ready" if self._orders else "idle"]
            if done < self._frames.exposing_until:
                self._next_poll = min(done + _POLL_S["exposing"], self._frames.exposing_until)
            elif self._frames.awaiting(done):
                since_s = done - self._frames.exposing_until
                self._next_poll = done + min(_POLL_S["awaiting"], max(_AT_ONCE_S, since_s / 4))
            return
        if event.kind == "changed":
            self._body.exposure.stale = True
        else:
            self._frames.told(event, self._body.session, done)

    def _preview(self, now: float, limit: float) -> bool:
        if not self._frames.wants_preview(now) or not self._fits("preview", now, limit):
            return False
        self._timed("preview", lambda: self._frames.preview(self._body.session))
        self._waking.worked_mono = now
        return True

    def _fetch(self, now: float, limit: float) -> bool:
        cost = self._fetcher.cost(now)
        if cost is None or now + cost > limit:
            return False
        self._fetcher.step(self._body.session, limit - now)
        self._waking.worked_mono = now
        return True

    def _look_for_files(self, now: float, limit: float) -> bool:
        """Frames of which the camera never told: a new session learns what is on the card."""
        missing = self._frames.missing(now, self._questions.card_wanted)
        wanted = missing or (self._frames.whole and self._questions.fresh_wanted(self._body.opened_mono))
        if not wanted or not self._fits("reopen", now, limit):
            return False
        log.info("the camera told of no file for a frame: opening a new session to look at the card")
        self._timed("reopen", self._reopen)
        self._frames.look(self._body)
        return True

    def _reopen(self) -> None:
        self._report(Alive(time.monotonic(), QUIET_OPENING_S))
        self._body = self._body.reopen()
        self._settled = None

    def _look(self, now: float, limit: float) -> bool:
        """The next picture of live view, which no order waits for."""
        if self._orders or now < self._live.due_mono or not self._fits(LiveView.kind, now, limit):
            return False
        begun = time.monotonic()
        image = self._live.step(self._body.session)
        self._took.took(LiveView.kind, time.monotonic() - begun, begun)
        if image is not None:
            self._report(image)
        return True

    def _answer(self, now: float, limit: float) -> bool:
        stepped, answer = self._questions.step(self._body, now, limit)
        if answer is not None:
            self._report(answer)
        return stepped

    def _ask_for_life(self, now: float, limit: float) -> bool:
        """Keeps the body awake, wakes it ahead of a release, and notices one that has gone mute."""
        due = min((order.due_mono for order in self._orders.values()), default=None)
        at_mono = max(self._waking.ask_at(self._body.session.last_call_mono, due, now), self._next_life)
        if now < at_mono or not self._fits("battery", now, limit):
            return False
        self._next_life = now + _SAME_QUESTION_S
        self._body.ask()
        done = time.monotonic()
        self._took_call("battery", done - now, done)
        return True

    def _took_call(self, kind: str, took_s: float, now: float) -> None:
        """How long a call took that finds a body asleep, where it is: then it says nothing of such calls."""
        if self._waking.lulled(now - took_s) and took_s > self._took.expected(kind, now) + SLOW_S:
            log.info("the body was asleep: it took %.2f s to answer", took_s)
            self._waking.woke(took_s)
        else:
            self._took.took(kind, took_s, now)
