/** The drive at another tempo, for the terminal and the editor: at most 100 columns, plain characters. */
import { driveTable, type DriveRow, type DriveTable } from '../../analysis/advice/drive.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { withMinus } from '../../analysis/words/minus.ts';
import { safetyLine } from '../../analysis/report/page.ts';
import { figures, signed, withInterval } from '../../analysis/report/reading.ts';
import { fitColumns, wrapped } from '../../analysis/report/terminal-text.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';

export interface DriveAround {
  readonly at: DriveRow;
  /** Tempi below and above. */
  readonly around: readonly DriveRow[];
  readonly delays: DriveTable['delays'];
}

/** Tempi beside the one asked for, as shares of it. */
const around = [0.8, 0.85, 0.9, 0.95, 1, 1.05, 1.1, 1.15, 1.2];

/**
 * @param reports of the machine's takes, oldest first
 * @throws InputProblem where the machine has no drive
 */
export function driveAround(machine: Machine, reports: readonly EarlierReport[], bpm: number): DriveAround {
  const { rows, delays } = driveTable(machine, reports, [bpm, ...around.map((share) => share * bpm)]);
  return { at: rows[0], around: rows.slice(1), delays };
}

/** @returns beats a minute; null where the words are no tempo */
export function tempoIn(words: string): number | null {
  const bpm = Number(words);
  return words.trim() !== '' && bpm > 0 && Number.isFinite(bpm) ? bpm : null;
}

export function renderDrive(machine: Machine, { at, around, delays }: DriveAround): string {
  return [
    wrapped(
      `${machine.description.name} at ${tempo(at.bpm)} beats a minute, ${at.secondsPerTurn.toFixed(3)} s a turn of the barrel`,
    ),
    wrapped(`! ${safetyLine} ${tryout}`, '  '),
    wrapped(setpointSentence(machine, at)),
    ...(at.ring === null ? [] : [wrapped(ringSentence(at))]),
    ...(at.channels.length === 0
      ? [unmeasured]
      : [channelTable(machine, at, delays), wrapped(whence(delays))]),
    tempoTable(around),
  ].join('\n\n');
}

/** A drive that was never run so fast may be beyond what its guards and strikers were made for. */
const tryout =
  'At a tempo that is new to the machine, keep people clear, have the stop within reach, and come up to it in steps.';

const unmeasured =
  'No analysed take tells its tempo, so that lateness is not known yet: shimwright advise analyses the takes.';

function setpointSentence(machine: Machine, { bpm, setpoint }: DriveRow): string {
  const { byRatios, byTakes, slip, maxSetpoint, withinLimit, fastestBpm } = setpoint;
  const { stages, beatsPerOutputTurn } = machine.description.drive!;
  const train = stages.map(({ name, ratio }) => `${name} ${ratio}`).join(' × ');
  const beats = beatsPerOutputTurn === 1 ? '' : `, ${beatsPerOutputTurn} beats a turn of the output`;
  const ratios = `Motor set-point ${rounded(byTakes ?? byRatios)}`;
  const learned =
    byTakes === null
      ? ` by the gear train alone (${tempo(bpm)} × ${train}${beats}); a take whose take.jsonc gives "setpoint" would tell what the motor really needs.`
      : `: the gear train (${train}${beats}) makes it ${rounded(byRatios)}, and the takes needed ${percent(slip)} than that.`;
  const limit =
    maxSetpoint === null
      ? ''
      : withinLimit
        ? ` Its limit is ${rounded(maxSetpoint)}, ${tempo(fastestBpm!)} beats a minute.`
        : ` That is BEYOND ITS LIMIT of ${rounded(maxSetpoint)}: the fastest it may run is ${tempo(fastestBpm!)} beats a minute.`;
  return ratios + learned + limit;
}

function percent(slip: number | null): string {
  const share = 100 * (slip ?? 0);
  return `${Math.abs(share).toFixed(2)} % ${share < 0 ? 'less' : 'more'}`;
}

function ringSentence({ ring, worstMs, worstWithRingMs }: DriveRow): string {
  const { adjuster, unit, installed, proposed } = ring!;
  return proposed === installed
    ? `${adjuster} stays at ${withMinus(installed)} (${unit}): no other setting makes the worst mean, ${figures(worstMs)} ms, less at this tempo.`
    : `${adjuster} ${withMinus(installed)} → ${withMinus(proposed)} (${unit}) brings the worst mean at this tempo from ${figures(worstMs)} to ${figures(worstWithRingMs)} ms.`;
}

const columns = [22, 16, 10, 18, 8] as const;

function channelTable(machine: Machine, { channels, ring }: DriveRow, delays: DriveTable['delays']): string {
  const line = (cells: readonly string[]) =>
    cells
      .map((cell, i) => fitColumns(cell, columns[i], i === 0 || i === 4 ? 'left' : 'right'))
      .join('  ')
      .trimEnd();
  const facts = new Map(machine.description.channels.map(({ id, name }) => [id, name ?? id]));
  const head = line([
    'lateness, ms',
    'as it stands',
    ring === null ? '' : 'with ring',
    'fall and flight',
    'from',
  ]);
  const body = channels.map(({ channel, latenessMs, ci95Ms, withRingMs }, i) => {
    const { delayMs, ci95Ms: delayCi95Ms, from } = delays[i];
    const reference = channel === machine.description.reference;
    return line([
      facts.get(channel) ?? channel,
      withInterval(latenessMs, ci95Ms),
      ring === null ? '' : signed(withRingMs),
      reference ? 'reference' : withInterval(delayMs, delayCi95Ms),
      reference ? '' : from,
    ]);
  });
  return [head, ...body].join('\n');
}

function whence(delays: DriveTable['delays']): string {
  const meaning =
    'Fall and flight take the same time at every tempo, against the reference’s; all else is angle and grows with the turn’s time.';
  return delays.some(({ from }) => from === 'physics')
    ? `${meaning} "physics" is a guess from drop heights, or none: takes at another tempo, a quarter faster or slower, would tell.`
    : meaning;
}

function tempoTable(rows: readonly DriveRow[]): string {
  const line = (cells: readonly string[]) =>
    cells
      .map((cell) => fitColumns(cell, 12, 'right'))
      .join('')
      .trimEnd();
  const ring = rows[0].ring;
  const known = rows[0].worstMs !== null;
  const head = line([
    'tempo',
    'set-point',
    ...(known ? ['worst, ms'] : []),
    ...(ring === null ? [] : [ring.adjuster, 'then, ms']),
  ]);
  const body = rows.map(({ bpm, setpoint, worstMs, ring, worstWithRingMs }) =>
    [
      line([
        tempo(bpm),
        rounded(setpoint.byTakes ?? setpoint.byRatios),
        ...(known ? [figures(worstMs)] : []),
        ...(ring === null ? [] : [withMinus(ring.proposed), figures(worstWithRingMs)]),
      ]),
      setpoint.withinLimit ? '' : '  beyond its limit',
    ].join(''),
  );
  return [head, ...body].join('\n');
}

const tempo = (bpm: number) => `${Number(bpm.toFixed(2))}`;
const rounded = (setpoint: number) => `${Number(setpoint.toFixed(1))}`;
