/**
 * npm run fuzz [-- MINUTES [READER …]]: spoilt files for as long as asked (FUZZ_SEED gives the first seed), and for
 * each reader how many were tried, how many refused, the worst time and memory, and every defect with its smallest
 * input. The readers run in a worker, so that one that hangs or fills its memory is seen, told and counted.
 */
import { writeFileSync } from 'node:fs';
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads';
import { readers, type Reader } from './readers.ts';
import { inputOf, longestMs, tryOne } from './trial.ts';

/** Longer than any input may take by far, so that a busy machine is not taken for a hang. */
const hangMs = 20_000;
/** Of JavaScript's own objects, for inputs of 128 kB at most. */
const heapMb = 768;
/** One reader's turn: all are tried evenly in time, quick ones more often. */
const sliceMs = 200;
/** Kinds of defects shown of one reader; beyond that they are counted. */
const shownDefects = 5;

interface Tally {
  tried: number;
  refused: number;
  worstMs: number;
  worstSeed: number;
  /** Took longer than any may. */
  slow: number;
  /** Largest growth of heap and buffers over one input. */
  worstMb: number;
  crashes: number;
}

interface Message {
  readonly tallies: readonly Tally[];
  readonly defect?: string;
}

const argued = process.argv.slice(2);
const minutes = Number(argued[0] ?? 3);
const words = argued.slice(1);
const firstSeed = Number(process.env.FUZZ_SEED ?? 20_261_125);
const chosen = readers.filter(({ name }) => words.length === 0 || words.some((word) => name.includes(word)));

if (isMainThread) await watch();
else await work(workerData as { at: Int32Array; from: number[]; untilMs: number });

async function watch(): Promise<void> {
  console.log(`Node ${process.version}, seed ${firstSeed}, ${minutes} minutes, ${chosen.length} readers`);
  const at = new Int32Array(new SharedArrayBuffer(12)); // reader, seed, inputs so far
  const untilMs = Date.now() + minutes * 60_000;
  const from = chosen.map(() => firstSeed);
  const past: Tally[][] = [];
  let hangs = 0;
  let topRss = 0;
  while (Date.now() < untilMs) {
    let tallies: readonly Tally[] = [];
    const worker = new Worker(new URL(import.meta.url), {
      argv: argued,
      workerData: { at, from, untilMs },
      resourceLimits: { maxOldGenerationSizeMb: heapMb },
    });
    worker.on('message', (message: Message) => {
      tallies = message.tallies;
      if (message.defect !== undefined) console.log(message.defect);
    });
    let count = -1;
    let sinceMs = Date.now();
    const watching = setInterval(() => {
      topRss = Math.max(topRss, process.memoryUsage().rss);
      if (at[2] !== count) [count, sinceMs] = [at[2], Date.now()];
      else if (Date.now() - sinceMs > hangMs) void worker.terminate();
    }, 100);
    const fault = await new Promise<string | null>((resolve) => {
      worker.once('error', (error) => resolve(String(error)));
      worker.once('exit', (code) => resolve(code === 0 ? null : `no end after ${hangMs} ms`));
    });
    clearInterval(watching);
    past.push([...tallies]);
    if (fault === null) break;
    hangs++;
    console.log(`HANG OR MEMORY: ${chosen[at[0]].name}, seed ${at[1]}: ${fault}`);
    chosen.forEach((_, i) => (from[i] += (tallies[i]?.tried ?? 0) + 1000));
    from[at[0]] = at[1] + 1;
  }
  print(past, hangs, topRss);
}

function print(past: readonly (readonly Tally[])[], hangs: number, topRss: number): void {
  let total = 0;
  let crashes = 0;
  chosen.forEach(({ name }, i) => {
    const all = past.flatMap((tallies) => tallies[i] ?? []);
    const sum = (of: (tally: Tally) => number) => all.reduce((acc, tally) => acc + of(tally), 0);
    const worst = all.reduce((a, b) => (b.worstMs > a.worstMs ? b : a), all[0]);
    const tried = sum((tally) => tally.tried);
    total += tried;
    crashes += sum((tally) => tally.crashes);
    console.log(
      `${name.padEnd(22)} ${String(tried).padStart(9)} tried, ${String(sum(({ refused }) => refused)).padStart(9)} refused, ` +
        `${sum((tally) => tally.crashes)} crashes, ${sum(({ slow }) => slow)} too slow, worst ${(worst?.worstMs ?? 0).toFixed(0)} ms (seed ${worst?.worstSeed}), ` +
        `${Math.max(0, ...all.map(({ worstMb }) => worstMb)).toFixed(0)} MB`,
    );
  });
  console.log(
    `${total} inputs, ${crashes} crashes, ${hangs} hangs; process at most ${(topRss / 2 ** 20).toFixed(0)} MB`,
  );
  process.exitCode = crashes + hangs > 0 ? 1 : 0;
}

