/**
 * Why tolerance is out of reach: the same program with every limit stretchable, at a price a unit. Where stretching
 * helps, the limits that were stretched stand in the way, and by how much is what would be needed.
 */
import { keptBy, levelSpan } from './level-span.ts';
import { withMinus } from '../words/minus.ts';
import type { IntegerSolver, Run } from '../ports.ts';
import type { Advice } from '../results/results.ts';
import { predict, type Belief } from './belief.ts';
import { NODE_LIMIT, SMALL } from './ask.ts';
import { contradiction, shiftOf } from './effects.ts';
import { choicesOf, type Choice } from './choices.ts';
import { heldMs, isOut, leavingWith } from './leaving.ts';
import { LinearProgram, type Term } from './linear-program.ts';
import { placeWords, sideWords } from './place-words.ts';
import { layChoice, layLateness, layRoom, roundedIn, type ChangeTerms } from './program.ts';

export type Obstacle = NonNullable<Advice['obstacles']>[number];

/** An ms out of tolerance costs as much as so many units beyond a limit: limits are stretched wherever that helps. */
const UNITS_PER_MS = 1000;

export interface Left {
  readonly settings: readonly number[];
  readonly roomMs: readonly number[];
  readonly known: ReadonlyMap<number, string>;
}

/**
 * @param left settings: the plan's, by adjuster index; roomMs: by group, its mean must come within ± this; known: by group,
 *   what is known already to stand in the way
 * @returns one obstacle for each group whose mean the plan leaves out of tolerance and that a limit, a coarse unit or the lack of an
 *   adjuster keeps there; a mean within tolerance is out of nothing's reach, however near the edge it lies
 */
export async function obstaclesTo(
  belief: Belief,
  { settings, roomMs, known }: Left,
  solve: IntegerSolver,
  run: Run,
): Promise<Obstacle[]> {
  const left = predict(belief, settings).flatMap(({ meanMs }, g) =>
    isOut(Math.abs(meanMs) / heldMs(belief.groups[g])) ? [{ g, meanMs }] : [],
  );
  if (left.length === 0) return [];
  run.signal?.throwIfAborted();
  const { adjusters, channels, barrel } = belief.machine.description;
  const choices = choicesOf(belief, Math.max(10, ...adjusters.map(({ min, max }) => max - min)));
  const large = belief.groups.length * choices.length > SMALL;
  const values = await solved(solve, (relaxed) => stretchable(belief, choices, roomMs, relaxed), large);

  const needed = roundedIn(belief, choices, values);
  const ways = stretched(belief, choices, values);
  const leaving = new Set(leavingWith(belief, settings).map(({ g }) => g));
  return left.map(({ g, meanMs }) => {
    const { channel, sector } = belief.groups[g];
    const { moved, helpful } = towardsDue(belief, g, meanMs, settings, needed);
    const own = ways.filter(({ adjusters: ids, up }) =>
      helpful.some((each) => ids.includes(each.id) && each.up === up),
    );
    const missing = values.get(`v${g}`) ?? 0;
    const why = known.has(g)
      ? known.get(g)
      : !moved
        ? 'no adjuster moves it'
        : missing > 1e-4
          ? notTogether(belief)
          : own.length > 0
            ? own
                .map(({ text, stretch }) =>
                  text(stretch, needed, othersToo(belief, { g, meanMs }, settings, roomMs[g])),
                )
                .join('; ')
            : heldByOthers(helpful);
    const where = leaving.has(g)
      ? `leaves its tolerance with these settings, at ${sideWords(meanMs)}`
      : `stays ${sideWords(meanMs)}`;
    const message = `${placeWords(belief, g)} ${where}: ${why}`;
    const { tune } = belief.groups[g];
    return {
      channel: channels[channel].id,
      sector: barrel.sectors[sector].id,
      ...(tune === undefined ? {} : { tune }),
      message,
    };
  });
}

/**
 * What is said where not even stretched limits would do. That something has to be built is said only where nothing else can be the
 * reason: no adjuster left alone or in contradiction to its description, and neither tunes nor tempi that ask for different settings.
 */
function notTogether(belief: Belief): string {
  const { groups, held, machine } = belief;
  const isAlone = groups.every(({ tune, bpm }) => tune === groups[0].tune && bpm === groups[0].bpm);
  const isSettled =
    held.size === 0 && machine.description.adjusters.every((_, a) => contradiction(belief, a) === null);
  return isAlone && isSettled
    ? 'no setting brings it in together with the other groups, not even beyond the limits: it takes an adjuster of its own or finer units'
    : 'no setting that can be proposed now brings it in together with the other groups';
}

