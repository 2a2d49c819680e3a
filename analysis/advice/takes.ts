/** Which takes advice goes by: the newest and why it is that, and those that hold another's recording. */
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { Advice, EarlierReport } from '../results/results.ts';

/** Fewer pins may agree by chance. */
const LEAST_PINS = 8;
/**
 * Pins' means in two recordings differ by chance; where the squares of the differences come to less than this share of what
 * the strikes' own scatter makes them, they are one recording. Of eight pins chance does that once in a million.
 */
const TOO_ALIKE = 0.02;
/** Of the tempo, which a recording keeps to far more digits. */
const SAME_TEMPO = 1e-4;
/** A scatter below this is that of the files' own resolution, ms: it says nothing of strikes. */
const LEAST_SCATTER_MS = 0.005;

/**
 * Takes that hold the recording of an earlier one show the same chance of every strike. They are left out: nothing can be
 * learnt from a recording twice, least of all that a change between the two did nothing.
 */
export function withoutCopies(reports: readonly EarlierReport[]): {
  readonly own: readonly EarlierReport[];
  readonly copies: NonNullable<Advice['copies']>;
} {
  const own: EarlierReport[] = [];
  const copies: { take: string; of: string }[] = [];
  for (const report of reports) {
    const of = own.find((earlier) => isCopy(earlier, report));
    if (of === undefined) own.push(report);
    else copies.push({ take: report.take, of: of.take });
  }
  return { own, copies };
}

function isCopy(a: EarlierReport, b: EarlierReport): boolean {
  if (a.tune !== b.tune) return false;
  if (a.tempo.bpm === null || b.tempo.bpm === null) return false;
  if (Math.abs(a.tempo.bpm / b.tempo.bpm - 1) > SAME_TEMPO) return false;
  const pins = new Map(a.pins.map((pin) => [`${pin.channel} ${pin.step}`, pin]));
  let count = 0;
  let squares = 0;
  for (const pin of b.pins) {
    const other = pins.get(`${pin.channel} ${pin.step}`);
    if (other === undefined || pin.meanMs === null || other.meanMs === null) continue;
    const variance = chanceOf(pin) + chanceOf(other);
    if (!(variance > 2 * LEAST_SCATTER_MS ** 2)) continue;
    count++;
    squares += (pin.meanMs - other.meanMs) ** 2 / variance;
  }
  return count >= LEAST_PINS && squares / count < TOO_ALIKE;
}

/** Variance of a pin's mean by its strikes' own scatter, ms²; NaN where it is not known. */
function chanceOf({ repeatabilityMs, count }: EarlierReport['pins'][number]): number {
  return repeatabilityMs === null || count < 2 ? NaN : repeatabilityMs ** 2 / count;
}

/** Why the last of the reports is taken as the newest; absent where all have a date and nothing needs saying. */
export function newestOf(reports: readonly EarlierReport[]): Advice['newest'] {
  const newest = reports.at(-1);
  if (newest === undefined) return undefined;
  const undated = reports.filter(({ recorded }) => recorded === null);
  if (undated.length === 0 || reports.length === 1) return undefined;
  const others = undated.filter((report) => report !== newest).map(({ take }) => take);
  const why =
    newest.recorded === null
      ? 'no take says when it was recorded, and it is the last by name'
      : `it has the latest date, and takes without one count as older: ${others.slice(0, 3).join(', ')}${others.length > 3 ? ` and ${others.length - 3} more` : ''}`;
  return { take: newest.take, why };
}

/** Channels with pins of which a take measured nothing that can be relied on. */
export function unheardIn(machine: Machine, report: EarlierReport): NonNullable<Advice['unheard']> {
  const { channels, click } = machine.description;
  const pinned = new Set(machine.pins.map(({ channel }) => channel));
  return channels.flatMap(({ id }, c) => {
    if (!pinned.has(c) || id === click) return [];
    const own = report.groups.filter((group) => group.channel === id && group.sector !== null);
    if (own.some(canBeReliedOn)) return [];
    return [
      { channel: id, why: own.find(({ doubt }) => doubt !== undefined)?.doubt ?? 'could not be heard' },
    ];
  });
}

/**
 * Groups with pins of which a take measured nothing that can be relied on, in channels of which it measured others. The
 * pattern says which there are: a report of another pattern may lack some.
 */
export function unmeasuredIn(machine: Machine, report: EarlierReport): NonNullable<Advice['unmeasured']> {
  const { channels, barrel, click } = machine.description;
  const unheard = new Set(unheardIn(machine, report).map(({ channel }) => channel));
  return channels.flatMap(({ id }, c) => {
    if (id === click || unheard.has(id)) return [];
    const pinned = new Set(
      machine.pins
        .filter(({ channel }) => channel === c)
        .map(({ step }) => sectorOf(machine.description, step)),
    );
    return barrel.sectors.flatMap((sector, s) => {
      const group = report.groups.find((one) => one.channel === id && one.sector === sector.id);
      if (!pinned.has(s) || (group !== undefined && canBeReliedOn(group))) return [];
      return [{ channel: id, sector: sector.id, why: whyNot(group) }];
    });
  });
}

type ReportedGroup = EarlierReport['groups'][number];

function canBeReliedOn({ meanMs, ci95Ms, doubt }: ReportedGroup): boolean {
  return meanMs !== null && ci95Ms !== null && doubt === undefined;
}

function whyNot(group: ReportedGroup | undefined): string {
  if (group?.doubt !== undefined) return group.doubt;
  if (group === undefined || group.count === 0) return 'none of its strikes was heard';
  return group.meanMs === null ? 'too few of its strikes were heard' : 'how sure its mean is cannot be told';
}
