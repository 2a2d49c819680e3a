/**
 * The mixed-integer program of one question about a belief: which settings are cheapest, or leave the least lateness.
 * Variables: for adjuster a and piece k of its settings, y<a>_<k> (1 = changed, to a setting of that piece) and
 * d<a>_<k> (units from the installed setting); L<g> a group's predicted lateness, s<g> the half-width of its interval,
 * e<g> its lateness as the question weighs it, ms, x<g> what of that is beyond tolerance as a share of it; W the worst as a share of
 * tolerance.
 */
import { shiftOf } from './effects.ts';
import type { Adjuster } from '../machine/schema.ts';
import { changedSinceTake, geometricShiftMs, predict, type Belief } from './belief.ts';
import { type Choice, type SettingSpan } from './choices.ts';
import { LinearProgram, type Term } from './linear-program.ts';
import { strictestMs, weightsOf, WEIGHT_OF_REACH, withinMs, type Question } from './question.ts';
import { changeMinutes, costOfChange, openingsOf } from './minutes.ts';
import { layStock } from './stock.ts';
import type { Tangent } from './tangents.ts';

export function programFor(
  belief: Belief,
  choices: readonly Choice[],
  tangents: readonly Tangent[],
  question: Question,
  relaxed = false,
): string {
  const lp = new LinearProgram();
  const changes = choices.map((choice) => layChoice(lp, belief, choice));
  layLimits(lp, belief, choices, changes);
  layLateness(lp, belief, choices, changes);
  for (const tangent of tangents) layTangent(lp, belief, choices, changes, tangent);
  layStock(lp, belief.machine, changes);
  layQuestion(lp, belief, changes, question);
  return lp.text(relaxed);
}

/** How a choice shows in the program; each is 0 where the adjuster stays as it is installed. */
export interface ChangeTerms {
  /** Units from the installed setting. */
  readonly units: readonly Term[];
  /** Own geometric shift from the installed setting, ms. */
  readonly shift: readonly Term[];
  /** 1 where it is changed. */
  readonly changed: readonly Term[];
}

export function layChoice(lp: LinearProgram, belief: Belief, choice: Choice): ChangeTerms {
  const adjuster = belief.machine.description.adjusters[choice.adjuster];
  const units: Term[] = [];
  const shift: Term[] = [];
  const changed: Term[] = [];
  piecesOf(adjuster, choice.spans).forEach(({ lo, hi }, k) => {
    const y = `y${choice.adjuster}_${k}`;
    const d = `d${choice.adjuster}_${k}`;
    const from = lo - choice.installed;
    const to = hi - choice.installed;
    const shiftAtLo = shiftOf(belief, adjuster, choice.installed, lo);
    lp.binary(y);
    changed.push([y, 1]);
    if (lo === hi) {
      units.push([y, from]);
      shift.push([y, shiftAtLo]);
      return;
    }
    const slope = (shiftOf(belief, adjuster, choice.installed, hi) - shiftAtLo) / (hi - lo);
    lp.integer(d, Math.min(0, from), Math.max(0, to));
    lp.constrain([[d, 1], [y, -from]], '>=', 0); // prettier-ignore
    lp.constrain([[d, 1], [y, -to]], '<=', 0); // prettier-ignore
    units.push([d, 1]);
    shift.push([d, slope], [y, shiftAtLo - slope * from]);
  });
  if (changed.length > 1) lp.constrain(changed, '<=', 1);
  return { units, shift, changed };
}

/** Up to so many settings of a drop height each have a variable of their own. */
const MOST_SINGLE_SETTINGS = 500;
/**
 * Beyond, fall time is taken as straight within each of so many pieces; √h bends so little over 1/250 of any real range
 * that it is wrong by under 0.02 ms there. Predictions are exact all the same.
 */
const PIECES = 250;

/** Pieces of the spans on which the shift is straight. */
function piecesOf({ perUnit }: Adjuster, spans: readonly SettingSpan[]): SettingSpan[] {
  if (!('dropMm' in perUnit)) return [...spans];
  const settings = spans.reduce((sum, { lo, hi }) => sum + hi - lo + 1, 0);
  const length = settings <= MOST_SINGLE_SETTINGS ? 1 : Math.ceil(settings / PIECES);
  return spans.flatMap(({ lo, hi }) =>
    Array.from({ length: Math.ceil((hi - lo + 1) / length) }, (_, i) => ({
      lo: lo + i * length,
      hi: Math.min(hi, lo + (i + 1) * length - 1),
    })),
  );
}

/**
 * Bounds on sums of settings. Where the machine breaks one as it stands, it may stay so, but a change of one of its
 * adjusters must mend it.
 */