async function work({
  at,
  from,
  untilMs,
}: {
  at: Int32Array;
  from: number[];
  untilMs: number;
}): Promise<void> {
  const tallies = chosen.map((): Tally => ({
    tried: 0,
    refused: 0,
    worstMs: 0,
    worstSeed: 0,
    worstMb: 0,
    slow: 0,
    crashes: 0,
  }));
  const known = new Map<string, number>();
  while (Date.now() < untilMs) {
    for (const [i, reader] of chosen.entries()) {
      const tally = tallies[i];
      for (const sliceEnd = Date.now() + sliceMs; Date.now() < sliceEnd;) {
        const seed = from[i] + tally.tried++;
        at[0] = i;
        at[1] = seed;
        at[2]++;
        const bytes = inputOf(reader, seed);
        const before = memoryMb();
        try {
          const { refused, ms } = await tryOne(reader, bytes);
          if (refused) tally.refused++;
          if (ms > longestMs()) tally.slow++;
          if (ms > tally.worstMs) [tally.worstMs, tally.worstSeed] = [ms, seed];
        } catch (error) {
          tally.crashes++;
          const kind = `${reader.name} ${kindOf(error)}`;
          const times = (known.get(kind) ?? 0) + 1;
          known.set(kind, times);
          const ofReader = [...known.keys()].filter((key) => key.startsWith(reader.name)).length;
          if (times === 1 && ofReader <= shownDefects) {
            const smallest = await smaller(reader, bytes, kindOf(error));
            parentPort!.postMessage({ tallies, defect: described(reader, seed, error, smallest) });
          }
        }
        tally.worstMb = Math.max(tally.worstMb, memoryMb() - before);
      }
      parentPort!.postMessage({ tallies });
    }
  }
}

function memoryMb(): number {
  const { heapUsed, external } = process.memoryUsage();
  return (heapUsed + external) / 2 ** 20;
}

/** What a defect is known by: what was thrown, and where. */
function kindOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const frame = /\n\s+at .*/.exec(error.stack ?? '')?.[0].trim() ?? '';
  return `${error.name}: ${error.message.slice(0, 60)} ${frame}`;
}

/** Parts taken out, halves first, for as long as the same defect stays. */
async function smaller(reader: Reader, bytes: Uint8Array, kind: string): Promise<Uint8Array> {
  let best = bytes;
  for (let size = Math.ceil(best.length / 2); size >= 1; size = Math.floor(size / 2)) {
    for (let start = 0; start < best.length;) {
      const rest = Uint8Array.from([...best.subarray(0, start), ...best.subarray(start + size)]);
      const still = await tryOne(reader, rest).then(
        () => false,
        (error: unknown) => kindOf(error) === kind,
      );
      if (still) best = rest;
      else start += size;
    }
  }
  return best;
}

function described(reader: Reader, seed: number, error: unknown, smallest: Uint8Array): string {
  const file = `dist/fuzz-${reader.name.replace(/\W+/g, '-')}-${seed}`;
  writeFileSync(file, smallest);
  const where =
    error instanceof Error ? (error.stack ?? '').split('\n').slice(0, 4).join('\n  ') : String(error);
  const cause =
    error instanceof Error && error.cause instanceof Error ? `\n  ${error.cause.message.slice(0, 300)}` : '';
  const shown = JSON.stringify(String.fromCharCode(...smallest.subarray(0, 120)));
  return `CRASH: ${reader.name}, seed ${seed}: ${where}${cause}\n  smallest (${smallest.length} bytes, ${file}): ${shown}`;
}
