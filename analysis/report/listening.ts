/** What is said while a take is still being recorded: tempo and set-point, the worst channels, what is not heard, whether it is enough. */
import type { FindingKind } from '../results/catalogue.ts';
import type { Report } from '../results/results.ts';
import {
  cut,
  figures,
  judge,
  judgementWords,
  plural,
  readingsOf,
  tempoWithInterval,
  withInterval,
  type Reading,
} from './reading.ts';

export interface ListeningGoal {
  /** Beats a minute; null where nobody said. */
  readonly bpm: number | null;
  /** Of the motor, while this is recorded; null where nobody said. */
  readonly setpoint: number | null;
  readonly maxSetpoint: number | null;
}

export interface StretchReport {
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
  'perhaps-other-tune',
  'pins-missing',
  'no-rotation',
  'stopped',
]);

/** Lines of at most some 200 characters, the first with the time. */
export function listenedWords(heard: StretchReport, wanted: ListeningGoal): Listened {
  const { report, recordedS, stretchS } = heard;
  const { bpm, secondsPerTurn } = report.tempo;
  const lines: string[] = [];
  const say = (words: string) => lines.push(`${lines.length === 0 ? clock(recordedS) : '     '} ${words}`);
  // Within a turn the drive may run fast and slow, and most pins have not passed yet.
  if (bpm === null || secondsPerTurn === null || stretchS < secondsPerTurn) {
    say(`${soundsWords(report)}; ${bpm === null ? 'no tempo yet' : 'not a whole turn yet'}`);
    return { lines, secondsPerTurn, isEnough: false };
  }
  say(tempoWords(report, wanted));
  const readings = readingsOf(report).filter(({ channel }) => !channel.reference);
  const known = readings.filter(({ judgement }) => judgement !== 'unknown');
  const far = ({ group, channel }: Reading) => Math.abs(group.meanMs ?? 0) / channel.toleranceMs;
  const worst = [...known].sort((a, b) => far(b) - far(a)).slice(0, namedWorst);
  if (worst.length > 0)
    say(
      worst
        .map(
          ({ channel, sector, group, judgement }) =>
            `${channel.name} in ${sector} ${withInterval(group.meanMs, group.ci95Ms)} ms ${judgementWords[judgement]}`,
        )
        .join('; '),
    );
  if (stretchS / secondsPerTurn >= turnsToMiss) {
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
  const { words, isEnough } = decidedWords(heard, readings, secondsPerTurn);
  say(words);
  return { lines, secondsPerTurn, isEnough };
}

/** A dead microphone shows before anything can be measured. */
function soundsWords({ tracks, hits, dropped }: Report): string {
  const counts = tracks.map(
    (_, t) =>
      hits.filter(({ track }) => track === t).length +
      (dropped?.moments.filter(({ track }) => track === t).length ?? 0),
  );
  return `sounds heard on ${counts.length === 1 ? 'the track' : 'the tracks'}: ${counts.join(', ')}`;
}

const decidedJudgements: ReadonlySet<string> = new Set(['within', 'late', 'early']);

/**
 * How many groups the last turns decide alone, and about how many the whole recording will: intervals shrink with the root of the
 * turns at best, since the reference's pins and where a sound begins are the same in every turn.
 */
function decidedWords(
  { recordedS, stretchS }: StretchReport,
  readings: readonly Reading[],
  secondsPerTurn: number,
): { readonly words: string; readonly isEnough: boolean } {
  const count = (narrower: number) =>
    readings.filter(
      ({ group, channel }) =>
        group.doubt === undefined &&
        group.ci95Ms !== null &&
        decidedJudgements.has(judge(group.meanMs, group.ci95Ms * narrower, channel.toleranceMs)),
    ).length;
  const turns = (seconds: number) => plural(Math.max(1, Math.floor(seconds / secondsPerTurn)), 'turn');
  const now = count(1);
  const of = plural(readings.length, 'group');
  if (readings.length > 0 && now === readings.length)
    return { words: `enough: the last ${turns(stretchS)} alone decide all of ${of}`, isEnough: true };
  const lasts = `the last ${turns(stretchS)} alone decide ${now} of ${of}`;
  if (recordedS < stretchS + secondsPerTurn) return { words: lasts, isEnough: false };
  const whole = Math.max(now, count(Math.sqrt(stretchS / recordedS)));
  return { words: `${lasts}, the ${turns(recordedS)} up to now at most about ${whole}`, isEnough: false };
}

function tempoWords(report: Report, { bpm: wanted, setpoint, maxSetpoint }: ListeningGoal): string {
  const { bpm, bpmCi95 } = report.tempo;
  const is = `${tempoWithInterval(bpm!, bpmCi95)} beats a minute`;
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
