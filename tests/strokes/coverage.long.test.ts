/** Cases that the error model was seen to fail on, some takes each; every cell and many takes: tests/bench/coverage.bench.ts. */
import { sectorEdges } from '../../analysis/checks/sector-edges.ts';
import { describe, expect, test } from 'vitest';
import { pinsOff } from '../../analysis/checks/pin-error.ts';
import { runChecks } from '../../analysis/checks/index.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import { hearingOf, measured, takeOf } from '../bench/coverage.bench.ts';
import { playCase, usual, type Case } from '../bench/coverage-machines.ts';

const takes = 6;
const slow = 240_000;

describe('intervals of groups hold the truth', () => {
  // Ninety groups a case, those of a take with one reference: the share is known to some ± 4 %.
  test.each<[string, Partial<Case>]>([
    ['reference pins 1 ms off, repeatable to 0.03 ms', { referencePinMs: 1, referenceChanceMs: 0.03 }],
    ['a reference that does not repeat, 1.5 ms', { referenceChanceMs: 1.5 }],
    ['a reference on every 8th beat of a drive that wanders', { everyBeats: 8 }],
    ['markers rounded to 10 ms', { roundedToMs: 10 }],
  ])(
    '%s',
    (_, change) => {
      const { share, all } = measured({ ...usual, ...change }, 4001, takes);
      expect(all).toBe(15 * takes);
      expect(share).toBeGreaterThan(0.88);
    },
    slow,
  );
});

function studyOf(change: Partial<Case>, seed: number) {
  const played = playCase({ ...usual, ...change }, seed);
  const { machine } = played;
  const [hearing, take] = [hearingOf(played), takeOf(played)];
  const strokes = layOnBarrel(hearing, machine, take);
  const groups = summariseGroups(strokes, machine);
  return { machine, take, hearing, strokes, groups, pins: summarisePins(strokes, machine) };
}

test(
  'perfect pins are not accused, nor edges, over a reference whose own pins scatter by 1 ms',
  () => {
    const accused = Array.from({ length: takes }, (_, i) => {
      const study = studyOf({ referencePinMs: 1, pinSdMs: 0 }, 4101 + i);
      const others = pinsOff(study).filter(({ channel }) => channel !== study.machine.reference);
      return others.length + sectorEdges(study).length;
    });
    expect(accused).toEqual(new Array<number>(takes).fill(0));
  },
  slow,
);

test(
  'a hunting drive makes no striker unrepeatable, and a channel’s pins do not scatter by its sectors’ offsets',
  () => {
    const played = playCase({ ...usual, drive: 'hunts', pinSdMs: 0 }, 4201);
    const { groups } = studyOf({ drive: 'hunts', pinSdMs: 0 }, 4201);
    groups
      .filter(({ sector, channel }) => sector === null && channel !== 'ref')
      .forEach(({ repeatabilityMs, pinSdMs }, i) => {
        // The drive alone moves the beat by 0.8 ms, sectors lie up to 6 ms apart.
        expect(repeatabilityMs! / played.chanceMs[i + 1]).toBeGreaterThan(0.7);
        expect(repeatabilityMs! / played.chanceMs[i + 1]).toBeLessThan(1.4);
        expect(pinSdMs!).toBeLessThan(0.4);
      });
  },
  slow,
);

test(
  'markers rounded to 10 ms are told as that, and blamed on no striker, pin, sector or drive',
  () => {
    for (let seed = 4301; seed < 4301 + takes; seed++) {
      const kinds = (roundedToMs: number) =>
        runChecks(studyOf({ drive: 'steady', pinSdMs: 0, roundedToMs }, seed)).map(({ kind }) => kind);
      const exact = new Set([...kinds(0), 'rounded-times']);
      const rounded = kinds(10);
      expect(rounded, `seed ${seed}`).toContain('rounded-times');
      expect(
        rounded.filter((kind) => !exact.has(kind)),
        `seed ${seed}`,
      ).toEqual([]);
    }
  },
  slow,
);

test(
  'a striker that scatters far beyond what rounding does is told all the same, rounding taken off',
  () => {
    const { groups } = studyOf({ drive: 'steady', referenceChanceMs: 6, roundedToMs: 10 }, 4311);
    const whole = groups.find(({ channel, sector }) => channel === 'ref' && sector === null)!;
    expect(whole.repeatabilityMs! / 6).toBeGreaterThan(0.8);
    expect(whole.repeatabilityMs! / 6).toBeLessThan(1.2);
  },
  slow,
);

test(
  'a drive that hunts in step with a sparse reference: every lateness is doubted, and nothing where it is not in step',
  () => {
    const doubts = (huntBeats: number) =>
      studyOf({ drive: 'hunts', everyBeats: 8, huntBeats }, 5001)
        .groups.filter(({ channel }) => channel !== 'ref')
        .map(({ doubt }) => doubt);
    for (const beats of [4.05, 4, 8])
      for (const doubt of doubts(beats))
        expect(doubt).toMatch(/^the drive swings once in [48]\.\d beats, and/);
    for (const doubt of doubts(6.3)) expect(doubt).toBeUndefined();
    const kinds = (huntBeats: number) =>
      runChecks(studyOf({ drive: 'hunts', everyBeats: 8, huntBeats }, 5001)).map(({ kind }) => kind);
    expect(kinds(4)).toContain('swing-in-step');
    expect(kinds(6.3)).not.toContain('swing-in-step');
  },
  slow,
);

test(
  'a swing that divides the turn is taken off where the reference meets it at several places, and its pins are not blamed',
  () => {
    const { share, all, doubted } = measured(
      { ...usual, drive: 'hunts', everyBeats: 8, huntBeats: 6 },
      5001,
      takes,
    );
    expect([all, doubted]).toEqual([15 * takes, 0]);
    expect(share).toBeGreaterThan(0.88);
  },
  slow,
);

test(
  'holes that are divided unevenly are the pins’ lateness, not the drive’s, where the reference on a shaft of its own shows it',
  () => {
    const { share, doubted } = measured({ ...usual, dividingMs: 0.7 }, 5001, takes);
    expect(doubted).toBe(0);
    expect(share).toBeGreaterThan(0.88);
  },
  slow,
);