/** Cut off by its nodes, an integer program says nothing of what cannot be; the relaxed one, which is quick, does. */
async function solved(solve: IntegerSolver, program: (relaxed: boolean) => string, large: boolean) {
  if (!large) {
    const { status, values } = await solve(program(false), { nodeLimit: NODE_LIMIT });
    if (status === 'optimal') return values;
  }
  return (await solve(program(true))).values;
}

interface Helpful {
  /** Adjuster's id. */
  readonly id: string;
  readonly setting: number;
  /** Whether it goes to a higher setting. */
  readonly up: boolean;
}

/**
 * @param from the plan's settings, with which the group's mean is `meanMs`; `to`: settings that the stretched limits allow
 * @returns whether any adjuster moves the group, and those that on the way from one to the other bring it nearer to due
 */
function towardsDue(
  belief: Belief,
  g: number,
  meanMs: number,
  from: readonly number[],
  to: readonly number[],
): { readonly moved: boolean; readonly helpful: readonly Helpful[] } {
  const { adjusters } = belief.machine.description;
  const helpful = adjusters.flatMap((adjuster, a): Helpful[] => {
    const own = belief.share[g][a] * belief.effects[a].factor;
    const changeMs = own === 0 ? 0 : own * shiftOf(belief, adjuster, from[a], to[a]);
    return changeMs * meanMs < 0 ? [{ id: adjuster.id, setting: to[a], up: to[a] > from[a] }] : [];
  });
  return { moved: belief.share[g].some((share) => share !== 0), helpful };
}

/** Whether an adjuster goes farther than the group itself needs, in words: what brings the others in moves it too. */
function othersToo(
  belief: Belief,
  { g, meanMs }: { readonly g: number; readonly meanMs: number },
  from: readonly number[],
  roomMs: number,
): (a: number, to: number) => string {
  return (a, to) => {
    const adjuster = belief.machine.description.adjusters[a];
    const own = belief.share[g][a] * belief.effects[a].factor;
    const step = Math.sign(to - from[a]);
    for (let setting = from[a] + step; step !== 0 && setting !== to; setting += step)
      if (Math.abs(meanMs + own * shiftOf(belief, adjuster, from[a], setting)) <= roomMs)
        return ' once the other groups are brought in too';
    return '';
  };
}

/** What would bring a group in lies within the limits, and takes others out that the limits then keep out. */
function heldByOthers(helpful: readonly Helpful[]): string {
  if (helpful.length === 0) return 'no setting brings it in together with the other groups';
  const ways = helpful.map(({ id, setting }) => `${id} at ${withMinus(setting)}`).join(', ');
  return `it takes ${ways}, and no allowed setting brings the other groups in with that`;
}

function stretchable(
  belief: Belief,
  choices: readonly Choice[],
  roomMs: readonly number[],
  relaxed: boolean,
): string {
  const lp = new LinearProgram();
  const changes = choices.map((choice) => layChoice(lp, belief, choice));
  layLateness(lp, belief, choices, changes);
  for (const { terms, name, most } of boundsOf(belief, choices, changes)) {
    lp.between(name, 0);
    lp.minimise([[name, 1]]);
    lp.constrain([...terms, [name, -1]], '<=', most);
  }
  roomMs.forEach((room, g) => {
    lp.between(`v${g}`, 0);
    lp.minimise([[`v${g}`, UNITS_PER_MS]]);
    layRoom(lp, g, room);
  });
  return lp.text(relaxed);
}

/** A bound that may be stretched: terms ≤ most + the named variable, in units. */
interface Bound {
  readonly name: string;
  readonly terms: readonly Term[];
  readonly most: number;
  readonly adjusters: readonly string[];
  /** true: settings too high for it are held back. */
  readonly up: boolean;
  /** @param too by adjuster index, what is said of a setting that the group itself does not need */
  readonly text: (
    stretch: number,
    settings: readonly number[],
    too: (a: number, to: number) => string,
  ) => string;
}

