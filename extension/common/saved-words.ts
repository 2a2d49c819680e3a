/** What is said of the voices of a take, by the terminal and the editor alike. */
import type { LearntVoices } from '../../analysis/hits/hear.ts';
import { InputProblem } from '../../analysis/input/problem.ts';

const reasonsOf = ({ unsaved }: LearntVoices) => unsaved.map(({ channel, why }) => `${channel}: ${why}`);

/** @param place of a channel's file, as the person knows it */
export function savedWords(learnt: LearntVoices, place: (channel: string) => string): string[] {
  return [
    ...learnt.saved.map(
      ({ channel, strikes, sampleRate }) =>
        `${place(channel)}: from ${strikes} strikes at ${sampleRate} samples a second`,
    ),
    ...reasonsOf(learnt).map((reason) => `not saved: ${reason}`),
  ];
}

/** @param take as the person knows it */
export function noVoiceHeard(take: string, learnt: LearntVoices): InputProblem {
  return new InputProblem(
    take,
    '',
    ['no channel was heard well enough to be learnt', ...reasonsOf(learnt)].join('; '),
    'record eight strikes of one or more',
  );
}
