/**
 * What a struck thing still sounds when the next strike comes. A gong rings for seconds; its tail under the next blow
 * would be taken for part of that blow, or its beating for blows. So each voice learns its tail from stretches of
 * consecutive strikes, and the tails of all earlier strikes are taken off before a strike is judged.
 *
 * A machine plays the same pattern turn after turn: a gong's ring lies under the same drum every time, and taken one after
 * another each voice makes some of its neighbours' sound its own. So all tails are solved together, as what leaves least of
 * the track: linear least squares by conjugate gradients on the normal equations (Hestenes & Stiefel 1952), each sample of
 * a tail scaled by how much the strikes tell of it (Jacobi preconditioning: Saad 2003 §9.2), since one voice strikes ten
 * times as often, or as loud, as another: 8 to 14 steps on the demo machine's first take where 10 to 24 did less. One after
 * another was tried: on the demo machine's takes it left 0.02 to 0.04 of full scale where together they leave 0.003. A
 * circulant preconditioner was tried: its transforms cost what its steps save.
 */
import { mean } from '../../numbers/statistics.ts';
import type { Track } from '../../take/take.ts';
import type { Scene } from '../context.ts';
import { readSamples, type Frame } from '../signal/clip.ts';
import { addVoice, type Struck, type Voice } from './voice.ts';

/** Longer tails are so even that they are part of the background. */
const longestS = 1.5;
/** Steps of the solving at most: a striker every 0.1 s whose ring lasts 0.6 s needs them to come within a thousandth of full scale. */
const steps = 24;
/**
 * The solving ends sooner where the scaled gradient's square, the energy that could still be taken off, has fallen to this share
 * of what it was at the start, with tails of zero. Tails that nothing overlaps are solved in one or two steps.
 */
const settled = 1e-7;
/** Tails are looked at in pieces of this length, s. */
const pieceS = 0.01;
/** Number of silent pieces in a row that end a tail. */
const silent = 5;
/** A run is heard in windows of at most this length, s: it may be an hour long, and its strikes far apart. */
const windowS = 4;
/** Strikes from which the tails are solved; where there are more, only every nth window is read. */
const enough = 1024;
/** Below this share of the background's power a tail does no harm. */
const harmless = 0.03;
/** A tail must have this many times the power that the rest of the track leaves in it: the rest's own, over the sum of the strikes' squared gains. */
const surely = 6;

/** Voices with their tails, and what the tails were before they were cut where they no longer stand out. */
export interface Tailed {
  readonly voices: Voice[];
  readonly uncut: readonly Float64Array[];
}

/**
 * @param runs stretches of consecutive strikes, each ascending; voices by index into `voices`
 * @param least share of the background's power below which a tail ends
 * @returns the voices, each with what it sounds beyond its own waveform as its tail
 */
export async function learnTails(
  scene: Scene,
  runs: readonly (readonly Struck[])[],
  least = harmless,
): Promise<Voice[]> {
  return (await solveTails(scene, runs, { least })).voices;
}

/** @param before the uncut tails of an earlier solving, by less exact voices or strikes: where this one begins */
export async function solveTails(
  { track, voices, background, frame }: Scene,
  runs: readonly (readonly Struck[])[],
  { least = harmless, before }: { readonly least?: number; readonly before?: readonly Float64Array[] } = {},
): Promise<Tailed> {
  const plain = voices.map((voice): Voice => ({ ...voice, tail: null }));
  const longest = Math.round(longestS * frame.sampleRate);
  const every = Math.ceil(runs.reduce((sum, run) => sum + run.length, 0) / enough);
  const windows = runs
    .filter((run) => run.length > 0)
    .flatMap((run) => windowsOf(run, longest, frame))
    .filter((_, i) => i % every === 0);
  const heard = [...new Set(windows.flatMap(({ strikes }) => strikes))];
  const squares = voices.map((_, v) =>
    heard.reduce((sum, { voice, gain }) => sum + (voice === v ? gain ** 2 : 0), 0),
  );
  const piece = Math.round(pieceS * frame.sampleRate);
  let tails = voices.map(({ span }, v) => {
    const tail = new Tail(
      Math.max(1, span[0]),
      span[1],
      before?.[v].length ?? Math.min(3 * frame.n, longest),
    );
    if (before) tail.x.set(before[v].subarray(tail.first), tail.first);
    return tail;
  });
  let enoughBelow: number | undefined;
  for (;;) {
    const solved = await solve({ track, windows, plain, frame }, tails, enoughBelow);
    enoughBelow = solved.enoughBelow;
    const left = Math.max(background.power, solved.left);
    const ends = tails.map((tail, v) =>
      endOf(tail, Math.max(least * background.power, (surely / squares[v]) * left), piece),
    );
    const goOn = tails.map(({ length }, v) => length < longest && ends[v] > length - silent * piece);
    if (!goOn.includes(true))
      return {
        voices: plain.map((voice, v) => ({ ...voice, tail: cutAt(tails[v], ends[v], piece) })),
        uncut: tails.map(({ x }) => x),
      };
    tails = tails.map((tail, v) => (goOn[v] ? tail.longer(Math.min(3 * tail.length, longest)) : tail));
  }
}

