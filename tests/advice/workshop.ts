/**
 * A small machine with known truth for tests of what the takes tell: five strikers, three sectors, a lever each, two joints,
 * a ring. What is noted and what was really done may differ, take by take.
 */
import { shiftMs } from '../../analysis/machine/effects.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Advice, Report } from '../../analysis/results/results.ts';
import { seededRandom } from '../../samples/random.ts';
import { block, machineOf, reportOf, SECONDS_PER_TURN, shim } from './small.ts';

export const strikers = ['gong', 'bell', 'drum', 'plate', 'wood'];
const sectors = ['A', 'B', 'C'];

type Settings = Readonly<Record<string, number>>;

export interface Story {
  readonly takes: number;
  /** What is noted before a take, where it changes. */
  readonly noted?: (take: number) => Settings;
  /** What was really fitted, where that is something else. */
  readonly done?: (take: number) => Settings;
  /** What moves by itself, ms in a take. */
  readonly moved?: (take: number, channel: string, sector: string) => number;
  /** How much of an adjuster's shift a group takes, where it is not as the file says. */
  readonly share?: (adjuster: string, channel: string, sector: string) => number | undefined;
  /** What the report of a take advised. */
  readonly advised?: (take: number) => Advice['settings'];
}

const adjusters = [
  shim('joint-AB', { sectors: ['B', 'C'] }, { min: 0, max: 20, installed: 8 }),
  shim('joint-BC', { sectors: ['C'] }, { min: 0, max: 20, installed: 8 }),
  ...strikers.map((id) => shim(`lever-${id}`, { channels: [id] }, { min: 0, max: 30, installed: 15 })),
  {
    id: 'ring',
    unit: 'notch',
    perUnit: { degrees: 2, turnsPerBarrelTurn: 50 },
    shifts: { channels: ['block'] },
    installed: 0,
    min: -20,
    max: 20,
  },
];

function machineWith(installed: Settings): Machine {
  const channels = [block, ...strikers.map((id) => ({ id }))];
  return machineOf(
    channels,
    sectors,
    adjusters.map((one) => ({ ...one, installed: installed[one.id] ?? one.installed })),
  );
}

/** Standard deviations: of a group's measured mean, of where a part comes to rest, of what wanders from take to take, ms. */
const HEARD_MS = 0.1;
const REFIT_MS = 0.15;
const WANDER_MS = 0.05;

/** Plays a story. The machine is as noted after the last take; effects are 70 to 130 % of what the file says. */
export function told(story: Story, seed: number): { machine: Machine; reports: Report[] } {
  const random = seededRandom(seed);
  const start = machineWith({});
  const own = start.description.adjusters;
  const factors = own.map(() => random.between(0.7, 1.3));
  const off = own.map(() => 0);
  const level = new Map(
    strikers.flatMap((c) => sectors.map((s): [string, number] => [`${c} ${s}`, 3 * random.normal()])),
  );
  let noted: Settings = Object.fromEntries(own.map(({ id, installed }) => [id, installed]));
  let fitted = noted;
  const reports: Report[] = [];
  for (let take = 0; take < story.takes; take++) {
    const change = story.noted?.(take) ?? {};
    const before = fitted;
    noted = { ...noted, ...change };
    fitted = { ...fitted, ...change, ...story.done?.(take) };
    own.forEach(({ id }, a) => {
      if (fitted[id] !== before[id]) off[a] += REFIT_MS * random.normal();
    });
    const lateness = Object.fromEntries(
      strikers.map((channel) => [
        channel,
        sectors.map((sector) => {
          const key = `${channel} ${sector}`;
          level.set(key, level.get(key)! + WANDER_MS * random.normal());
          const shift = own.reduce((sum, adjuster, a) => {
            const { channels: names = strikers, sectors: places = sectors } = adjuster.shifts;
            const said =
              adjuster.id === 'ring' ? -1 : names.includes(channel) && places.includes(sector) ? 1 : 0;
            const share = story.share?.(adjuster.id, channel, sector) ?? said;
            const { id, installed } = adjuster;
            const ms = shiftMs(adjuster, installed, fitted[id], start.description, SECONDS_PER_TURN);
            return sum + share * (factors[a] * ms + off[a]);
          }, 0);
          const moved = story.moved?.(take, channel, sector) ?? 0;
          return level.get(key)! + shift + moved + HEARD_MS * random.normal();
        }),
      ]),
    );
    const report = reportOf(machineWith(noted), lateness, 1.96 * HEARD_MS, noted);
    const advice = { ...report.advice, settings: story.advised?.(take) ?? [] };
    reports.push({ ...report, take: `take-${take + 1}`, advice });
  }
  return { machine: machineWith(noted), reports };
}
