/** What is off as a whole is one finding with the readings that fit, and no number is sure that the hits cannot settle. */
import { describe, expect, test } from 'vitest';
import { runChecks } from '../../analysis/checks/index.ts';
import { tellingPin } from '../../analysis/checks/telling-pin.ts';
import { wrongBoundaries } from '../../analysis/strokes/boundary.ts';
import { verdictOf } from '../../analysis/report/reading.ts';
import type { Finding, ReportHead } from '../../analysis/results/results.ts';
import { randomTake } from '../machine/random-machine.ts';
import { lay } from './laid.ts';
import { channelBy, sceneMachine, sectorBy, see, type Scene, type Seen } from './scenes.ts';

/** Sparse to dense: the share of steps at which a channel has a pin. */
const densities = [0.05, 0.15, 0.35];
const seeds = [11, 12];

function each(scene: Omit<Scene, 'seed'>, look: (seen: Seen, findings: Finding[], of: string) => void) {
  for (const density of densities)
    for (const seed of seeds) {
      const seen = see({ ...scene, density, seed });
      look(seen, runChecks(seen.study), `density ${density}, seed ${seed}`);
    }
}

const ofKind = (findings: Finding[], kind: string) => findings.filter((finding) => finding.kind === kind);
const drum = ({ study }: Seen) =>
  study.groups.find(({ channel, sector }) => channel === 'drum' && sector === null)!;
/** Findings that blame single pins and strokes for what is off as a whole. */
const blamed = (findings: Finding[], channel: string) =>
  findings.filter(
    (f) => ['misplaced-pin', 'extra-hit', 'missing-hit'].includes(f.kind) && f.channel === channel,
  );

test('a channel 100 ms late where a step takes 125 ms: it is measured, and both readings are told', () => {
  each({ channelMs: { drum: 100 }, missing: 0 }, (seen, findings, of) => {
    const [{ message, channel }, ...more] = ofKind(findings, 'channel-off');
    expect([channel, more.length], of).toEqual(['drum', 0]);
    expect(message).toMatch(
      /it is (9\d|10\d)\.\d ms late, or pinned one step on and (1|2|3)\d\.\d ms early$/,
    );
    expect(Math.abs(drum(seen).meanMs! - trueMean(seen, 1)), of).toBeLessThan(0.5);
    expect(drum(seen).doubt).toContain('late or early by so much, or a step off');
    expect(blamed(findings, 'drum')).toEqual([]);
  });
});

test('a channel early by 110 ms', () => {
  each({ channelMs: { drum: -110 }, missing: 0 }, (seen, findings, of) => {
    const [{ message }] = ofKind(findings, 'channel-off');
    expect(message, of).toMatch(/it is 1\d\d\.\d ms early, or pinned one step back and \d+\.\d ms late$/);
    expect(Math.abs(drum(seen).meanMs! - trueMean(seen, 1)), of).toBeLessThan(0.5);
  });
});

test('a channel of 50 ms, less than half a step, is late and nothing else', () => {
  each({ channelMs: { drum: 50 }, missing: 0 }, (seen, findings, of) => {
    expect(ofKind(findings, 'channel-off'), of).toEqual([]);
    expect(drum(seen).doubt).toBeUndefined();
    expect(Math.abs(drum(seen).meanMs! - trueMean(seen, 1)), of).toBeLessThan(0.5);
  });
});

test.each([1, -1])('a channel pinned a step off (%i): one finding, no misplaced pins', (by) => {
  each({ fitted: channelBy(1, by), missing: 0 }, (seen, findings, of) => {
    expect(
      ofKind(findings, 'channel-off').map(({ channel }) => channel),
      of,
    ).toEqual(['drum']);
    expect(ofKind(findings, 'channel-off')[0].message).toContain(`pinned one step ${by > 0 ? 'on' : 'back'}`);
    expect(blamed(findings, 'drum'), of).toEqual([]);
    expect(Math.abs(drum(seen).meanMs! - by * 125)).toBeLessThan(15);
    expect(drum(seen).doubt).toBeDefined();
    for (const { channel, doubt } of seen.study.groups) if (channel !== 'drum') expect(doubt).toBeUndefined();
  });
});