/** Samples from one to another, and what may sound there. */
interface Window {
  readonly from: number;
  readonly to: number;
  /** As they are in the run, and in the window's own time. */
  readonly strikes: readonly Struck[];
  readonly struck: readonly Struck[];
}

/**
 * A run from where what rang before it has gone, if that leaves most of it, until its last strike: after that nobody knows
 * what else sounds. Windows in which nothing sounds are left out.
 */
function windowsOf(run: readonly Struck[], longest: number, { sampleRate, pre }: Frame): Window[] {
  const first = Math.max(0, Math.floor(run[0].at));
  const end = Math.floor(run[run.length - 1].at) + pre;
  const start = first < longest ? 0 : first + Math.min(longest, Math.floor((end - first) / 4));
  const count = Math.ceil((end - start) / (windowS * sampleRate));
  const edge = (w: number) => start + Math.round((w * (end - start)) / count);
  return Array.from({ length: count }, (_, w): Window => {
    const [from, to] = [edge(w), edge(w + 1)];
    const strikes = run.filter(({ at }) => at < to && at + longest > from);
    return { from, to, strikes, struck: strikes.map((strike) => ({ ...strike, at: strike.at - from })) };
  }).filter(({ strikes }) => strikes.length > 0);
}

/** What is not known of a voice: samples of its frame's time from `first`, not the frame's own first one, to `length`. */
class Tail {
  readonly x: Float64Array;
  constructor(
    readonly first: number,
    /** Where the voice's own waveform ends. */
    readonly past: number,
    readonly length: number,
  ) {
    this.x = new Float64Array(length);
  }
  longer(length: number): Tail {
    const tail = new Tail(this.first, this.past, length);
    tail.x.set(this.x);
    return tail;
  }
}

/** What the tails are solved from. */
interface Problem {
  readonly track: Track;
  readonly windows: readonly Window[];
  /** The voices without tails. */
  readonly plain: readonly Voice[];
  readonly frame: Frame;
}

/**
 * Brings the tails to where the tracks, less all that sounds, have least energy.
 *
 * @param enoughBelow the scaled gradient's square at which it is done; not given: by the tails that are all zero
 * @returns `left`: mean square of what is then left, the background and what else sounds in the room
 */
async function solve(
  problem: Problem,
  tails: readonly Tail[],
  enoughBelow?: number,
): Promise<{ readonly left: number; readonly enoughBelow: number }> {
  const { windows } = problem;
  const weights = weightsOf(windows, tails);
  const like = () => tails.map(({ length }) => new Float64Array(length));
  const [gradient, scaled, answer] = [like(), like(), like()];
  const room = new Float64Array(Math.max(0, ...windows.map(({ from, to }) => to - from)));
  let energy = 0;
  for (const window of windows) {
    const left = await withoutVoices(problem, window);
    if (enoughBelow === undefined)
      for (const strike of window.struck) gather(answer[strike.voice], left, strike, tails[strike.voice]);
    const made = synthesised(
      window.struck,
      tails,
      tails.map(({ x }) => x),
      room.subarray(0, left.length),
    );
    for (let i = 0; i < left.length; i++) {
      left[i] -= made[i];
      energy += left[i] * left[i];
    }
    for (const strike of window.struck) gather(gradient[strike.voice], left, strike, tails[strike.voice]);
  }
  const least = enoughBelow ?? settled * scale(scaled, answer, weights);
  let norm = scale(scaled, gradient, weights);
  const direction = scaled.map((z) => Float64Array.from(z));
  for (let step = 0; step < steps && norm > least; step++) {
    for (const one of answer) one.fill(0);
    for (const { from, to, struck } of windows) {
      const made = synthesised(struck, tails, direction, room.subarray(0, to - from));
      for (const strike of struck) gather(answer[strike.voice], made, strike, tails[strike.voice]);
    }
    const size = product(direction, answer);
    if (!(size > 0)) break;
    const by = norm / size;
    energy -= by * norm;
    tails.forEach(({ x }, v) => add(x, direction[v], by));
    gradient.forEach((g, v) => add(g, answer[v], -by));
    const next = scale(scaled, gradient, weights);
    direction.forEach((d, v) => {
      const z = scaled[v];
      for (let i = 0; i < d.length; i++) d[i] = z[i] + (next / norm) * d[i];
    });
    norm = next;
  }
  return {
    left: energy / windows.reduce((sum, { from, to }) => sum + to - from, 0),
    enoughBelow: least,
  };
}

