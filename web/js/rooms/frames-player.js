// Which slot comes next as the flip book plays by itself, and how many it passes over so that the link keeps up.

const MOST_A_SECOND = 8; // pictures; more than the eye needs to see a change, and a phone's radio can fetch
const COARSEST = 256, EASY = 8;

/** The slot after `at` of every `stride`th; but a run of slots without a frame is never passed over: it comes once. */
export function after(at, stride, runs, last) {
  const base = runs.find(([from, to]) => from <= at && at <= to)?.[1] ?? at;
  const wanted = (Math.floor(base / stride) + 1) * stride;
  const run = runs.find(([from]) => from > base && from <= wanted);
  return Math.min(last, run ? run[0] : wanted);
}

/** Powers of two, so that pictures that were fetched ahead still serve when the stride changes. */
export function openStride() {
  let stride = 1, easy = 0;
  const least = (speed) => 2 ** Math.max(0, Math.ceil(Math.log2(speed / MOST_A_SECOND)));
  return {
    at(speed) { stride = Math.max(stride, least(speed)); return stride; },
    /** A picture took so long to come, where so long was there for it. */
    took(ms, due, speed) {
      easy = ms < due / 4 ? easy + 1 : 0;
      if (ms > due * 1.1) stride = Math.min(COARSEST, stride * 2);
      else if (easy >= EASY && stride > least(speed)) { stride /= 2; easy = 0; }
    },
    reset() { stride = 1; easy = 0; },
  };
}