function boundsOf(belief: Belief, choices: readonly Choice[], changes: readonly ChangeTerms[]): Bound[] {
  const { adjusters, limits } = belief.machine.description;
  const negative = (terms: readonly Term[]) => terms.map(([name, x]): Term => [name, -x]);
  const own = adjusters.flatMap(({ id, min, max, installed }, a): Bound[] => [
    ...staysOf(belief, a, changes[a]),
    {
      name: `o${a}`,
      terms: changes[a].units,
      most: Math.max(0, max - installed),
      adjusters: [id],
      up: true,
      text: (_, settings, too) =>
        `${id} would have to go to ${withMinus(settings[a])}${too(a, settings[a])}, and its max is ${withMinus(max)}`,
    },
    {
      name: `u${a}`,
      terms: negative(changes[a].units),
      most: Math.max(0, installed - min),
      adjusters: [id],
      up: false,
      text: (_, settings, too) =>
        `${id} would have to go to ${withMinus(settings[a])}${too(a, settings[a])}, and its min is ${withMinus(min)}`,
    },
  ]);
  const sums = limits.flatMap(({ adjusters: ids, sumMin, sumMax, why }, i): Bound[] => {
    const members = adjusters.flatMap(({ id }, a) => (ids.includes(id) ? [a] : []));
    const now = members.reduce((sum, a) => sum + choices[a].installed, 0);
    const terms = members.flatMap((a) => changes[a].units);
    const named = `the sum of ${ids.join(', ')}${why === undefined ? '' : ` (${why})`}`;
    const high =
      sumMax === undefined
        ? []
        : [sumMax].map((limit): Bound => ({
            name: `p${i}`,
            terms,
            most: Math.max(0, limit - now),
            adjusters: ids,
            up: true,
            text: (stretch) =>
              `${named} would have to reach ${withMinus(Math.max(limit, now) + Math.ceil(stretch - 1e-6))}, and its limit is ${withMinus(limit)}`,
          }));
    const low =
      sumMin === undefined
        ? []
        : [sumMin].map((limit): Bound => ({
            name: `q${i}`,
            terms: negative(terms),
            most: Math.max(0, now - limit),
            adjusters: ids,
            up: false,
            text: (stretch) =>
              `${named} would have to fall to ${withMinus(Math.min(limit, now) - Math.ceil(stretch - 1e-6))}, and its limit is ${withMinus(limit)}`,
          }));
    return [...high, ...low];
  });
  return [...own, ...sums];
}

/** What keeps an adjuster from its whole range: a lock, a doubt about it, the level of what it moves. */
function staysOf(belief: Belief, a: number, { units }: ChangeTerms): Bound[] {
  const { adjusters, channels } = belief.machine.description;
  const { id, installed, locked } = adjusters[a];
  const kept = keptBy(belief.machine, a);
  const span = levelSpan(belief.machine, a);
  const both = (name: string, [lo, hi]: readonly [number, number], why: string): Bound[] =>
    [true, false].map((up) => ({
      name: `${name}${up ? 'o' : 'u'}${a}`,
      terms: up ? units : units.map(([term, x]): Term => [term, -x]),
      most: Math.max(0, up ? hi - installed : installed - lo),
      adjusters: [id],
      up,
      text: (_, settings, too) =>
        `${id} would have to go to ${withMinus(settings[a])}${too(a, settings[a])}, and ${why}`,
    }));
  const levels = [...new Set(kept.map(({ channel }) => channel))].map((channel) => {
    const { withinDb } = channels[channel].keepLevel!;
    return `keepLevel of ${channels[channel].id} allows ±${withinDb} dB`;
  });
  return [
    ...(locked === true ? both('k', [installed, installed], 'it is locked') : []),
    ...(belief.held.has(a)
      ? both('h', [installed, installed], 'it is left alone until what is in doubt about it is settled')
      : []),
    ...(span === null
      ? []
      : span.lo > span.hi
        ? both(
            'l',
            [installed, installed],
            `${levels.join(', ')}, and what it does to the level is not known`,
          )
        : both('l', [Math.ceil(span.lo), Math.floor(span.hi)], levels.join(', '))),
  ];
}

/** The bounds that a solution stretched, and by how much. */
function stretched(belief: Belief, choices: readonly Choice[], values: ReadonlyMap<string, number>) {
  const none = choices.map((): ChangeTerms => ({ units: [], shift: [], changed: [] }));
  return boundsOf(belief, choices, none).flatMap(({ name, adjusters, up, text }) => {
    const stretch = values.get(name) ?? 0;
    return stretch > 1e-3 ? [{ adjusters, up, text, stretch }] : [];
  });
}
