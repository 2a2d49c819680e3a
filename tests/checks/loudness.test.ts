import { describe, expect, test } from 'vitest';
import type { Study } from '../../analysis/checks/check.ts';
import { loudness } from '../../analysis/checks/loudness.ts';
import { recorderGain } from '../../analysis/checks/recorder-gain.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { levelledStudy, type Levels } from './levelled.ts';

const machine = rigMachine({ channels: ['block', 'gong', 'bell', 'drum'], seed: 5 });
const found = (study: Study) => [...loudness.run(study), ...recorderGain.run(study)];
const findings = (levels: Levels) => found(levelledStudy(machine, levels, 3));

describe('loudness', () => {
  test('pins and strokes that differ by some dB are nothing to speak of, on one track or on several', () => {
    expect(findings({ pinDb: 1, strokeDb: 1.2 })).toEqual([]);
    expect(findings({ tracks: [0, 1, 2, 3] })).toEqual([]);
  });

  test('a sector in which all channels are louder is named, and one in which a single channel is, by that channel', () => {
    const sector = findings({ plusDb: (stroke) => (stroke.sector === 1 ? 3 : 0) });
    expect(sector).toHaveLength(1);
    expect(sector[0]).toMatchObject({ kind: 'loud-sector', sector: 'B' });
    expect(sector[0]).not.toHaveProperty('channel');
    const [, size] = /plays ([\d.]+) dB/.exec(sector[0].message)!;
    expect(Math.abs(Number(size) - 3)).toBeLessThan(1);
    const one = findings({ plusDb: ({ sector, channel }) => (sector === 1 && channel === 2 ? 6 : 0) });
    expect(one).toMatchObject([{ kind: 'loud-sector', sector: 'B', channel: 'bell' }]);
  });

  test('a striker whose strokes differ by 5 dB from turn to turn is uneven', () => {
    const random = seededRandom(8);
    const uneven = findings({ plusDb: ({ channel }) => (channel === 3 ? 5 * random.normal() : 0) });
    expect(uneven).toMatchObject([{ kind: 'uneven-strikes', channel: 'drum' }]);
  });

  test('where the recorder set its gain nothing is said of strikers and sectors, but that', () => {
    // A limiter: 0.7 dB down for every dB that the last half second was louder.
    const limiter: Levels['gainDb'] = (before, timeS) => {
      const power = before
        .filter((stroke) => timeS - stroke.timeS < 2)
        .reduce((sum, { timeS: at, db }) => sum + 10 ** (db / 10) * Math.exp((at - timeS) / 0.3), 0);
      return power > 0 ? -0.7 * (10 * Math.log10(power) + 20) : 0;
    };
    const loudB: Levels['plusDb'] = ({ sector }) => (sector === 1 ? 4 : 0);
    expect(findings({ gainDb: limiter, plusDb: loudB }).map(({ kind }) => kind)).toEqual(['recorder-gain']);
    // A level that a hand moves up and down.
    const hand = findings({ gainDb: (_, timeS) => 2 * Math.sin(timeS / 5), plusDb: loudB });
    expect(hand.map(({ kind }) => kind)).toEqual(['recorder-gain']);
  });

  test('the report has a table of levels, sectors against their channel; none where nothing was heard by its sound', () => {
    const study = levelledStudy(machine, { plusDb: ({ sector }) => (sector === 1 ? 3 : 0) }, 3);
    const section = loudness.section!(study);
    if (section === null || !('table' in section)) throw new Error('one section was expected');
    const rows = section.table!.rows.filter(([channel]) => channel === 'gong');
    expect(rows.map(([, sector]) => sector)).toEqual(['all', 'A', 'B', 'C']);
    expect(rows[2][3]).toMatch(/^\+\d\.\d ± \d\.\d$/);
    const groups = study.groups.map(({ level: _, ...group }) => group);
    expect(loudness.section!({ ...study, groups })).toBeNull();
  });
});
