import { expect, test } from 'vitest';
import { strikesEvery, struck, takeOfSounds } from '../hits/synthetic.ts';
import { trace } from './trace.ts';

const strikes = strikesEvery(0.5, 8, 0, 7);
const { machine, take } = takeOfSounds([struck(900, 0.15)], strikes);

test('of a strike every stage says its time, its template and what became of it', async () => {
  const { timeS } = strikes[3];
  const lines = await trace(take, machine, timeS);
  const below = (stage: string) => lines[lines.findIndex((line) => line.startsWith(stage)) + 1];
  for (const stage of ['detect', 'explain: strikes', 'lay: hits']) {
    const [, s] = /, (\d+\.\d{6}) s/.exec(below(stage))!;
    // Detection is good to about a ms, what comes after to far less.
    expect(Math.abs(Number(s) - timeS), `${stage}: ${below(stage)}`).toBeLessThan(
      stage === 'detect' ? 2e-3 : 2e-4,
    );
  }
  expect(below('explain: strikes')).toContain('(c0)');
  expect(below('select: dropped')).toBe('  nothing');
});

test('where nothing sounds every stage says so', async () => {
  const between = (strikes[3].timeS + strikes[4].timeS) / 2;
  const lines = await trace(take, machine, between);
  const heard = lines.filter((line) => /^(detect|explain|select|lay: hits)/.test(line));
  for (const stage of heard) expect(lines[lines.indexOf(stage) + 1], stage).toBe('  nothing');
  expect(heard).toHaveLength(5);
});
