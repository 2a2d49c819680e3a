/** What is off as a whole is one finding, with the readings that fit: the hits cannot say which is true. */
import { finding } from '../results/catalogue.ts';
import type { WholeOffset } from '../strokes/whole-steps.ts';
import type { Check, Study } from './check.ts';
import { channelName, listed } from '../words/names.ts';

export const channelOff: Check = {
  id: 'channel-off',
  looksFor:
    'Channels most of whose pins lie off alike by half a step and more: late or early, or pinned a step off.',
  run: (study) =>
    study.strokes.whole.flatMap((off) => {
      if (off.channel === null) return [];
      const { machine } = study;
      const { id } = machine.description.channels[off.channel];
      const name = channelName(machine, off.channel);
      const message =
        off.channel === machine.reference
          ? `all other channels lie off ${name}, the reference, alike: it sounds ${readings(study, off, 'pinned or set')}; or all the others are off as much the other way`
          : `${name} lies off as a whole, ${counted(off)}: it is ${readings(study, off, 'pinned')}`;
      return [finding('channel-off', message, { channel: id })];
    }),
};

export const sectorOff: Check = {
  id: 'sector-off',
  looksFor:
    'Sectors most of whose pins lie off alike by half a step and more: bolted a step off, or late or early.',
  run: (study) =>
    study.strokes.whole.flatMap((off) => {
      if (off.sector === null) return [];
      const { id } = study.machine.description.barrel.sectors[off.sector];
      const message = `all that is on the barrel in sector ${id} lies off as a whole, ${counted(off)}: it is ${readings(study, off, 'bolted')}`;
      return [finding('sector-off', message, { sector: id })];
    }),
};

export const channelsSwapped: Check = {
  id: 'channels-swapped',
  looksFor: 'Channels whose sounds sit at each other’s pins.',
  run: ({ machine, strokes: { sitsAt } }) => {
    const swapped = [...sitsAt.keys()].filter((c) => sitsAt[c] !== c);
    if (swapped.length === 0) return [];
    const each = swapped.map(
      (c) => `those of ${channelName(machine, c)} at ${channelName(machine, sitsAt[c])}’s`,
    );
    const message = `sounds sit at each other’s pins, ${listed(each)}: their microphones or labels are swapped, or their columns of the pattern; none of them is measured`;
    return [finding('channels-swapped', message, { channel: machine.description.channels[swapped[0]].id })];
  },
};

export const mirroredPattern: Check = {
  id: 'mirrored-pattern',
  looksFor: 'Patterns that were entered with their steps counted the wrong way round.',
  run: ({ strokes }) =>
    strokes.mirrored
      ? [
          finding(
            'mirrored-pattern',
            'the pattern reads backwards: with its steps counted the other way round it explains the take, as it was entered it does not; nothing is measured',
          ),
        ]
      : [],
};

function counted({ pins, of }: WholeOffset): string {
  return `at ${Math.min(pins, of)} of ${of} pins`;
}

/** "99.8 ms late, or pinned one step on and 25.2 ms early" */
function readings({ machine, strokes }: Study, { offsetMs, otherMs }: WholeOffset, done: string): string {
  const stepMs = (1000 * strokes.rotation.secondsPerTurn) / machine.description.barrel.steps;
  const one = (ms: number) => {
    const steps = Math.round(ms / stepMs);
    if (steps === 0) return lateOrEarly(ms);
    const by = `${done} ${Math.abs(steps) === 1 ? 'one step' : `${Math.abs(steps)} steps`} ${steps > 0 ? 'on' : 'back'}`;
    return `${lateOrEarly(ms)}, or ${by} and ${lateOrEarly(ms - steps * stepMs)}`;
  };
  const others =
    otherMs.length > 0 ? `; the pattern fits as well at ${listed(otherMs.map(lateOrEarly), 3)}` : '';
  return `${one(offsetMs)}${others}`;
}

function lateOrEarly(ms: number): string {
  return `${Math.abs(ms).toFixed(1)} ms ${ms < 0 ? 'early' : 'late'}`;
}
