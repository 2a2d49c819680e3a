/** What is said while a take is being recorded. */
import { describe, expect, it } from 'vitest';
import { listenedWords, type ListeningGoal } from '../../analysis/report/listening.ts';
import type { Report } from '../../analysis/results/results.ts';

type Row = readonly [channel: string, meanMs: number | null, ci95Ms: number | null, count?: number];

/** Sector A alone, a turn of 10 s, tolerance 2 ms. */
function report(rows: readonly Row[], over: object = {}): Report {
  const ids = ['block', ...rows.map(([id]) => id)];
  return {
    machine: 'm',
    take: 'listening',
    barrel: { steps: 16, stepsPerBeat: 4, sectors: [{ id: 'A', from: 0 }] },
    channels: ids.map((id, i) => ({
      id,
      name: id,
      toleranceMs: 2,
      reference: i === 0,
      onBarrel: true,
    })),
    tempo: { bpm: 104, bpmCi95: 0.05, secondsPerTurn: 10 },
    tracks: [{ file: 'a.wav' }, { file: 'b.wav' }],
    hits: [{ track: 0 }, { track: 0 }],
    groups: rows.map(([channel, meanMs, ci95Ms, count = 9]) => ({
      channel,
      sector: 'A',
      meanMs,
      ci95Ms,
      count,
    })),
    pins: [],
    findings: [],
    ...over,
  } as unknown as Report;
}
const nothing: ListeningGoal = { bpm: null, setpoint: null, maxSetpoint: null };
const say = (of: Report, recordedS: number, stretchS: number, wanted = nothing) =>
  listenedWords({ report: of, recordedS, stretchS }, wanted);

describe('while a take is recorded', () => {
  it('says no number within the first turn, only on which tracks there is sound', () => {
    const { lines, isEnough } = say(report([['drum', 0, 0.1]]), 6, 6);
    expect(lines).toEqual(['0:06 sounds heard on the tracks: 2, 0; not a whole turn yet']);
    expect(isEnough).toBe(false);
  });

  // A quarter of the set-point more for a quarter more tempo: 2880 · 112/104 = 3101.5.
  it('says the set-point to try, and where that is beyond the limit', () => {
    const of = report([['drum', 0, 0.1]]);
    const first = (wanted: ListeningGoal) => say(of, 65, 20, wanted).lines[0];
    expect(first({ bpm: 112, setpoint: 2880, maxSetpoint: null })).toBe(
      '1:05 104.00 ± 0.05 beats a minute, 112 wanted: 7.69 % more set-point (try 3101.5)',
    );
    expect(first({ bpm: 112, setpoint: 2880, maxSetpoint: 3000 })).toContain('BEYOND ITS LIMIT of 3000');
    expect(first({ bpm: 112, setpoint: null, maxSetpoint: null })).toMatch(/7\.69 % more set-point$/);
    expect(first({ bpm: 104.03, setpoint: 2880, maxSetpoint: null })).toMatch(/, as wanted \(104\.03\)$/);
  });

  it('is enough only where every group is decided by what was heard last', () => {
    const decided: Row[] = [
      ['drum', 3.1, 0.4],
      ['bell', -0.2, 0.5],
    ];
    expect(say(report(decided), 40, 20)).toMatchObject({ isEnough: true });
    expect(say(report(decided), 40, 20).lines.at(-1)).toContain(
      'the last 2 turns alone decide all of 2 groups',
    );
    // 1.7 ± 0.5 reaches 2.2; of four times the turns half of that is left, which does not.
    const open = say(report([...decided, ['gong', 1.7, 0.5]]), 80, 20);
    expect(open.isEnough).toBe(false);
    expect(open.lines.at(-1)).toContain(
      'the last 2 turns alone decide 2 of 3 groups, the 8 turns up to now at most about 3',
    );
  });

  it('names what is not heard, and what to stop the recorder for; a doubted mean decides nothing', () => {
    const of = report(
      [
        ['drum', 0.1, 0.4],
        ['bell', null, null, 0],
      ],
      {
        findings: [
          { kind: 'clipped', message: 'a.wav is cut off at 12 places' },
          { kind: 'tempo-drift', message: 'it slows down' },
        ],
      },
    );
    const { lines } = say(of, 40, 20);
    expect(lines).toContain('      not heard: bell');
    expect(lines).toContain('      a.wav is cut off at 12 places');
    expect(lines.join()).not.toContain('slows down');
    const doubted = report([['drum', 0.1, 0.4]]);
    Object.assign(doubted.groups[0], { doubt: 'which sector is which is a guess' });
    expect(say(doubted, 40, 20).isEnough).toBe(false);
  });
});