test.each([
  [2, 1, 1],
  [3, 1, 1],
  [3, 0, -1],
])('of %i sectors the one at %i bolted %i step off', (sectors, sector, by) => {
  each({ sectors, fitted: sectorBy(sector, by), missing: 0 }, ({ study }, findings, of) => {
    const id = 'ABC'[sector];
    expect(
      ofKind(findings, 'sector-off').map((f) => f.sector),
      of,
    ).toEqual([id]);
    expect([ofKind(findings, 'channel-off'), ofKind(findings, 'misplaced-pin')], of).toEqual([[], []]);
    expect(ofKind(findings, 'sector-off')[0].message).toContain(`bolted one step ${by > 0 ? 'on' : 'back'}`);
    for (const { channel, sector: where, meanMs, doubt } of study.groups) {
      if (channel === 'clave' || where === null) continue;
      expect(doubt === undefined, `${of}: ${channel} in ${where}`).toBe(where !== id);
      if (meanMs !== null && where !== id) expect(Math.abs(meanMs)).toBeLessThan(15);
    }
  });
});

test('the reference a step off is one finding about the reference, and every lateness against it is doubted', () => {
  each({ fitted: channelBy(0, 1) }, ({ study }, findings, of) => {
    expect(
      ofKind(findings, 'channel-off').map(({ channel }) => channel),
      of,
    ).toEqual(['clave']);
    for (const { channel, doubt } of study.groups) expect(doubt === undefined, of).toBe(channel === 'clave');
  });
});

test('two channels whose microphones are swapped: it is said first, and neither is measured', () => {
  const takenFor = (c: number) => (c === 1 ? 2 : c === 2 ? 1 : c);
  each({ takenFor }, ({ study }, findings, of) => {
    expect(findings[0], of).toMatchObject({ kind: 'channels-swapped', severity: 'error' });
    expect(findings[0].message).toContain('those of drum at bell’s, those of bell at drum’s');
    for (const { channel, count, meanMs } of study.groups)
      if (channel === 'drum' || channel === 'bell') expect([count, meanMs], of).toEqual([0, null]);
    for (const channel of ['drum', 'bell'])
      expect(
        findings.filter((f) => f.channel === channel && f.kind !== 'channels-swapped'),
        of,
      ).toEqual([]);
    const plate = study.groups.find(({ channel }) => channel === 'plate')!;
    expect(plate.doubt).toBeUndefined();
    expect(Math.abs(plate.meanMs!)).toBeLessThan(12);
  });
});

test('three channels that changed places', () => {
  const takenFor = (c: number) => [0, 2, 3, 1, 4][c];
  each({ takenFor }, ({ study }, findings, of) => {
    expect(findings[0], of).toMatchObject({ kind: 'channels-swapped' });
    expect(study.strokes.sitsAt, of).toEqual([0, 3, 1, 2, 4]);
  });
});

test('the reference swapped with another: the rest is measured against the right one, and doubted', () => {
  const takenFor = (c: number) => (c === 0 ? 1 : c === 1 ? 0 : c);
  each({ takenFor }, ({ study }, findings, of) => {
    expect(findings[0], of).toMatchObject({ kind: 'channels-swapped' });
    for (const { channel, doubt } of study.groups) if (channel !== 'clave') expect(doubt, of).toBeDefined();
  });
});

test('a pattern entered mirrored is told as that, and nothing is measured', () => {
  const mirror: Scene['fitted'] = ({ step }, { description: { barrel } }) =>
    (barrel.steps - step) % barrel.steps;
  each({ fitted: mirror }, ({ study }, findings, of) => {
    expect(
      findings.map(({ kind }) => kind),
      of,
    ).toEqual(['mirrored-pattern']);
    expect(study.groups.every(({ meanMs }) => meanMs === null)).toBe(true);
  });
});

test('a drive that stands for seven seconds: two stretches, and no shaft is blamed', () => {
  const heard: Scene['heard'] = (all, { durationS }) =>
    all.map((strike) => ({ ...strike, timeS: strike.timeS + (strike.timeS > 0.45 * durationS ? 7.3 : 0) }));
  each({ heard, missing: 0 }, ({ study }, findings, of) => {
    expect(study.strokes.stands, of).toHaveLength(1);
    expect(study.strokes.stands[0].lostS).toBeCloseTo(7.3, 1);
    const kinds = findings.map(({ kind }) => kind);
    expect(kinds).toContain('stopped');
    for (const kind of ['shaft-wobble', 'tempo-drift', 'extra-hit', 'missing-hit'])
      expect(kinds, of).not.toContain(kind);
    // 120 beats a minute, 96 steps of four a beat.
    expect(study.strokes.rotation.secondsPerTurn).toBeCloseTo(12, 2);
    for (const { channel, sector, meanMs } of study.groups)
      if (sector === null && channel !== 'clave') expect(Math.abs(meanMs!)).toBeLessThan(12);
  });
});

