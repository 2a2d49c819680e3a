// Tunes that ask for different settings of a common adjuster: none is spoilt for another, and it is said that they conflict.
import { describe, expect, it } from 'vitest';
import { adviceFindings, advise } from '../../analysis/advice/advise.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { adviceSchema, type Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { allSettings, block, latenessWith, machineOf, reportOf, shim } from './small.ts';

const solve = nodeSolver();

function tunesOf(adjusters: readonly object[]): Machine {
  const plain = machineOf(
    [block, { id: 'drum', toleranceMs: 1 }, { id: 'bell', toleranceMs: 2 }],
    ['A', 'B'],
    adjusters,
  );
  const tune = (name: string) => ({
    name,
    pattern: `${name}.csv`,
    patternFile: `${name}.csv`,
    pins: plain.pins,
  });
  const description = machineSchema.parse({ ...plain.description, refitMs: 0 });
  return { ...plain, description, tune: 'march', tunes: [tune('march'), tune('waltz')] };
}

const lever = shim('lever-drum', { channels: ['drum'] }, { perUnit: { mm: 0.064 }, installed: 5, max: 9 });
const joint = shim('joint-AB', { sectors: ['B'] }, { perUnit: { mm: 0.064 } });

type Lateness = Readonly<Record<string, readonly (number | null)[]>>;

const take = (machine: Machine, tune: string, lateness: Lateness, day: number): Report => ({
  ...reportOf(machine, lateness, 0.06),
  take: `${day}-${tune}`,
  recorded: `2026-01-0${day}`,
  tune,
});

async function advised(machine: Machine, march: Lateness, waltz: Lateness) {
  const reports = [take(machine, 'march', march, 1), take(machine, 'waltz', waltz, 2)];
  const advice = adviceSchema.parse(await advise(machine, reports, solve));
  const { adjusters, channels } = machine.description;
  const installed = adjusters.map((adjuster) => adjuster.installed);
  const chosen = adjusters.map(
    ({ id }, a) => advice.settings.find(({ adjuster }) => adjuster === id)?.proposed ?? installed[a],
  );
  const all = (settings: readonly number[]) =>
    reports.flatMap((each) => latenessWith(machine, each, settings));
  const share = (settings: readonly number[]) =>
    all(settings).map((ms, g) => Math.abs(ms) / channels[Math.floor(g / 2) % channels.length].toleranceMs);
  const well = (settings: readonly number[]) => share(settings).map((each) => each <= 1);
  // What an enumeration of every setting finds that takes no group out of its tolerance.
  const keeps = [...allSettings(machine)].filter((settings) => {
    const then = well(settings);
    return well(installed).every((isWell, g) => !isWell || then[g]);
  });
  const least = Math.min(...keeps.map((settings) => Math.max(...share(settings))));
  return {
    advice,
    chosen,
    worst: Math.max(...share(chosen)),
    least,
    before: well(installed),
    after: well(chosen),
    machine,
  };
}

describe('a drum that is right in one tune and 3 ms late in another', () => {
  const found = advised(tunesOf([joint, lever]), { drum: [0, 0] }, { drum: [3, 3] });

  it('is brought as near as the first tune allows, the least there is by every setting', async () => {
    const { worst, least, before, after, chosen } = await found;
    expect(chosen[1]).toBe(4);
    expect(worst).toBeLessThanOrEqual(least + 1e-6);
    expect(before.every((isWell, g) => !isWell || after[g])).toBe(true);
  });

  it('is a conflict of the two tunes: which group, what each alone could have, and no limit is blamed', async () => {
    const { advice, machine } = await found;
    expect(advice.setAside).toEqual([]);
    expect(advice.summary).toContain(
      'waltz and march conflict over drum: no setting brings it within tolerance in both',
    );
    expect(advice.summary).not.toMatch(/reach/);
    expect(advice.worstAfterMs).toBeCloseTo(2.36, 1);
    const [first] = advice.tunes!.conflicts!;
    expect(first).toMatchObject({
      channel: 'drum',
      sector: 'A',
      tune: 'waltz',
      against: { channel: 'drum', tune: 'march' },
    });
    expect(Math.abs(first.aloneMs)).toBeLessThan(1);
    expect(Math.abs(first.against.meanMs)).toBeGreaterThan(1);
    const findings = adviceFindings(machine, advice);
    expect(findings.map(({ kind }) => kind)).toEqual(['out-of-reach', 'out-of-reach']);
    expect(findings[0].message).toMatch(
      /^drum in sector A of waltz stays 2\.4 ms late: waltz alone could have it at 0\.\d ms \(lever-drum at \d\), which leaves drum in sector [AB] of march \d\.\d ms early/,
    );
  });
});

