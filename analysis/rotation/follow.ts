/**
 * From a guess that holds in one window to the whole take: a Kalman filter (Kalman 1960) carries time and seconds a
 * step from hit to hit, forwards and backwards, so that real speed changes are followed. Where it loses the machine
 * (a drive that stood still), it looks for it again further on.
 */
import {
  asBuiltS,
  asBuiltSteps,
  clutterShare,
  guessRotation,
  logMissing,
  logSounds,
  type Events,
  type Guess,
} from './guess.ts';
import type { EndlessPattern } from './pattern.ts';

/** Which pin each hit is taken for. */
export interface FollowedPins {
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
/** The guess's window holds about twice so many hits; its best place is where most of so many either side fit. */
const anchorHits = 20;
const anchorReach = 5;
/** A drive that stands more often in one take is not worth the search. */
const mostSearches = 8;
/** A drive that stood goes on where it stopped, give or take what it coasted; natural logarithm of how much likelier. */
const resumes = 8;
const surelyFound = 12;
/** So many pins in a row without a sound, and the drive may have stood still. */
export const standPins = 6;

/** @param mayStand looks for the machine again where it is lost; costs as much as a first guess each time */
export function followPins(
  events: Events,
  { pattern, stepsPerBeat }: { readonly pattern: EndlessPattern; readonly stepsPerBeat: number },
  guess: Guess,
  offsetS: Float64Array,
  mayStand: boolean,
): FollowedPins {
  const n = events.timeS.length;
  const position = new Float64Array(n).fill(NaN);
  const channel = new Int32Array(n).fill(-1);
  const breaks: number[] = [];
  const middle = anchor();
  run(1);
  run(-1);
  return { position, channel, breaks: breaks.sort((a, b) => a - b) };

  /** The hit about which the guess holds best; the window's middle itself may lie in a stand. */
  function anchor(): number {
    let centre = 0;
    while (centre < n - 1 && events.timeS[centre] < guess.centreS) centre++;
    const low = Math.max(0, centre - anchorHits);
    const high = Math.min(n, centre + anchorHits);
    const near = (i: number) =>
      events.candidates[i].some((c) => {
        const at = guess.position + (events.timeS[i] - offsetS[c] - guess.centreS) / guess.secondsPerStep;
        return Math.abs(pattern.nearest(c, at) - at) * guess.secondsPerStep < asBuiltS;
      });
    let best = centre;
    let most = -1;
    for (let i = low; i < high; i++) {
      let count = 0;
      for (let k = Math.max(low, i - anchorReach); k < Math.min(high, i + anchorReach + 1); k++)
        if (near(k)) count++;
      if (count > most || (count === most && Math.abs(i - centre) < Math.abs(best - centre)))
        [best, most] = [i, count];
    }
    return best;
  }

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
    const startS = middle < n ? events.timeS[middle] : guess.centreS;
    let state = restart({
      ...guess,
      position: guess.position + (startS - guess.centreS) / guess.secondsPerStep,
      centreS: startS,
    });
    let lately: boolean[] = [];
    /** Where this run, or what it found again, began: what lies before is not its to judge. */
    let begun = direction > 0 ? middle : middle - 1;
    let searches = mayStand ? 0 : mostSearches;
    for (let i = direction > 0 ? middle : middle - 1; i >= 0 && i < n; i += direction) {
      if (searches === mostSearches || !stood(i)) {
        const hit = place(i);
        lately = [...lately.slice(1 - patience), hit];
        if (hit || searches === mostSearches || !lost()) continue;
      }
      lately = [];
      searches++;
      const again = reacquire(i);
      if (again === null) {
        place(i);
        continue;
      }
      state = restart(again.guess);
      place(again.from);
      i = again.from;
      begun = i;
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
        if (from === begun || before < 0 || before >= n || !Number.isNaN(position[before])) break;
        from = before;
      }
      const low = direction > 0 ? from : Math.max(0, from - reacquireHits + 1);
      const high = direction > 0 ? Math.min(n, from + reacquireHits) : from + 1;
      const s = guess.secondsPerStep;
      const { steps } = pattern;
      const due = predicted(from);
      let best: Guess | null = null;
      for (const rough of guessRotation(events, [low, high], pattern, {
        slowest: s * speedRange,
        fastest: s / speedRange,
      })) {
        const there = rough.position + (events.timeS[from] - rough.centreS) / rough.secondsPerStep;
        // Either it went on as it was, or it stood: then it is found at the next such place beyond where it was last seen.
        const onward = Math.round((due - there) / steps);
        const unmoved = Math.abs(there + onward * steps - due) < stepsPerBeat / 2;
        const beyond = (state.x - direction * 2 * stepsPerBeat - there) / steps;
        const turns = unmoved ? onward : direction > 0 ? Math.ceil(beyond) : Math.floor(beyond);
        const moved = direction * (there + turns * steps - state.x);
        const likely = unmoved || moved < 2 * stepsPerBeat ? resumes : 0;
        const score = fits(rough, low, high) + likely;
        if (best === null || score > best.score)
          best = { ...rough, position: rough.position + turns * steps, score };
      }
      return best === null || best.score < surelyFound ? null : { guess: best, from };
    }

    /** How well a window's hits fit a guess, each channel's lateness known: log likelihood against noise. */
    function fits({ position: x, centreS, secondsPerStep }: Guess, low: number, high: number): number {
      const spanS = events.timeS[high - 1] - events.timeS[low];
      const clutterPerS = (clutterShare * (high - low)) / spanS;
      const reachS = Math.max(asBuiltS, asBuiltSteps * secondsPerStep);
      let score = 0;
      let matched = 0;
      for (let i = low; i < high; i++) {
        let least = reachS;
        for (const c of events.candidates[i]) {
          const at = x + (events.timeS[i] - offsetS[c] - centreS) / secondsPerStep;
          least = Math.min(least, Math.abs(pattern.nearest(c, at) - at) * secondsPerStep);
        }
        if (least === reachS) continue;
        matched++;
        const normal = Math.exp(-0.5 * (least / noiseS) ** 2) / (noiseS * Math.sqrt(2 * Math.PI));
        score += logSounds + Math.log((normal + 0.1 / reachS) / clutterPerS);
      }
      const first = x + (events.timeS[low] - centreS) / secondsPerStep;
      const last = x + (events.timeS[high - 1] - centreS) / secondsPerStep;
      return score + Math.max(0, pattern.passed(first - 0.5, last + 0.5) - matched) * logMissing;
    }
  }
}
