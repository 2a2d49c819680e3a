/**
 * A first pattern from a take, for machines whose pattern is in no file: what is heard at the same step in every turn. A person
 * checks it against the barrel. The grid is followed strike by strike: a straight line through the last strikes foretells the
 * next one's step (a tracking filter of our own; the least squares are GUM H.3's).
 */
import { grouped } from '../numbers/grouped.ts';
import { modulo } from '../numbers/modulo.ts';
import { median } from '../numbers/statistics.ts';

/** A strike of a channel that is known, at the microphone. */
export interface HeardStrike {
  readonly timeS: number;
  readonly channel: string;
}

export interface Grid {
  /** Pin positions in one turn. */
  readonly steps: number;
  readonly stepsPerBeat: number;
  /** Beats a minute, within a twentieth. */
  readonly bpm: number;
}

export interface DraftPin {
  readonly step: number;
  readonly channel: string;
  /** In how many turns it was heard, of how many in which it would have been. */
  readonly heard: number;
  readonly turns: number;
  readonly isSure: boolean;
  /** How far it lies after its channel's other pins, in steps; 0 where it lies as they do. `step` holds it already. */
  readonly apart: number;
}

/** A channel all of whose strikes lie between the steps. */
export interface OffStepChannel {
  readonly channel: string;
  /** After the steps that its pins were given, in steps. */
  readonly byStep: number;
}

export type Draft =
  | {
      readonly pins: readonly DraftPin[];
      readonly leftOut: number;
      readonly turns: number;
      readonly between: readonly OffStepChannel[];
      /** Fewer steps after which all comes back as well; null where there are none. */
      readonly shorter: number | null;
    }
  | { readonly why: string; readonly mend: string };

/** A twentieth either way is how well a person knows a tempo. */
const tempoShare = 0.05;
/** Strikes in the first stretch, by which the step's length is found; and those by which the next is foretold. */
const firstStrikes = 40;
const lastStrikes = 40;
/** Farther from a step than this, in steps, a strike tells nothing of the grid, and belongs to no step. */
const nearStep = 0.3;
/** Where fewer strikes come back a turn later, the take is not of this barrel at this tempo. */
const comesBack = 0.6;
const leastTurns = 2;
/** By so much more another number of steps must bring strikes back to be believed in place of the one given. */
const clearlyMore = 0.1;
/** So much comes back where nothing but chance is missing. */
const allBack = 0.95;
/** Pins of one channel that lie so near to each other, in steps, are off alike. */
const alike = 0.15;
/** A channel farther from the steps may as well belong to the next one, or to the one before. */
const betweenSteps = 0.25;

/**
 * @param strikes ascending by time
 * @returns pins with the reference's first strike at step 0: which step of the barrel that is no take can tell
 */
export function draftPattern(strikes: readonly HeardStrike[], grid: Grid, reference: string): Draft {
  const { steps } = grid;
  const placed = place(strikes, grid);
  const first = placed?.find(({ channel }) => channel === reference);
  if (placed === null || first === undefined)
    return {
      why: 'too few strikes were heard, or none of the reference',
      mend: 'record at least three turns, the reference among them',
    };
  const back = shareBack(placed, steps);
  const turns = (placed[placed.length - 1].step - placed[0].step + 1) / steps;
  if (turns < leastTurns)
    return {
      why: `it holds ${turns.toFixed(1)} turns, and what comes back every turn cannot be told from what does not`,
      mend: 'record at least three turns',
    };
  const best = bestLength(placed);
  if (back < comesBack || best.share > back + clearlyMore) return notBack(steps, back, best);
  const [from, to] = [placed[0].step, placed[placed.length - 1].step];
  const pins: DraftPin[] = [];
  const between: OffStepChannel[] = [];
  let leftOut = strikes.length - placed.length;
  for (const [channel, all] of grouped(placed, (each) => each.channel)) {
    const cells = [...grouped(all, ({ step }) => modulo(step - first.step, steps))];
    const offs = cells.map(([, own]) => median(own.map(({ off }) => off)));
    const centre = centreOf(offs);
    if (Math.abs(centre) > betweenSteps) between.push({ channel, byStep: centre });
    cells.forEach(([step, own], i) => {
      const heard = new Set(own.map((each) => each.step)).size;
      const covered = timesIn(from, to, step + first.step, steps);
      const off = offs[i] - centre;
      const apart = Math.abs(off) > alike ? Number(off.toFixed(2)) : 0;
      const isHeard = heard >= 2 && (heard === covered || (covered >= 4 && heard >= covered - 1));
      const isSure = isHeard && apart === 0 && Math.abs(centre) <= betweenSteps;
      if (isHeard || (heard >= 2 && 2 * heard >= covered) || covered === 1)
        pins.push({ step: modulo(step + apart, steps), channel, heard, turns: covered, isSure, apart });
      else leftOut += own.length;
    });
  }
  pins.sort((a, b) => a.step - b.step || (a.channel < b.channel ? -1 : 1));
  const shorter = best.length < steps && best.share >= allBack ? best.length : null;
  return { pins, leftOut, turns, between, shorter };
}

/** Of pins at two places, as in a swing, those nearer to the steps are taken for the ones that are on them. */
function centreOf(offs: readonly number[]): number {
  const near = (to: number) => offs.filter((off) => Math.abs(off - to) <= alike);
  const nearest = [...offs].sort((a, b) => Math.abs(a) - Math.abs(b));
  const own = nearest.find((off) => near(off).length >= 0.25 * offs.length) ?? 0;
  return median(near(own));
}

interface Placed {
  readonly channel: string;
  /** Counted on from turn to turn. */
  readonly step: number;
  /** How far after it, in steps. */
  readonly off: number;
}