export function layLimits(
  lp: LinearProgram,
  belief: Belief,
  choices: readonly Choice[],
  changes: readonly ChangeTerms[],
): void {
  const { adjusters, limits } = belief.machine.description;
  limits.forEach(({ adjusters: ids, sumMin = -Infinity, sumMax = Infinity }, i) => {
    const members = adjusters.flatMap(({ id }, a) => (ids.includes(id) ? [a] : []));
    const now = members.reduce((sum, a) => sum + choices[a].installed, 0);
    const units = members.flatMap((a) => changes[a].units);
    const broken = now > sumMax ? now - sumMax : now < sumMin ? now - sumMin : 0;
    const touched = `z${i}`;
    if (broken !== 0) {
      lp.binary(touched);
      for (const a of members)
        lp.constrain([[touched, 1], ...changes[a].changed.map(([y]): Term => [y, -1])], '>=', 0);
    }
    const mend: Term[] = broken === 0 ? [] : [[touched, broken]];
    if (sumMax < Infinity)
      lp.constrain([...units, ...(broken > 0 ? mend : [])], '<=', Math.max(0, sumMax - now));
    if (sumMin > -Infinity)
      lp.constrain([...units, ...(broken < 0 ? mend : [])], '>=', Math.min(0, sumMin - now));
  });
}

export function layLateness(
  lp: LinearProgram,
  belief: Belief,
  choices: readonly Choice[],
  changes: readonly ChangeTerms[],
): void {
  const now = predict(
    belief,
    choices.map(({ installed }) => installed),
  );
  belief.groups.forEach((_, g) => {
    const terms = changes.flatMap(({ shift }, a) =>
      scaled(shift, -belief.share[g][a] * belief.effects[a].factor),
    );
    lp.between(`L${g}`);
    lp.constrain([[`L${g}`, 1], ...terms], '=', now[g].meanMs);
  });
}

/** A group's lateness lies within ± `roomMs`, or v<g> beyond it, ms. */
export function layRoom(lp: LinearProgram, g: number, roomMs: number): void {
  for (const sign of [1, -1]) lp.constrain([[`L${g}`, sign], [`v${g}`, -1]], '<=', roomMs); // prettier-ignore
}

function layTangent(
  lp: LinearProgram,
  belief: Belief,
  choices: readonly Choice[],
  changes: readonly ChangeTerms[],
  { group, constant, shift, changed }: Tangent,
): void {
  const left: Term[] = [[`s${group}`, 1]];
  let right = constant;
  choices.forEach(({ installed }, a) => {
    if (shift[a] !== 0) {
      right += shift[a] * geometricShiftMs(belief, a, installed);
      left.push(...scaled(changes[a].shift, -shift[a]));
    }
    if (changed[a] === 0) return;
    if (changedSinceTake(belief, a)) right += changed[a];
    else left.push(...scaled(changes[a].changed, -changed[a]));
  });
  lp.constrain(left, '>=', right);
}

/** o<k> is 1 where access k is opened; @returns the minutes of all openings */
function layOpenings(lp: LinearProgram, { machine }: Belief, changes: readonly ChangeTerms[]): Term[] {
  return openingsOf(machine).map(({ access, openMinutes, members }): Term => {
    const opened = `o${access}`;
    lp.binary(opened);
    for (const a of members)
      if (changes[a].changed.length > 0)
        lp.constrain([[opened, 1], ...scaled(changes[a].changed, -1)], '>=', 0);
    return [opened, openMinutes];
  });
}

