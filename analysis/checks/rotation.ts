import { finding } from '../results/catalogue.ts';
import type { Check } from './check.ts';
import { channelName, listed } from '../words/names.ts';
import { tellingPin } from './telling-pin.ts';

export const noRotation: Check = {
  id: 'no-rotation',
  looksFor: 'Takes in which the pattern could not be found at all.',
  run: ({ strokes: { hits, rotation, mirrored, otherTune } }) =>
    rotation.found || mirrored || otherTune !== undefined || hits.count === 0
      ? []
      : [finding('no-rotation', `the pattern could not be found in the ${hits.count} hits heard`)],
};

export const ambiguousRotation: Check = {
  id: 'ambiguous-rotation',
  looksFor: 'Patterns that look the same from two starts, so that sectors could be mixed up.',
  run: ({ machine, strokes: { rotation } }) => {
    if (!rotation.found || rotation.settledBy !== 'unsettled' || rotation.rivals.length === 0) return [];
    const { steps } = machine.description.barrel;
    const start = ((Math.round(rotation.startPosition) % steps) + steps) % steps;
    const rivals = listed(rotation.rivals.map(String));
    const pin = tellingPin(machine);
    const more =
      pin === null
        ? ''
        : `; one more pin would tell them apart, such as ${channelName(machine, pin.channel)} at step ${pin.step}`;
    return [
      finding(
        'ambiguous-rotation',
        `the take fits the pattern as well from step ${rivals} as from step ${start}: which sector is which is a guess, so no sector is measured and no joint can be judged${more}`,
        { step: start },
      ),
    ];
  },
};

export const unidentifiableSectors: Check = {
  id: 'unidentifiable-sectors',
  looksFor: 'A reference on the barrel whose sector edges cannot be told from changes of speed.',
  run: ({ machine, strokes: { rotation } }) => {
    const { barrel, channels } = machine.description;
    const { toleranceMs } = channels[machine.reference];
    const unsure = rotation.referenceSectors.filter(({ ci95Ms }) => !(ci95Ms <= toleranceMs));
    if (unsure.length === 0) return [];
    const named = unsure.map(({ sector, ci95Ms }) =>
      Number.isFinite(ci95Ms)
        ? `${barrel.sectors[sector].id} ± ${ci95Ms.toFixed(1)} ms`
        : barrel.sectors[sector].id,
    );
    return [
      finding(
        'unidentifiable-sectors',
        `the reference is on the barrel, and steps between its sectors cannot be told from changes of speed: ${listed(named)}`,
        { channel: channels[machine.reference].id },
      ),
    ];
  },
};
