/** A drafted pattern as a file that a person checks, and what is said of it. */
import type { Machine } from '../machine/machine.ts';
import { looseValue } from '../input/jsonc.ts';
import { InputProblem } from '../input/problem.ts';
import type { Report } from '../results/results.ts';
import { draftPattern, type DraftPin } from './draft-pattern.ts';
import { draftFile, marked } from './own-file.ts';
import { plural } from './reading.ts';

export interface DraftText {
  /** Of draftFile, in pattern.csv's own form. */
  readonly text: string;
  /** Sentences for the person. */
  readonly lines: readonly string[];
}

/**
 * @param bpm    beats a minute, within a twentieth; null where nobody said
 * @param shown  of the take, for messages
 * @throws InputProblem where no pattern can be told
 */
export function draftText(machine: Machine, report: Report, bpm: number | null, shown: string): DraftText {
  const { barrel, reference } = machine.description;
  // The report's own tempo is by the pattern that is yet to be found.
  const tempo = bpm ?? machine.description.tempi?.at(0);
  if (tempo === undefined)
    throw new InputProblem(
      shown,
      '',
      'nothing tells its tempo',
      'give "tempo" in take.jsonc, in beats a minute, within a twentieth',
    );
  const strikes = report.hits
    .flatMap(({ timeS, channel }) => (channel === null ? [] : [{ timeS, channel }]))
    .sort((a, b) => a.timeS - b.timeS);
  const grid = { steps: barrel.steps, stepsPerBeat: barrel.stepsPerBeat, bpm: tempo };
  const draft = draftPattern(strikes, grid, reference);
  if ('why' in draft) throw new InputProblem(shown, '', draft.why, draft.mend);
  const doubtful = draft.pins.filter(({ isSure }) => !isSure);
  const lines = [
    `${plural(draft.pins.length, 'pin')} in ${draft.turns.toFixed(1)} turns: ${draft.pins.length - doubtful.length} heard in every turn or all but one, ${doubtful.length} doubtful.`,
    `Step 0 is where a strike of ${reference} was heard first: turn the pattern until it is the barrel’s own step 0, and check each pin.`,
    ...draft.between.map(
      ({ channel, byStep }) =>
        `All of ${channel} lies ${Math.abs(byStep).toFixed(2)} of a step ${byStep > 0 ? 'after' : 'before'} the steps given: it is that ${byStep > 0 ? 'late' : 'early'}, or belongs one step ${byStep > 0 ? 'on' : 'back'}.`,
    ),
    ...(draft.shorter === null
      ? []
      : [`All of it comes back after ${draft.shorter} steps already: check "steps" in machine.jsonc.`]),
    ...(draft.leftOut === 0
      ? []
      : [
          `${plural(draft.leftOut, 'strike')} fitted no step, or came back in too few turns, and ${draft.leftOut === 1 ? 'is' : 'are'} left out.`,
        ]),
  ];
  const text = [
    `# Drafted from take ${report.take}: check each pin against the barrel before anything is measured by it.`,
    ...lines.map((line) => `# ${line}`),
    'step,channel',
    ...draft.pins.flatMap(row),
    '',
  ].join('\n');
  return { text: marked(draftFile, text), lines };
}

function row({ step, channel, heard, turns, isSure, apart }: DraftPin): string[] {
  const lies =
    apart === 0
      ? ''
      : `, ${Math.abs(apart).toFixed(2)} of a step ${apart > 0 ? 'after' : 'before'} the step as its channel’s others lie`;
  const doubt = `# doubtful, heard in ${heard} of ${plural(turns, 'turn')}${lies}:`;
  return [...(isSure ? [] : [doubt]), `${Number(step.toFixed(2))},${channel}`];
}

/** Of take.jsonc, whatever else it says; null where it names none. */
export function tempoSaid(takeText: string | null): number | null {
  const value = takeText === null ? null : looseValue(takeText);
  if (typeof value !== 'object' || value === null || !('tempo' in value)) return null;
  return typeof value.tempo === 'number' && value.tempo > 0 ? value.tempo : null;
}