function layQuestion(
  lp: LinearProgram,
  belief: Belief,
  changes: readonly ChangeTerms[],
  { aim, weight, within, atMost, reach, costAtMost, minutesAtMost }: Question,
): void {
  const opened = layOpenings(lp, belief, changes);
  const cost = [
    ...changes.flatMap(({ changed }, a) => scaled(changed, costOfChange(belief.machine, a))),
    ...opened,
  ];
  if (minutesAtMost !== undefined) {
    const minutes = changes.flatMap(({ changed }, a) => scaled(changed, changeMinutes(belief.machine, a)));
    lp.constrain([...minutes, ...opened], '<=', minutesAtMost);
  }
  const weights = aim === 'cost' ? null : weightsOf(aim, belief.groups.length);
  if (weights === null) lp.minimise(cost);
  else {
    lp.minimise([['W', weights.worst]]);
    lp.between('W', 0);
  }
  if (costAtMost !== undefined) lp.constrain(cost, '<=', costAtMost);
  const atWorst = (toleranceMs: number): Term[] => (aim === 'cost' ? [] : [['W', -toleranceMs]]);
  const beyond = WEIGHT_OF_REACH;
  reach?.forEach(({ fromMs, toMs }, a) => {
    const { shift } = changes[a];
    lp.constrain([...scaled(shift, beyond), ...atWorst(strictestMs(belief))], '<=', beyond * toMs);
    lp.constrain([...scaled(shift, -beyond), ...atWorst(strictestMs(belief))], '<=', -beyond * fromMs);
  });
  const { groups } = belief;
  groups.forEach((group, g) => {
    const { toleranceMs, ci95Ms } = group;
    lp.between(`s${g}`, 0);
    const { meanAtMostMs } = group;
    if (meanAtMostMs !== undefined)
      for (const sign of [1, -1]) lp.constrain([[`L${g}`, sign]], '<=', meanAtMostMs);
    if (within !== undefined) {
      lp.constrain([[`L${g}`, 1], [`s${g}`, 1]], '<=', within[g]); // prettier-ignore
      lp.constrain([[`L${g}`, -1], [`s${g}`, 1]], '<=', within[g]); // prettier-ignore
    }
    if (aim === 'cost' && atMost === undefined) return;
    lp.between(`e${g}`, 0, atMost?.[g]);
    lp.constrain([[`e${g}`, 1], [`L${g}`, -1], [`s${g}`, -weight]], '>=', 0); // prettier-ignore
    lp.constrain([[`e${g}`, 1], [`L${g}`, 1], [`s${g}`, -weight]], '>=', 0); // prettier-ignore
    if (weights === null) return;
    lp.minimise([[`e${g}`, weights.all / toleranceMs], [`x${g}`, weights.excess]]); // prettier-ignore
    lp.between(`x${g}`, 0);
    lp.constrain([[`e${g}`, 1], ...atWorst(toleranceMs)], '<=', withinMs(group) - toleranceMs);
    const enough = withinMs(group) - (1 - weight) * ci95Ms;
    lp.constrain([[`x${g}`, toleranceMs], [`e${g}`, -1]], '>=', -enough); // prettier-ignore
  });
}

/** The allowed settings next to those of a relaxed solution, whose adjusters may stand in between. */
export function roundedIn(
  belief: Belief,
  choices: readonly Choice[],
  values: ReadonlyMap<string, number>,
): number[] {
  return choices.map(({ adjuster, installed, spans }) => {
    const pieces = piecesOf(belief.machine.description.adjusters[adjuster], spans);
    const units = pieces.reduce((sum, { lo, hi }, k) => {
      const y = values.get(`y${adjuster}_${k}`) ?? 0;
      return sum + (lo === hi ? y * (lo - installed) : (values.get(`d${adjuster}_${k}`) ?? 0));
    }, 0);
    const wanted = installed + Math.round(units);
    const ends = spans.map(({ lo, hi }) => Math.min(hi, Math.max(lo, wanted)));
    return [installed, ...ends].reduce((best, setting) =>
      Math.abs(setting - wanted) < Math.abs(best - wanted) ? setting : best,
    );
  });
}

/** The variables that stand for settings, by name: a place for the solver to start from. */
export function valuesFor(
  belief: Belief,
  choices: readonly Choice[],
  settings: readonly number[],
): Map<string, number> {
  const values = new Map<string, number>();
  choices.forEach(({ adjuster, installed, spans }, a) => {
    piecesOf(belief.machine.description.adjusters[adjuster], spans).forEach(({ lo, hi }, k) => {
      const chosen = settings[a] !== installed && settings[a] >= lo && settings[a] <= hi;
      values.set(`y${adjuster}_${k}`, chosen ? 1 : 0);
      if (lo < hi) values.set(`d${adjuster}_${k}`, chosen ? settings[a] - installed : 0);
    });
  });
  return values;
}

function scaled(terms: readonly Term[], by: number): Term[] {
  return by === 0 ? [] : terms.map(([name, coefficient]): Term => [name, coefficient * by]);
}

/** The settings that a solution stands for, by adjuster index. */
export function solvedSettings(
  belief: Belief,
  choices: readonly Choice[],
  values: ReadonlyMap<string, number>,
): number[] {
  return choices.map(({ adjuster, installed, spans }) => {
    const pieces = piecesOf(belief.machine.description.adjusters[adjuster], spans);
    const chosen = pieces.findIndex((_, k) => (values.get(`y${adjuster}_${k}`) ?? 0) > 0.5);
    if (chosen === -1) return installed;
    const { lo, hi } = pieces[chosen];
    return lo === hi ? lo : installed + Math.round(values.get(`d${adjuster}_${chosen}`) ?? 0);
  });
}