it('the worst is not made worse for the sake of what nothing moves', async () => {
  const { worst, least, advice } = await advised(
    tunesOf([joint, lever]),
    { drum: [0, 0], bell: [3.5, 3.5] },
    { drum: [3, 3] },
  );
  expect(worst).toBeLessThanOrEqual(least + 1e-6);
  expect(advice.obstacles!.map(({ tune, message }) => [tune, message.split(':')[1]])).toContainEqual([
    'march',
    ' no adjuster moves it',
  ]);
});

it('a sentence about the worst group names its tune', async () => {
  const { advice, worst } = await advised(tunesOf([lever]), { drum: [2, 2] }, { drum: [4.4, 4.4] });
  expect(worst).toBeLessThan(1.4);
  expect(advice.summary).toMatch(/worst drum in sector [AB] of (march|waltz) at/);
});

describe('a tune that is only foretold, since an adjuster was changed after its take', () => {
  const bell = shim('lever-bell', { channels: ['bell'] }, { perUnit: { mm: 0.064 }, installed: 5, max: 9 });
  const machine = tunesOf([joint, lever, bell]);
  // Two units less should have brought the march's drum from 2.2 to 0.9 ms; the take of the waltz is as it should be.
  const march = (bellMs: number) => ({
    ...take(machine, 'march', { drum: [2.2, 2.2], bell: [bellMs, bellMs] }, 1),
    settings: { 'joint-AB': 3, 'lever-drum': 7, 'lever-bell': 5 },
  });
  const waltz = take(machine, 'waltz', { drum: [0.1, 0.1] }, 2);

  it('is recorded before a well-tuned tune is changed for it', async () => {
    const advice = await advise(machine, [march(0), waltz], solve);
    expect([advice.settings, advice.step]).toEqual([[], 'not-resolvable']);
    expect(advice.tunes!.rows[1].unsure).toEqual(['drum']);
    expect(advice.summary).toContain('before anything is changed for march, record a take of it');
  });

  it('is a reason to change what is sure to be out', async () => {
    const advice = await advise(machine, [march(3.5), waltz], solve);
    expect(advice.settings.map(({ adjuster }) => adjuster)).toEqual(['lever-bell']);
    expect(advice.summary).toContain(
      'what is proposed moves nothing of that, and holds whatever a take of it shows',
    );
  });
});

it('a channel that suffers from a conflict over another is named in none', async () => {
  // Both tunes want the bell alike; the joint it would take moves the drum, of which they want opposite things.
  const bell = shim('lever-bell', { channels: ['bell'] }, { perUnit: { mm: 0.064 } });
  const { advice } = await advised(
    tunesOf([joint, lever, bell]),
    { drum: [3, 3], bell: [3.1, 4.1] },
    { drum: [-2.5, -2.5], bell: [3.1, 4.1] },
  );
  const stays = advice.obstacles!.map(({ channel }) => channel);
  expect(stays).toContain('bell');
  const { conflicts = [] } = advice.tunes!;
  expect([...new Set(conflicts.flatMap(({ channel, against }) => [channel, against.channel]))]).toEqual([
    'drum',
  ]);
  expect(advice.summary).toContain('conflict over drum:');
});

it('two channels that only a joint moves conflict where the tunes want opposite things of it', async () => {
  const { advice } = await advised(
    tunesOf([joint]),
    { drum: [0, 2.8], bell: [null, null] },
    { drum: [null, null], bell: [0, -3.5] },
  );
  expect(advice.summary).toContain(
    'waltz and march conflict over bell and drum: no setting brings bell of waltz and drum of march within tolerance together',
  );
});