/** Strikes on the grid, each channel's own lateness allowed for; null where there are too few. */
function place(strikes: readonly HeardStrike[], grid: Grid): Placed[] | null {
  if (strikes.length < firstStrikes) return null;
  const first = follow(strikes, grid, () => 0);
  const shifts = new Map(
    [...grouped(first, ({ channel }) => channel)].map(([channel, own]) => [
      channel,
      { byStep: shiftOf(own.map(({ off }) => off)), stepS: median(own.map(({ stepS }) => stepS)) },
    ]),
  );
  const lateS = (channel: string) => {
    const { byStep, stepS } = shifts.get(channel)!;
    return byStep * stepS;
  };
  return follow(strikes, grid, lateS)
    .filter(({ off }) => Math.abs(off) <= nearStep)
    .map(({ off, ...each }) => ({ ...each, off: off + shifts.get(each.channel)!.byStep }));
}

/** Where most of a channel's strikes lie near together, in steps; of several such places the one nearest to the step. */
function shiftOf(offs: readonly number[]): number {
  let best = { byStep: 0, count: -1 };
  for (let i = 0; i < 20; i++) {
    const byStep = (i % 2 === 0 ? 1 : -1) * 0.05 * Math.ceil(i / 2);
    const count = offs.filter((off) => Math.abs(modulo(off - byStep + 0.5, 1) - 0.5) <= nearStep).length;
    if (count > best.count) best = { byStep, count };
  }
  return best.byStep;
}

/** @param lateS of a channel, s */
function follow(strikes: readonly HeardStrike[], grid: Grid, lateS: (channel: string) => number) {
  const times = strikes.map(({ timeS, channel }) => timeS - lateS(channel));
  let { stepS, atS } = firstGrid(times.slice(0, firstStrikes), grid);
  const known: { k: number; t: number }[] = [];
  return strikes.map(({ channel }, i) => {
    const t = times[i];
    const along = (t - atS) / stepS;
    const k = Math.round(along);
    const off = along - k;
    if (Math.abs(off) <= nearStep) {
      known.push({ k, t });
      if (known.length > lastStrikes) known.shift();
      if (known.length >= firstStrikes / 2) ({ stepS, atS } = line(known));
    }
    return { channel, step: k, off, stepS };
  });
}

/** The step's length, and where one lies, by which the strikes sit nearest to steps: the phases' resultant is longest. */
function firstGrid(times: readonly number[], { stepsPerBeat, bpm }: Grid): { stepS: number; atS: number } {
  const usualS = 60 / (bpm * stepsPerBeat);
  const spanS = times[times.length - 1] - times[0];
  // Neighbouring lengths differ by a tenth of a step over the stretch.
  const share = Math.min(0.01, (0.1 * usualS) / spanS);
  let best = { length: -1, stepS: usualS, atS: times[0] };
  for (let f = 1 - tempoShare; f <= 1 + tempoShare; f += share) {
    const stepS = usualS * f;
    let [x, y] = [0, 0];
    for (const t of times) {
      const phase = (2 * Math.PI * (t - times[0])) / stepS;
      x += Math.cos(phase);
      y += Math.sin(phase);
    }
    const length = Math.hypot(x, y);
    if (length > best.length)
      best = { length, stepS, atS: times[0] + (Math.atan2(y, x) / (2 * Math.PI)) * stepS };
  }
  return best;
}

function line(points: readonly { readonly k: number; readonly t: number }[]): { stepS: number; atS: number } {
  const n = points.length;
  const k0 = points.reduce((sum, { k }) => sum + k, 0) / n;
  const t0 = points.reduce((sum, { t }) => sum + t, 0) / n;
  const kk = points.reduce((sum, { k }) => sum + (k - k0) ** 2, 0);
  const kt = points.reduce((sum, { k, t }) => sum + (k - k0) * (t - t0), 0);
  const stepS = kt / kk;
  return { stepS, atS: t0 - stepS * k0 };
}

/** Of the strikes that have room for it, the share that comes back after so many steps. */
function shareBack(placed: readonly Placed[], steps: number): number {
  const there = new Set(placed.map(({ channel, step }) => JSON.stringify([channel, step])));
  const last = placed[placed.length - 1].step;
  const able = placed.filter(({ step }) => step + steps <= last);
  const back = able.filter(({ channel, step }) => there.has(JSON.stringify([channel, step + steps])));
  return able.length === 0 ? 0 : back.length / able.length;
}

/** After how many steps most comes back, the fewest of several; each has to be there twice over. */
function bestLength(placed: readonly Placed[]): { readonly length: number; readonly share: number } {
  const span = placed[placed.length - 1].step - placed[0].step;
  let best = { length: Infinity, share: 0 };
  for (let length = 2; 2 * length <= span; length++) {
    const share = shareBack(placed, length);
    if (share > best.share + 0.01) best = { length, share };
  }
  return best;
}

/** Where strikes come back after another number of steps, that is said. */
function notBack(
  steps: number,
  back: number,
  best: { readonly length: number; readonly share: number },
): Draft {
  const percent = (share: number) => `${Math.round(100 * share)} %`;
  const other = best.share >= comesBack ? `, but ${percent(best.share)} after ${best.length}` : '';
  return {
    why: `only ${percent(back)} of the strikes come back after ${steps} steps${other}`,
    mend: 'check "steps" and "stepsPerBeat" in machine.jsonc and "tempo" in take.jsonc',
  };
}

/** How many of the steps `at`, `at` ± `every`, `at` ± 2 · `every` … lie from `from` to `to`. */
function timesIn(from: number, to: number, at: number, every: number): number {
  return Math.floor((to - at) / every) - Math.ceil((from - at) / every) + 1;
}