test('sectors pinned alike: no sector is measured, and the pin that is proposed tells them apart', () => {
  const drawn = sceneMachine({ seed: 7, sectors: 2 });
  const half = drawn.description.barrel.steps / 2;
  const pins = drawn.pins
    .filter(({ step }) => step < half)
    .flatMap((pin) => [pin, { ...pin, step: pin.step + half }])
    .sort((a, b) => a.step - b.step || a.channel - b.channel);
  const alike = { ...drawn, pins };
  const { study } = see({ seed: 7, machine: alike });
  const [ambiguous] = ofKind(runChecks(study), 'ambiguous-rotation');
  expect(ambiguous.message).toContain('which sector is which is a guess');
  for (const { sector, channel, doubt } of study.groups)
    expect(doubt).toBe(
      sector !== null && channel !== 'clave' ? 'which sector is which is a guess' : undefined,
    );
  const verdict = verdictOf({
    groups: study.groups,
    advice: { predicted: [] as ReportHead['advice']['predicted'] },
  } as ReportHead);
  expect(verdict.sentence).toContain('since which sector is which is a guess');
  const pin = tellingPin(alike)!;
  expect(ambiguous.message).toContain(`at step ${pin.step}`);
  const told = see({
    seed: 7,
    machine: { ...alike, pins: [...pins, { ...pin, line: null }].sort((a, b) => a.step - b.step) },
  });
  expect(told.study.strokes.rotation).toMatchObject({ settledBy: 'pattern', rivals: [] });
  expect(told.study.groups.every(({ doubt }) => doubt === undefined)).toBe(true);
});

test.each([
  [34, 'early'],
  [62, 'late'],
])('a sector’s first step entered as %i instead of 48: the boundary is suspected, not its pins', (from) => {
  for (const density of [0.15, 0.35])
    for (const seed of seeds) {
      const scene = { seed, density, sectors: 2, sectorMs: { B: 6 }, missing: 0 };
      const right = sceneMachine(scene);
      const [a, b] = right.description.barrel.sectors;
      const barrel = { ...right.description.barrel, sectors: [a, { ...b, from }] };
      const described = { ...right, description: { ...right.description, barrel } };
      const { study } = see({ ...scene, machine: right, described });
      const findings = runChecks(study);
      const of = `density ${density}, seed ${seed}`;
      expect(
        ofKind(findings, 'sector-boundary').map(({ sector }) => sector),
        of,
      ).toEqual(['B']);
      const [{ earliest, latest }] = wrongBoundaries(study.strokes, described);
      expect([earliest <= 48, latest >= 48], `${of}: ${earliest} to ${latest}`).toEqual([true, true]);
      expect(
        ofKind(findings, 'pin-error').filter(({ channel }) => channel !== 'clave'),
        of,
      ).toEqual([]);
      for (const { channel, sector, doubt } of study.groups)
        expect(doubt !== undefined, of).toBe(channel !== 'clave' && sector !== null);
    }
});

describe('on ordinary machines nothing is off as a whole', () => {
  const none = { whole: [], mirrored: false, stands: [] };

  test('of every density, with several sectors, at several tempi', () => {
    for (const bpm of [60, 120, 200])
      each({ bpm }, ({ study, machine }, _, of) => {
        expect(wrongBoundaries(study.strokes, machine), of).toEqual([]);
        expect(study.strokes, of).toMatchObject({
          ...none,
          sitsAt: machine.description.channels.map((__, c) => c),
        });
      });
  });

  test('with channels up to 40 ms off, misplaced pins, missing strokes and strays', () => {
    for (let seed = 3001; seed <= 3020; seed++) {
      const take = randomTake(seed);
      const strokes = lay(take.machine, take.played.strikes, { tempo: take.how.bpm });
      expect(strokes, `seed ${seed}`).toMatchObject(none);
      expect(wrongBoundaries(strokes, take.machine), `seed ${seed}`).toEqual([]);
      expect(strokes.sitsAt, `seed ${seed}`).toEqual(take.machine.description.channels.map((_, c) => c));
    }
  });

  test('one pin of a channel of many in another hole is that pin’s alone', () => {
    const machine = sceneMachine({ seed: 5, density: 0.2 });
    const own = machine.pins.filter(({ channel }) => channel === 1).map(({ step: at }) => at);
    const step = own.find((at) => ![at - 1, at + 1].some((beside) => own.includes(beside)))!;
    const fitted: Scene['fitted'] = (pin) => (pin.channel === 1 && pin.step === step ? step + 1 : pin.step);
    const { study } = see({ seed: 5, density: 0.2, fitted, missing: 0 });
    expect(study.strokes).toMatchObject(none);
    expect(study.strokes.misplaced).toMatchObject([{ channel: 1, step, foundStep: step + 1 }]);
  });
});

/** Mean lateness of a channel's pins, each as often as it sounded, ms. */
function trueMean({ played }: Seen, channel: number): number {
  return played.groups.find((group) => group.channel === channel && group.sector === null)!.strokesMeanMs;
}
