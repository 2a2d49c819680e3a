// Which strike of a take is which hit of its report, so that each moves as its advice says.
import { expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { ownSounds } from '../../analysis/report/hear-sounds.ts';
import { machineOf, strikesEvery, struck, takeOfSounds } from '../hits/synthetic.ts';
import { exampleReport } from './example.ts';

const strikes = strikesEvery(0.4, 16, 0, 1);
const { take } = takeOfSounds([struck(800, 0.2)], strikes);
const machine = machineOf(1);

async function reportWith(apartS: number) {
  const { hits } = await hear(take, machine, {});
  const example = exampleReport();
  const sent = { channel: 'c0', sector: 'A', beforeMs: 4, afterMs: 1 };
  return {
    ...example,
    advice: { ...example.advice, predicted: [{ ...example.advice.predicted[0], ...sent }] },
    hits: [...hits.timeS].map((timeS) => ({
      ...example.hits[0],
      timeS: timeS + apartS,
      track: 0,
      channel: 'c0',
      sector: 'A',
    })),
  };
}

test.each([
  ['as the report has them', 0],
  ['as voices saved after the report have them', 0.0014],
  ['as voices had them that were removed since', -0.0014],
])('%s', async (_, apartS) => {
  const [own] = await ownSounds(take, machine, await reportWith(apartS), {});
  expect(own.map(({ byS }) => byS)).toEqual(strikes.map(() => -0.003));
});
