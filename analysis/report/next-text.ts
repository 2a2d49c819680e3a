/** What to calibrate next, in words: for the terminal and the editor alike. */
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import type { Advice, EarlierReport } from '../results/results.ts';
import { gainsOf, type Gain } from './gain.ts';
import {
  matrixOf,
  pairName,
  patternCsv,
  renderMatrix,
  testPattern,
  testTurns,
  unmeasuredGroups,
} from './next.ts';
import { marked, testPatternFile } from './own-file.ts';
import { togetherPairs } from './together.ts';

/** More names in one sentence are not read. */
const named = 5;

/** Less of a tolerance is not worth taking a machine apart. */
const leastGain = 0.1;

/** Where the drive's speed is not known, s: slow, so that strikes lie far enough apart at any usual one. */
const usualSecondsPerTurn = 16;

/**
 * Reports up to the newest in which something was measured: a take without measurements says nothing of what is next.
 *
 * @param reports oldest first; at least one
 */
export function upToMeasured(reports: readonly EarlierReport[]): readonly EarlierReport[] {
  const measured = reports.findLastIndex(({ groups }) => groups.some(({ meanMs }) => meanMs !== null));
  return reports.slice(0, Math.max(0, measured) + 1);
}

function nameOf({ channels }: Gain): string {
  return channels.length === 1 ? channels[0] : pairName(channels);
}

export interface NextWords {
  /** Every channel by sector, worst first, in columns for a fixed-width font. */
  readonly matrix: string;
  /** Sentences, one a line. */
  readonly lines: readonly string[];
}

/**
 * @param newest the last of upToMeasured
 * @param advice from those reports
 */
export function nextWords(machine: Machine, newest: EarlierReport, advice: Advice): NextWords {
  const gains = gainsOf(machine, advice);
  const sinceTake = machine.description.adjusters.flatMap(({ id, installed }) =>
    id in newest.settings && newest.settings[id] !== installed ? [id] : [],
  );
  // Without a change there is no gain, whatever several takes together make of a lateness.
  const helps = ({ before, after, adjusters }: Gain) =>
    before - after > leastGain && (adjusters.length > 0 || sinceTake.length > 0);
  const said = (gain: Gain) => {
    const { before, after, adjusters } = gain;
    const by =
      adjusters.length > 0
        ? adjusters.join(', ')
        : `what was changed since the take (${sinceTake.join(', ')})`;
    return `  ${nameOf(gain)}: from ${before.toFixed(1)} to ${after.toFixed(1)} × tolerance, by ${by}`;
  };
  const worth = gains.filter(helps);
  const left = gains.filter((gain) => !helps(gain) && gain.before > 1);
  const lines =
    gains.length === 0
      ? ['Nothing measured is out of tolerance.']
      : worth.length === 0
        ? ['No allowed setting would bring more within tolerance.']
        : ['Calibrate next, the largest gain first:', ...worth.slice(0, named).map(said)];
  if (advice.newest !== undefined)
    lines.push(`Take ${advice.newest.take} is taken as the newest: ${advice.newest.why}.`);
  if (left.length > 0)
    lines.push(
      `Out of tolerance, and no allowed setting helps: ${left.slice(0, named).map(nameOf).join(', ')}.`,
    );
  return { matrix: renderMatrix(matrixOf(newest, togetherPairs(machine))), lines };
}

export interface TestPatternFile {
  /** The file's text, of pattern.csv's own form. */
  readonly text: string;
  /** Groups that are not measured. */
  readonly wanted: number;
  /** Of them, for which no free place was left: "gong in A". */
  readonly without: readonly string[];
}

/** The fewest pins that would measure what the newest take has no mean of; null where there is nothing of the kind. */
export function testPatternFor(machine: Machine, newest: EarlierReport): TestPatternFile | null {
  const ofThis = ofTune(machine, newest.tune);
  const wanted = unmeasuredGroups(ofThis, newest);
  if (wanted.size === 0) return null;
  const { pins, without } = testPattern(ofThis, wanted, newest.tempo.secondsPerTurn ?? usualSecondsPerTurn);
  return { text: marked(testPatternFile, patternCsv(machine, pins)), wanted: wanted.size, without };
}

/** @param place of the file, as the person knows it */
export function testPatternWords({ wanted, without }: TestPatternFile, place: string): string[] {
  const lines = [
    `${wanted} groups are not measured. ${place} has a pin for ${wanted - without.length} of them: record ${testTurns} turns of it.`,
  ];
  if (without.length > 0) lines.push(`No free place for ${without.slice(0, named).join(', ')}.`);
  return lines;
}
