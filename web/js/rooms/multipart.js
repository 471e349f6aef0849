// Pictures that come one after the other in the place of the last (multipart/x-mixed-replace), taken apart by the lengths
// that each tells (RFC 2046, section 5.1).

/** Each picture of a stream as a Blob; `heard(bytes)` tells of all that came. Ends with the stream. */
export async function* pictures(stream, heard = () => {}) {
  const reader = stream.getReader();
  let kept = new Uint8Array(0);

  async function more() {
    const { value, done } = await reader.read();
    if (done) return false;
    heard(value.length);
    const joined = new Uint8Array(kept.length + value.length);
    joined.set(kept);
    joined.set(value, kept.length);
    kept = joined;
    return true;
  }

  try {
    for (;;) {
      let end = -1;
      while ((end = headEnd(kept)) < 0) if (!(await more())) return;
      const length = Number(/content-length: *(\d+)/i.exec(new TextDecoder("latin1").decode(kept.subarray(0, end)))?.[1] ?? NaN);
      if (!Number.isFinite(length)) throw new Error("a picture without its length");
      while (kept.length < end + length) if (!(await more())) return;
      const picture = new Blob([kept.slice(end, end + length)], { type: "image/jpeg" });
      kept = kept.slice(end + length);
      yield picture;
    }
  } finally {
    await reader.cancel().catch(() => {}); // it may be broken off already
  }
}

/** Where the empty line after a part's head ends, or -1. */
function headEnd(bytes) {
  for (let i = 3; i < bytes.length; i++) {
    if (bytes[i - 3] === 13 && bytes[i - 2] === 10 && bytes[i - 1] === 13 && bytes[i] === 10) return i + 1;
  }
  return -1;
}