/** What a window holds besides the voices' own waveforms. */
async function withoutVoices(
  { track, plain, frame }: Problem,
  { from, to, struck }: Window,
): Promise<Float64Array> {
  const left = await readSamples(track, from, to);
  const constant = mean(left);
  for (let i = 0; i < left.length; i++) left[i] -= constant;
  for (const { voice, at, gain } of struck) addVoice(left, plain[voice], frame, at, -gain);
  return left;
}

/** For each sample of each tail, one over the squared gains of the strikes in which it is heard; 0 where it is heard in none. */
function weightsOf(windows: readonly Window[], tails: readonly Tail[]): Float64Array[] {
  const changes = tails.map(({ length }) => new Float64Array(length + 1));
  const heard = tails.map(({ length }) => new Int32Array(length + 1));
  for (const { from, to, struck } of windows)
    for (const { voice, at, gain } of struck) {
      const whole = Math.floor(at);
      // Between samples the one before a strike's first is heard too.
      const first = Math.max(tails[voice].first, -whole) - 1;
      const end = Math.min(tails[voice].length, to - from - whole);
      if (end <= first) continue;
      changes[voice][first] += gain * gain;
      changes[voice][end] -= gain * gain;
      heard[voice][first]++;
      heard[voice][end]--;
    }
  return tails.map(({ length }, v) => {
    const weights = new Float64Array(length);
    let [sum, count] = [0, 0];
    for (let i = 0; i < length; i++) {
      sum += changes[v][i];
      count += heard[v][i];
      weights[i] = count > 0 && sum > 0 ? 1 / sum : 0;
    }
    return weights;
  });
}

/** Puts `what` times the weights into `out`. @returns the product of the two */
function scale(
  out: readonly Float64Array[],
  what: readonly Float64Array[],
  weights: readonly Float64Array[],
): number {
  out.forEach((z, v) => {
    for (let i = 0; i < z.length; i++) z[i] = weights[v][i] * what[v][i];
  });
  return product(out, what);
}

/** Makes of `out` what strikes sound, each its voice's waveform: between samples by a straight line, for what rings long is slow. */
function synthesised(
  struck: readonly Struck[],
  tails: readonly Tail[],
  waves: readonly Float64Array[],
  out: Float64Array,
): Float64Array {
  out.fill(0);
  for (const { voice, at, gain } of struck) {
    const wave = waves[voice];
    const whole = Math.floor(at);
    const late = gain * (at - whole);
    const early = gain - late;
    const from = Math.max(0, whole + tails[voice].first);
    const to = Math.min(out.length, whole + wave.length);
    if (from >= to) continue;
    let before = wave[from - whole - 1];
    for (let i = from, t = from - whole; i < to; i++, t++) {
      const now = wave[t];
      out[i] += early * now + late * before;
      before = now;
    }
  }
  return out;
}

/** The adjoint of `synthesised`: adds what of samples lies where a strike sounds. */
function gather(wave: Float64Array, samples: Float64Array, { at, gain }: Struck, { first }: Tail): void {
  const whole = Math.floor(at);
  const late = gain * (at - whole);
  const early = gain - late;
  const from = Math.max(0, whole + first);
  const to = Math.min(samples.length, whole + wave.length);
  if (from >= to) return;
  let before = 0;
  for (let i = from, t = from - whole - 1; i < to; i++, t++) {
    const now = samples[i];
    wave[t] += late * now + early * before;
    before = now;
  }
  wave[to - whole - 1] += early * before;
}

/** Where a tail no longer stands out of what is left of the background: its own first sample where it never does. */
function endOf({ x, first, past }: Tail, threshold: number, piece: number): number {
  let end = first;
  for (let start = first; start + piece <= x.length; start += piece) {
    // As long as its own waveform goes on there may be nothing to add to it.
    if (start - Math.max(end, past) >= silent * piece) break;
    let energy = 0;
    for (let i = start; i < start + piece; i++) energy += x[i] * x[i];
    if (energy / piece > threshold) end = start + piece;
  }
  return end;
}

/** A tail up to its end, fading out over its last piece; null where there is none. */
function cutAt({ x, first }: Tail, end: number, piece: number): Float64Array | null {
  if (end === first) return null;
  const out = x.slice(0, end);
  for (let i = 0; i < piece; i++) out[end - 1 - i] *= i / piece;
  return out;
}

function add(to: Float64Array, what: Float64Array, times: number): void {
  for (let i = 0; i < to.length; i++) to[i] += times * what[i];
}

function product(a: readonly Float64Array[], b: readonly Float64Array[]): number {
  let sum = 0;
  a.forEach((x, v) => {
    for (let i = 0; i < x.length; i++) sum += x[i] * b[v][i];
  });
  return sum;
}
