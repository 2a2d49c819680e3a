/**
 * From a guess that holds in one window to the whole take: a Kalman filter (Kalman 1960) carries time and seconds a
 * step from hit to hit, forwards and backwards, so that real speed changes are followed. Where it loses the machine
 * (a drive that stood still), it looks for it again further on.
 */
import { asBuiltS, asBuiltSteps, guessRotation, type Events, type Guess } from './rotation-guess.ts';
import type { EndlessPattern } from './rotation-pattern.ts';

/** Which pin each hit is taken for. */
export interface Followed {
  /** Unwrapped pin position of each event; NaN where it is no pin's. */
  readonly position: Float64Array;
  /** Which of its candidate channels; −1 where it is no pin's. */
  readonly channel: Int32Array;
  /** Event indices at which the machine was found again after a stand: pieces begin there. */
  readonly breaks: readonly number[];
}

/** How far a hit lies from the curve, s: channels' own lateness and chance together. */
export const noiseS = 0.015;
/** Growth of the relative speed's standard deviation over one beat: a drive that runs up within some seconds. */
export const speedWander = 0.025;
/** The machine is lost when so few of so many hits in a row find a pin. */
const patience = 14;
const leastOfPatience = 7;
/** Hits that must agree on where the machine is when it is found again, and how far its speed may have changed. */
const reacquireHits = 24;
const speedRange = 1.5;
const surelyFound = 12;
/** So many pins in a row without a sound, and the drive may have stood still. */
const standPins = 6;

export function follow(
  events: Events,
  pattern: EndlessPattern,
  guess: Guess,
  offsetS: Float64Array,
  stepsPerBeat: number,
): Followed {
  const n = events.timeS.length;
  const position = new Float64Array(n).fill(NaN);
  const channel = new Int32Array(n).fill(-1);
  const breaks: number[] = [];
  let middle = 0;
  while (middle < n && events.timeS[middle] < guess.centreS) middle++;
  run(1);
  run(-1);
  return { position, channel, breaks: breaks.sort((a, b) => a - b) };

  function run(direction: 1 | -1) {
    const last = new Map<number, number>();
    const restart = (from: Guess) => ({
      x: from.position,
      t: from.centreS,
      s: from.secondsPerStep,
      // Variances and covariance of t and s.
      tt: asBuiltS ** 2 / 4,
      ts: 0,
      ss: (0.01 * from.secondsPerStep) ** 2,
    });
    let state = restart(guess);
    let lately: boolean[] = [];
    for (let i = direction > 0 ? middle : middle - 1; i >= 0 && i < n; i += direction) {
      if (!stood(i)) {
        const hit = place(i);
        lately = [...lately.slice(1 - patience), hit];
        if (hit || !lost()) continue;
      }
      lately = [];
      const again = reacquire(i);
      if (again === null) {
        place(i);
        continue;
      }
      state = restart(again.guess);
      place(again.from);
      i = again.from;
      breaks.push(direction > 0 ? again.from : again.from + 1);
    }

    /** Gives event i its pin and lets it correct the state; false where no pin is near. */
    function place(i: number): boolean {
      const reachS = Math.max(asBuiltS, asBuiltSteps * state.s);
      let best = NaN;
      let of = -1;
      let least = Infinity;
      for (const c of events.candidates[i]) {
        const t = events.timeS[i] - offsetS[c];
        const pin = pattern.nearest(c, state.x + (t - state.t) / state.s);
        const miss = t - (state.t + (pin - state.x) * state.s);
        if (!(Math.abs(miss) < Math.abs(least)) || last.get(c) === pin) continue;
        [best, of, least] = [pin, c, miss];
      }
      if (of < 0) return false;
      const dx = best - state.x;
      const far = Math.abs(dx);
      const q = (speedWander * state.s) ** 2 / stepsPerBeat;
      const tt = state.tt + 2 * dx * state.ts + dx * dx * state.ss + (q * far ** 3) / 3;
      const ts = state.ts + dx * state.ss + (Math.sign(dx) * q * far ** 2) / 2;
      const ss = state.ss + q * far;
      const chance = Math.sqrt(tt + noiseS ** 2);
      if (Math.abs(least) > Math.max(reachS, Math.min(3 * chance, state.s))) return false;
      // Huber's weight: beyond two standard deviations a hit pulls no harder.
      const noise = noiseS ** 2 * Math.max(1, Math.abs(least) / (2 * chance)) ** 2;
      const total = tt + noise;
      const s = state.s + (ts / total) * least;
      state = {
        x: best,
        t: state.t + dx * state.s + (tt / total) * least,
        s: Math.min(Math.max(s, state.s / 2), state.s * 2),
        tt: tt - (tt * tt) / total,
        ts: ts - (ts * tt) / total,
        ss: ss - (ts * ts) / total,
      };
      position[i] = best;
      channel[i] = of;
      last.set(of, best);
      return true;
    }

    function predicted(i: number): number {
      return state.x + (events.timeS[i] - state.t) / state.s;
    }

    /** Whether pin after pin was due before event i and nothing sounded. */
    function stood(i: number): boolean {
      const before = i - direction;
      if (before < 0 || before >= n) return false;
      const [from, to] = [predicted(before), predicted(i)].sort((a, b) => a - b);
      return pattern.passed(from + 0.5, to - 0.5) >= standPins;
    }

    function lost(): boolean {
      const since = lately.length;
      return since >= patience && lately.filter(Boolean).length < leastOfPatience;
    }

    /** Looks for the machine among the next hits, at about the speed it had, no earlier in the pattern than it was. */
    function reacquire(i: number): { guess: Guess; from: number } | null {
      // From the first hit that no pin was found for since the machine was lost.
      let from = i;
      for (let k = 0; k < patience; k++) {
        const before = from - direction;
        if (before < 0 || before >= n || !Number.isNaN(position[before])) break;
        from = before;
      }
      const low = direction > 0 ? from : Math.max(0, from - reacquireHits + 1);
      const high = direction > 0 ? Math.min(n, from + reacquireHits) : from + 1;
      const s = guess.secondsPerStep;
      const [best] = guessRotation(events, low, high, pattern, s * speedRange, s / speedRange);
      if (best === undefined || best.score < surelyFound) return null;
      const { steps } = pattern;
      const there = best.position + (events.timeS[from] - best.centreS) / best.secondsPerStep;
      const due = predicted(from);
      // Either it went on as it was, or it stood: then it is found at the next such place beyond where it was last seen.
      const onward = Math.round((due - there) / steps);
      const unmoved = Math.abs(there + onward * steps - due) < stepsPerBeat / 2;
      const beyond = (state.x - direction * 2 * stepsPerBeat - there) / steps;
      const turns = unmoved ? onward : direction > 0 ? Math.ceil(beyond) : Math.floor(beyond);
      return { guess: { ...best, position: best.position + turns * steps }, from };
    }
  }
}
