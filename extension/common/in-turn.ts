/** Reports are read a few at a time: hundreds at once would fill the memory, one by one takes long where each is fetched. */

const atOnce = 4;

const waiting: (() => void)[] = [];
let running = 0;

/** Runs `work` once fewer than four others run. */
export async function inTurn<T>(work: () => Promise<T>): Promise<T> {
  if (running >= atOnce) await new Promise<void>((go) => waiting.push(go));
  else running++;
  try {
    return await work();
  } finally {
    const next = waiting.shift();
    if (next) next();
    else running--;
  }
}
