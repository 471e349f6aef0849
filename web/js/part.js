// Parts of the page that are fetched once they are wanted. On a link that hangs neither an answer nor an error comes, and
// whoever asks for the same file again waits for the same answer, or is given the same error: so what is tried anew has an
// address of its own.

const came = new Map(), under_way = new Map();
let tries = 0;

/** The module of `path`. With `anew` it is asked for again beside what is under way; the first that comes is taken. */
export async function part(path, { anew = false } = {}) {
  if (came.has(path)) return came.get(path);
  const others = under_way.get(path) ?? [];
  under_way.set(path, others);
  if (anew || !others.length) {
    const mine = import(`./${path}${anew ? `?try=${++tries}` : ""}`);
    others.push(mine);
    mine.catch(() => others.splice(others.indexOf(mine), 1));
  }
  const module = await Promise.any(others);
  if (!came.has(path)) came.set(path, module);
  return came.get(path);
}
