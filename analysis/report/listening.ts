/** What is said while a take is still being recorded: tempo and set-point, the worst channels, what is not heard, whether it is enough. */
import type { FindingKind } from '../catalogue.ts';
import type { Report } from '../results.ts';
import {
  cut,
  figures,
  judgementWords,
  plural,
  readingsOf,
  tempoDecimals,
  withInterval,
  type Reading,
} from './reading.ts';

export interface Wanted {
  /** Beats a minute; null where nobody said. */
  readonly bpm: number | null;
  /** Of the motor, while this is recorded; null where nobody said. */
  readonly setpoint: number | null;
  readonly maxSetpoint: number | null;
}

export interface Heard {
  /** Of the stretch that was listened to. */
  readonly report: Report;
  /** Recorded so far, s. */
  readonly recordedS: number;
  /** Length of the stretch, s. */
  readonly stretchS: number;
}

export interface Listened {
  readonly lines: readonly string[];
  /** null while it is not known */
  readonly secondsPerTurn: number | null;
  /** Every group lies surely within or surely out of tolerance: a longer take decides nothing more. */
  readonly isEnough: boolean;
}

/** Before so much of the barrel has passed a channel may only not have been due. */
const turnsToMiss = 1.5;
const namedWorst = 3;
const namedMissing = 6;
const longestFinding = 180;

/** What a person can mend while the recorder still runs. */
const worthStopping: ReadonlySet<string> = new Set<FindingKind>([
  'silent-track',
  'feed-ran-out',
  'clipped',
  'bad-samples',
  'recorder-gain',
  'channels-swapped',
  'mirrored-pattern',
  'other-tune',
  'no-rotation',
  'stopped',
]);

/** Lines of at most some 200 characters, the first with the time. */
export function listenedWords({ report, recordedS, stretchS }: Heard, wanted: Wanted): Listened {
  const { bpm, secondsPerTurn } = report.tempo;
  const readings = readingsOf(report);
  const turns = secondsPerTurn === null ? 0 : stretchS / secondsPerTurn;
  const known = readings.filter(({ judgement }) => judgement !== 'unknown');
  const decided = known.filter(({ judgement }) => ['within', 'late', 'early'].includes(judgement));
  const isEnough = turns >= turnsToMiss && known.length > 0 && decided.length === readings.length;
  const lines = [`${clock(recordedS)}  ${bpm === null ? 'no tempo yet' : tempoWords(report, wanted)}`];
  const say = (words: string) => lines.push(`      ${words}`);
  if (known.length > 0) {
    const far = ({ group, channel }: Reading) => Math.abs(group.meanMs ?? 0) / channel.toleranceMs;
    const worst = [...known].sort((a, b) => far(b) - far(a)).slice(0, namedWorst);
    say(
      worst
        .map(
          ({ channel, sector, group, judgement }) =>
            `${channel.name} in ${sector} ${withInterval(group.meanMs, group.ci95Ms)} ms ${judgementWords[judgement]}`,
        )
        .join('; '),
    );
  }
  if (turns >= turnsToMiss) {
    const silent = [...new Set(readings.map(({ channel }) => channel))].filter((channel) =>
      readings.every((reading) => reading.channel !== channel || reading.group.count === 0),
    );
    if (silent.length > 0) {
      const names = silent.slice(0, namedMissing).map(({ name }) => name);
      say(`not heard: ${names.join(', ')}${silent.length > namedMissing ? ' …' : ''}`);
    }
  }
  for (const { kind, message } of report.findings)
    if (worthStopping.has(kind)) say(cut(message, longestFinding));
  say(isEnough ? enough(turns) : notYet(known, decided.length, readings.length, turns));
  return { lines, secondsPerTurn, isEnough };
}

function enough(turns: number): string {
  return `enough: every group is decided after ${plural(Math.floor(turns), 'turn')}`;
}

/**
 * Intervals shrink with the root of the turns at best, so that what is said is the least: the reference's pins and where a sound
 * begins are the same in every turn.
 */
function notYet(known: readonly Reading[], decided: number, of: number, turns: number): string {
  if (known.length === 0) return 'nothing measured yet';
  const more = known.flatMap(({ group, channel, judgement }) => {
    if (['within', 'late', 'early'].includes(judgement) || group.meanMs === null || group.ci95Ms === null)
      return [];
    const gap = Math.abs(Math.abs(group.meanMs) - channel.toleranceMs);
    return turns * ((group.ci95Ms / gap) ** 2 - 1);
  });
  const most = Math.max(0, ...more);
  const least =
    more.length === 0
      ? ''
      : most > mostTurnsNamed
        ? '; some lie so near their tolerance that more turns will not decide them'
        : `; at least ${plural(Math.max(1, Math.ceil(most)), 'more turn')} for the rest`;
  return `${decided} of ${plural(of, 'group')} decided after ${plural(Math.floor(turns), 'turn')}${least}`;
}

/** More is no take that anybody records to decide one group. */
const mostTurnsNamed = 60;

function tempoWords(report: Report, { bpm: wanted, setpoint, maxSetpoint }: Wanted): string {
  const { bpm, bpmCi95 } = report.tempo;
  const decimals = tempoDecimals(bpmCi95);
  const is = `${bpm!.toFixed(decimals)} ± ${bpmCi95?.toFixed(decimals) ?? '?'} beats a minute`;
  if (wanted === null) return is;
  // At the same gears and load the tempo goes with the set-point; the takes on record tell more (drive.ts).
  const factor = wanted / bpm!;
  const share = 100 * (factor - 1);
  if (Math.abs(wanted - bpm!) <= (bpmCi95 ?? 0)) return `${is}, as wanted (${wanted})`;
  const way = `${wanted} wanted: ${figures(Math.abs(share))} % ${share < 0 ? 'less' : 'more'} set-point`;
  if (setpoint === null) return `${is}, ${way}`;
  const next = setpoint * factor;
  const limit =
    maxSetpoint !== null && next > maxSetpoint ? `, BEYOND ITS LIMIT of ${figures(maxSetpoint)}` : '';
  return `${is}, ${way} (try ${Number(next.toFixed(1))}${limit})`;
}

/** "1:05", "1:02:05" */
function clock(seconds: number): string {
  const whole = Math.floor(seconds);
  const two = (value: number) => String(value).padStart(2, '0');
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`;
}
