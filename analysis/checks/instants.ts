/** Which instant of a strike counts in this report, and what was taken off for the sound's way to the microphone. */
import { finding } from '../results/catalogue.ts';
import { withoutDistance, withoutPerceived } from '../strokes/instant-errors.ts';
import { speedOfSound, usualCelsius } from '../hits/instants.ts';
import type { Check, Study } from './check.ts';

export const instants: Check = {
  id: 'instants',
  looksFor: 'Which instant of a strike counts, and what was taken off for the sound’s way to the microphone.',
  run: ({ machine, hearing }) => {
    const { channels } = machine.description;
    const of = (list: readonly number[]) => ids(list.map((c) => channels[c]));
    const [distance, perceived] = [withoutDistance(machine), withoutPerceived(hearing)];
    return [
      ...(distance.length === 0
        ? []
        : [
            `the sound’s way to the microphone is taken off for some channels, and not known for ${of(distance)}: their lateness against the others is as unsure as that way`,
          ]),
      ...(perceived.length === 0
        ? []
        : [
            `the perceived onset counts, and nothing tells that of ${of(perceived)}: their lateness is against another instant than the others’`,
          ]),
    ].map((message) => finding('unknown-instant', message));
  },
  section: (study) => ({
    id: 'instants',
    title: 'Which instant counts',
    sentences: [...ofOnset(study), ...ofTravel(study)],
    ...tableOf(study),
  }),
};

function ofOnset({ machine, hearing }: Study): string[] {
  const { onset, channels } = machine.description;
  if (onset === 'physical')
    return ['A strike counts from its physical onset, the first instant at which it is above the silence.'];
  const unknown = channels.filter((_, c) => Number.isNaN(hearing.instants?.[c].perceivedS ?? NaN));
  return [
    'A strike counts from its perceived onset, where its attack comes within 10 dB of its peak (after Vos & Rasch 1981).',
    ...(unknown.length === 0
      ? []
      : [`${ids(unknown)}: no sound to tell it from, so the physical onset or the marker counts.`]),
  ];
}

function ofTravel({ machine, take }: Study): string[] {
  const { channels } = machine.description;
  const without = channels.filter(({ microphoneMm }) => microphoneMm === undefined);
  if (without.length === channels.length)
    return ['Nothing is taken off for the sound’s way to the microphone: no "microphoneMm" is given.'];
  const { airCelsius } = take.description;
  const speed = speedOfSound(airCelsius ?? usualCelsius).toFixed(1);
  const air = airCelsius === undefined ? `${usualCelsius} °C, which nobody gave` : `${airCelsius} °C`;
  return [
    `The sound’s way to the microphone is taken off at ${speed} m/s (ISO 9613-1 at ${air}).`,
    ...(without.length === 0 ? [] : [`${ids(without)}: no "microphoneMm", so nothing is taken off.`]),
  ];
}

const ids = (channels: readonly { readonly id: string }[]) => channels.map(({ id }) => id).join(', ');

function tableOf({ machine, hearing }: Study) {
  const rows = machine.description.channels.flatMap(({ id }, c) => {
    const { travelS, perceivedS } = hearing.instants?.[c] ?? { travelS: 0, perceivedS: 0 };
    return travelS === 0 && perceivedS === 0 ? [] : [[id, ms(-travelS), ms(perceivedS)]];
  });
  return rows.length === 0
    ? {}
    : { table: { columns: ['channel', 'sound’s way, ms', 'to the perceived onset, ms'], rows } };
}

const ms = (s: number) => (Number.isNaN(s) ? '–' : (1000 * s).toFixed(2));
