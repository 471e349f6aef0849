// What is known of one slot, in words: only what is known, and what means something to a person.

import { frames as say } from "../words.js";
import { make } from "../dom.js";
import { rigSays } from "../rig-says.js";
import { clockSeconds, day, ev, number, percent, seconds as inSeconds, size } from "../figures.js";
import { rigTime, seconds } from "../rig.js";
import { apertureLabel, isoLabel, shutterLabel } from "./frames-labels.js";

/** A moment to the second in a zone, with the day where it is not today. */
export function moment(utc, zone) {
  const now = rigTime(), time = clockSeconds(utc, zone);
  return now !== null && day(utc, zone) === day(now, zone) ? time : `${day(utc, zone)} ${time}`;
}

export const due = (frame, zone) => moment(seconds(frame.due_utc), zone);

/** The three settings, as they stand on the dials. */
export const exposureOf = (frame) => (frame.shutter_s == null ? null
  : say.exposure(shutterLabel(frame.shutter_s), frame.aperture && apertureLabel(frame.aperture), frame.iso && isoLabel(frame.iso)));

const with_ = (value, write) => (value == null ? null : write(value));
const share = (value) => (value > 0 && value < 0.005 ? say.underOne : percent(100 * value));

/** How much brighter than wanted the settings made it, EV; 0 where that is not known. */
const off = (frame) => (frame.exposure_ev == null ? 0 : frame.target_ev - frame.exposure_ev);

function facts(frame, zone) {
  const f = say.facts, at = (utc) => moment(seconds(utc), zone);
  return [
    [f.state, say.states[frame.state] ?? frame.state],
    [f.cause, frame.cause && rigSays(frame.cause)],
    [f.due, due(frame, zone)],
    [f.released, with_(frame.released_utc, at)],
    [f.late, with_(frame.late_ms, (ms) => say.ms(ms))],
    [f.skew, with_(frame.skew_ms, (ms) => say.ms(ms))],
    [f.interval, inSeconds(frame.interval_s)],
    [f.gap, with_(frame.gap_s, inSeconds)],
    [f.exposure, exposureOf(frame)],
    [f.exposureEv, with_(frame.exposure_ev, (value) => ev(value))],
    [f.sceneEv, with_(frame.scene_ev, (value) => ev(value))],
    [f.targetEv, with_(frame.target_ev, (value) => ev(value) + (Math.abs(off(frame)) < 0.05 ? "" : say.off(off(frame), number(Math.abs(off(frame)), 1))))],
    [f.clipped, with_(frame.clipped, share)],
    [f.black, with_(frame.black, share)],
    [f.sun, with_(frame.sun_altitude_deg, (value) => say.where(value, frame.sun_azimuth_deg))],
    [f.moon, with_(frame.moon_altitude_deg, (value) => say.where(value, null))],
    [f.camera, frame.camera],
    [f.onCard, [frame.camera_file, frame.companion_file].filter(Boolean).join("\n") || null],
    [f.cardFreed, with_(frame.card_freed_utc, at)],
    [f.onRig, frame.local_file],
    [f.size, with_(frame.bytes, (bytes) => (bytes < 1e6 ? say.kilobytes(number(bytes / 1e3, 0)) : size(bytes)))],
    [f.rigFreed, with_(frame.rig_freed_utc, at)],
    [f.copies, frame.copies?.split(" ").join(", ")],
    [f.sha256, [frame.sha256, frame.companion_sha256].filter(Boolean).join("\n") || null],
    [f.id, with_(frame.id, (id) => `${id}`)],
  ].filter(([, value]) => value);
}

/** The facts of a frame as a list of terms; or that the log has none of this slot. */
export function factsOf(frame, zone) {
  if (!frame) return make("p", {}, say.noRow);
  return make("dl", { class: "facts" }, facts(frame, zone).map(([name, value]) => make("div", {}, make("dt", {}, name), make("dd", {}, value))));
}
