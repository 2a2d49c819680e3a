/**
 * Why tolerance is out of reach: the same program with every limit stretchable, at a price a unit. Where stretching
 * helps, the limits that were stretched stand in the way, and by how much is what would be needed.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import type { Advice } from '../results.ts';
import { predict, type Belief } from './belief.ts';
import { SMALL } from './ask.ts';
import { choicesOf, type Choice } from './choices.ts';
import { LinearProgram, type Term } from './linear-program.ts';
import { layChoice, layLateness, roundedIn, type Change } from './program.ts';

export type Obstacle = NonNullable<Advice['obstacles']>[number];

/** An ms out of tolerance costs as much as so many units beyond a limit: limits are stretched wherever that helps. */
const UNITS_PER_MS = 1000;
const TIME_LIMIT_S = 2;

/**
 * @param settings the plan's, by adjuster index
 * @param roomMs   by group: its mean must come within ± this
 * @returns one obstacle for each group whose mean the plan leaves outside its room and that a limit, a coarse unit or
 *   the lack of an adjuster keeps there; none where all means could be brought in
 */
export async function obstaclesTo(
  belief: Belief,
  settings: readonly number[],
  roomMs: readonly number[],
  solve: IntegerSolver,
  run: Run,
): Promise<Obstacle[]> {
  const left = predict(belief, settings).flatMap(({ meanMs }, g) =>
    Math.abs(meanMs) > roomMs[g] + 1e-6 ? [{ g, meanMs }] : [],
  );
  if (left.length === 0) return [];
  run.signal?.throwIfAborted();
  const { adjusters, channels, barrel } = belief.machine.description;
  const choices = choicesOf(belief, Math.max(10, ...adjusters.map(({ min, max }) => max - min)));
  const large = belief.groups.length * choices.length > SMALL;
  const { values } = await solve(stretchable(belief, choices, roomMs, large), { timeLimitS: TIME_LIMIT_S });
  const needed = stretched(belief, choices, values);
  return left.flatMap(({ g, meanMs }) => {
    const { channel, sector } = belief.groups[g];
    const moved = adjusters.filter((_, a) => belief.share[g][a] !== 0).map(({ id }) => id);
    const own = needed.filter(({ adjusters: ids }) => ids.some((id) => moved.includes(id)));
    const ways = own.length > 0 ? own : needed;
    const missing = values.get(`v${g}`) ?? 0;
    const why =
      moved.length === 0
        ? 'no adjuster moves it'
        : missing > 1e-4
          ? 'no setting brings it in together with the other groups, not even beyond the limits: it takes an adjuster of its own or finer units'
          : ways.map(({ text }) => text).join('; ');
    if (why === '') return [];
    const where = `${channels[channel].id} in sector ${barrel.sectors[sector].id}`;
    const message = `${where} stays ${Math.abs(meanMs).toFixed(1)} ms ${meanMs > 0 ? 'late' : 'early'}: ${why}`;
    return [{ channel: channels[channel].id, sector: barrel.sectors[sector].id, message }];
  });
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
    lp.constrain([[`L${g}`, 1], [`v${g}`, -1]], '<=', room); // prettier-ignore
    lp.constrain([[`L${g}`, -1], [`v${g}`, -1]], '<=', room); // prettier-ignore
  });
  return lp.text(relaxed);
}

/** A bound that may be stretched: terms ≤ most + the named variable, in units. */
interface Bound {
  readonly name: string;
  readonly terms: readonly Term[];
  readonly most: number;
  readonly adjusters: readonly string[];
  readonly text: (stretch: number, settings: readonly number[]) => string;
}

function boundsOf(belief: Belief, choices: readonly Choice[], changes: readonly Change[]): Bound[] {
  const { adjusters, limits } = belief.machine.description;
  const negative = (terms: readonly Term[]) => terms.map(([name, x]): Term => [name, -x]);
  const own = adjusters.flatMap(({ id, min, max, installed }, a): Bound[] => [
    {
      name: `o${a}`,
      terms: changes[a].units,
      most: Math.max(0, max - installed),
      adjusters: [id],
      text: (_, settings) => `${id} would have to go to ${settings[a]}, and its max is ${max}`,
    },
    {
      name: `u${a}`,
      terms: negative(changes[a].units),
      most: Math.max(0, installed - min),
      adjusters: [id],
      text: (_, settings) => `${id} would have to go to ${settings[a]}, and its min is ${min}`,
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
            text: (stretch) =>
              `${named} would have to reach ${Math.max(limit, now) + Math.ceil(stretch - 1e-6)}, and its limit is ${limit}`,
          }));
    const low =
      sumMin === undefined
        ? []
        : [sumMin].map((limit): Bound => ({
            name: `q${i}`,
            terms: negative(terms),
            most: Math.max(0, now - limit),
            adjusters: ids,
            text: (stretch) =>
              `${named} would have to fall to ${Math.min(limit, now) - Math.ceil(stretch - 1e-6)}, and its limit is ${limit}`,
          }));
    return [...high, ...low];
  });
  return [...own, ...sums];
}

/** The bounds that a solution stretched, in words. */
function stretched(belief: Belief, choices: readonly Choice[], values: ReadonlyMap<string, number>) {
  const settings = roundedIn(belief, choices, values);
  const none = choices.map((): Change => ({ units: [], shift: [], changed: [] }));
  return boundsOf(belief, choices, none).flatMap(({ name, adjusters, text }) => {
    const stretch = values.get(name) ?? 0;
    return stretch > 1e-3 ? [{ adjusters, text: text(stretch, settings) }] : [];
  });
}
