/** A person's word about hits (corrections.csv), applied after hearing: what was heard anew never overrules it. */
import { finding } from '../results/catalogue.ts';
import type { Hearing, Hits } from './hits.ts';
import type { Machine } from '../machine/machine.ts';
import { insteadOf } from '../input/nearest.ts';
import type { Finding } from '../results/results.ts';

export const correctionActions = ['add', 'drop', 'move', 'rename'] as const;

/** One row of a take's corrections.csv. */
export interface Correction {
  /** The hit meant, s; for `add` and `move`, where the strike is. */
  readonly timeS: number;
  /** The hit's channel; for `rename`, its right one. Empty where unknown. */
  readonly channel: string;
  readonly action: (typeof correctionActions)[number];
  readonly note: string;
}

/** A row of corrections.csv that was meant for a correction and cannot be read as one. */
export interface UnreadCorrection {
  /** 1-based line of the file. */
  readonly line: number;
  /** The cell that cannot be read, and what it holds. */
  readonly fault: 'time' | 'action';
  readonly word: string;
}

/** One finding for each. */
export function unreadFindings(rows: readonly UnreadCorrection[]): Finding[] {
  return rows.map(({ line, fault, word }) => {
    const why =
      fault === 'action'
        ? `"${word}" is no action; ${insteadOf(word, correctionActions)}`
        : `"${word}" is no time; write seconds from the start of the recording`;
    const details = { file: correctionsFile, place: `line ${line}` };
    return finding('unused-correction', `the correction in line ${line} is not used: ${why}`, details);
  });
}

/** Why a hit that a person left out is set aside. */
export const leftOut = 'left out by a person';
export const correctionsFile = 'corrections.csv';

/** Hearing anew may find a hit some ms from where it was when it was corrected. */
const reachS = 0.02;
/** The farthest that the page lets a hit be moved. */
const moveReachS = 0.5;
/** A person finds an attack in a waveform to about this; common practice, no source. */
const byHandSdS = 1e-3;

interface Row {
  readonly timeS: number;
  readonly timeSdS: number;
  readonly track: number;
  readonly channel: number;
  readonly levelDb: number;
  readonly why: string | null;
}

/**
 * @param corrections in the file's order; each means the nearest hit that it can mean
 * @returns hits as the person has them, ascending in time, and one finding for what was done, one for each row that
 *   means no hit or no channel
 */
export function applyCorrections(
  hearing: Hearing,
  machine: Machine,
  corrections: readonly Correction[],
): { readonly hearing: Hearing; readonly findings: readonly Finding[] } {
  if (corrections.length === 0) return { hearing, findings: [] };
  const rows = rowsOf(hearing.hits);
  const unused: Finding[] = [];
  let done = 0;
  for (const correction of corrections) {
    const { timeS, channel: id, action } = correction;
    const channel = machine.description.channels.findIndex((each) => each.id === id);
    const own = (row: Row) => id === '' || row.channel === channel;
    const nearest = (fits: (row: Row) => boolean, withinS: number) => {
      const near = rows.filter((row) => fits(row) && Math.abs(row.timeS - timeS) <= withinS);
      return near.sort((a, b) => Math.abs(a.timeS - timeS) - Math.abs(b.timeS - timeS))[0] as Row | undefined;
    };
    const meant =
      action === 'drop'
        ? nearest(own, reachS)
        : action === 'rename'
          ? nearest(() => true, reachS)
          : action === 'move'
            ? nearest(own, moveReachS)
            : undefined;
    if (
      (meant === undefined && action !== 'add') ||
      (channel < 0 && (action === 'add' || action === 'rename'))
    ) {
      const why = channel < 0 && id !== '' ? `there is no channel "${id}"` : 'no such hit was heard near it';
      const message = `the correction "${action}" at ${timeS.toFixed(3)} s is not used: ${why}`;
      unused.push(finding('unused-correction', message, { file: correctionsFile }));
      continue;
    }
    done++;
    if (meant !== undefined) rows.splice(rows.indexOf(meant), 1);
    const heard = meant ?? { track: -1, levelDb: NaN, channel, timeS, timeSdS: byHandSdS, why: null };
    rows.push(
      action === 'drop'
        ? { ...heard, why: leftOut }
        : action === 'rename'
          ? { ...heard, channel, why: null }
          : { ...heard, timeS, timeSdS: byHandSdS, why: null },
    );
  }
  const said = done === 1 ? '1 hit was' : `${done} hits were`;
  const findings = [
    ...(done > 0 ? [finding('corrected', `${said} corrected by a person`, { file: correctionsFile })] : []),
    ...unused,
  ];
  return { hearing: { ...hearing, hits: hitsFrom(rows) }, findings };
}

function rowsOf(hits: Hits): Row[] {
  return Array.from({ length: hits.count }, (_, i) => ({
    timeS: hits.timeS[i],
    timeSdS: hits.timeSdS[i],
    track: hits.track[i],
    channel: hits.channel[i],
    levelDb: hits.levelDb[i],
    why: hits.why[i],
  }));
}

function hitsFrom(rows: readonly Row[]): Hits {
  const sorted = [...rows].sort((a, b) => a.timeS - b.timeS);
  return {
    count: sorted.length,
    timeS: Float64Array.from(sorted, ({ timeS }) => timeS),
    timeSdS: Float64Array.from(sorted, ({ timeSdS }) => timeSdS),
    track: Int32Array.from(sorted, ({ track }) => track),
    channel: Int32Array.from(sorted, ({ channel }) => channel),
    levelDb: Float32Array.from(sorted, ({ levelDb }) => levelDb),
    why: sorted.map(({ why }) => why),
  };
}
