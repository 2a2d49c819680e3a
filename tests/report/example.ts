/** Small reports made by hand for the tests of report/. */
import { type Group, type HitRow, type Report, staysWithin } from '../../analysis/results/results.ts';

export function group(
  channel: string,
  sector: string | null,
  meanMs: number | null,
  ci95Ms: number | null = 0.3,
): Group {
  return {
    channel,
    sector,
    count: meanMs === null ? 2 : 12,
    meanMs,
    medianMs: meanMs,
    sdMs: meanMs === null ? null : 0.6,
    ci95Ms: meanMs === null ? null : ci95Ms,
    pinSdMs: meanMs === null ? null : 0.5,
    repeatabilityMs: meanMs === null ? null : 0.25,
  };
}

export function hit(
  channel: string | null,
  sector: string | null,
  latenessMs: number | null,
  details: Partial<HitRow> = {},
): HitRow {
  return {
    timeS: 1,
    track: 0,
    channel,
    turn: 0,
    step: 0,
    sector,
    latenessMs,
    timeSdS: 4e-6,
    state: 'used',
    ...details,
  };
}

/** Two channels and a reference on two sectors: one group late, one early, one not decided, one not measured. */
export function exampleReport(): Report {
  return {
    schema: 1,
    machine: 'Mill Lane attic barrel',
    take: 'second-round',
    channels: [
      { id: 'block', name: 'Wood block', toleranceMs: 2, reference: true, onBarrel: false },
      { id: 'gong', name: 'Gong', toleranceMs: 2, reference: false, onBarrel: true },
      { id: 'drum', toleranceMs: 3, reference: false, onBarrel: true },
    ],
    barrel: {
      steps: 96,
      stepsPerBeat: 4,
      sectors: [
        { id: 'A', from: 0 },
        { id: 'B', from: 48 },
      ],
    },
    tempo: { bpm: 119.98, bpmCi95: 0.004, secondsPerTurn: 12.002 },
    recorded: '2026-05-02T21:40',
    settings: { 'joint-AB': 3, 'lever-gong': 2 },
    tracks: [{ file: 'close.wav', track: 0, sampleRate: 48000, noiseDb: -71.25 }],
    hits: [
      hit('block', 'A', 0.05, { timeS: 0.5 }),
      hit('block', 'B', -0.05, { timeS: 6.5, step: 48 }),
      hit('gong', 'A', 4.2, { timeS: 1.25, step: 6 }),
      hit('gong', 'A', 4.4, { timeS: 13.25, step: 6, turn: 1 }),
      hit('gong', 'B', -3.4, { timeS: 7.25, step: 54 }),
      hit('drum', 'A', 2.8, { timeS: 1.5, step: 8 }),
      hit(null, null, null, { timeS: 9, turn: null, step: null, state: 'set-aside', why: 'no pin here' }),
    ],
    groups: [
      group('block', null, 0, 0.05),
      group('block', 'A', 0.05, 0.05),
      group('block', 'B', -0.05, 0.05),
      group('gong', null, 0.4),
      group('gong', 'A', 4.3),
      group('gong', 'B', -3.4),
      group('drum', null, 2.8),
      group('drum', 'A', 2.8),
      group('drum', 'B', null),
    ],
    pins: [
      { channel: 'gong', step: 6, count: 6, meanMs: 4.3, ci95Ms: 0.4, repeatabilityMs: 0.2 },
      { channel: 'gong', step: 54, count: 6, meanMs: -3.4, ci95Ms: 0.4, repeatabilityMs: 0.2 },
    ],
    findings: [
      {
        kind: 'misplaced-pin',
        severity: 'warning',
        channel: 'gong',
        step: 20,
        foundStep: 21,
        file: 'pattern.csv',
        place: 'line 9',
        message: 'the pin of gong at step 20 is heard at step 21, turn after turn',
        mend: 'move the pin, or correct the pattern if the barrel is right',
      },
    ],
    advice: {
      settings: [
        { adjuster: 'joint-AB', unit: 'shim', installed: 3, proposed: 5 },
        { adjuster: 'lever-gong', unit: 'shim', installed: 2, proposed: 1 },
      ],
      predicted: [
        { channel: 'gong', sector: 'A', beforeMs: 4.3, afterMs: 0.4, ci95Ms: 0.5, toleranceMs: 2 },
        { channel: 'gong', sector: 'B', beforeMs: -3.4, afterMs: 0.6, ci95Ms: 0.5, toleranceMs: 2 },
      ],
      summary: 'Change two adjusters; every group is then predicted to be within tolerance.',
      worstBeforeMs: 4.3,
      worstAfterMs: 0.6,
      proven: true,
    },
  };
}

/** The same after a change that one of two groups did not follow. */
export function exampleWithOutcome(): Report {
  const seen = { predictedCi95Ms: 0.6, measuredCi95Ms: 0.3 };
  return {
    ...exampleReport(),
    outcome: {
      since: 'first-round',
      groups: [
        {
          channel: 'gong',
          sector: 'A',
          beforeMs: 7,
          predictedMs: 4,
          measuredMs: 4.3,
          ...seen,
          p: 0.6,
          asPredicted: true,
        },
        {
          channel: 'gong',
          sector: 'B',
          beforeMs: -0.4,
          predictedMs: 0.2,
          measuredMs: -3.4,
          ...seen,
          p: 0.001,
          asPredicted: false,
        },
      ],
      adjusters: [
        {
          adjuster: 'lever-gong',
          from: 5,
          to: 2,
          expectedMs: -3,
          seenMs: -2.9,
          seenCi95Ms: 0.4,
          did: 'as-expected',
        },
      ],
      worstBeforeMs: 7,
      worstAfterMs: 4.3,
      line: 'take second-round: worst mean 7.0 → 4.3 ms, 1 of 2 groups as predicted; lever-gong 5 → 2 did as expected (−2.9 ms, expected −3.0).',
    },
  };
}

/** Words that would do harm somewhere if they were taken for more than text. */
export const hostileWords = [
  '<script>alert(1)</script>',
  '<img src=x onerror=alert(1)>',
  '" onload="alert(1)',
  '[here](javascript:alert(1))',
  '![pixel](https://example.invalid/p.png)',
  'https://example.invalid/a',
  'www.example.invalid',
  'someone@example.invalid',
  '@someone',
  'a | b | c',
  '`code` and ``more``',
  'line one\nline two\r\n# heading',
  '\u001b[31mred\u001b[0m\u0007',
  '=HYPERLINK("https://example.invalid")',
  '{{constructor}} {{{__proto__}}}',
  '--> <!-- shimwright',
  '***bold*** __bold__ ~~gone~~ $x$',
  '# heading',
  '- item',
  '1. item',
  '&lt;b&gt; &copy;',
  '\u202Egnp.exe',
  'half \ud800 a character',
  '\\',
] as const;

/** The example with every name and note replaced; a finding's file only by a word that leads out of no folder, since others are refused. */
export function namedWith(word: string): Report {
  const report = exampleReport();
  const [reference, gong, drum] = report.channels!;
  return {
    ...report,
    machine: word,
    take: word,
    recorded: word,
    channels: [reference, { ...gong, name: word }, { ...drum, name: `${word} 2` }],
    settings: { 'joint-AB': 3 },
    tracks: [{ ...report.tracks[0], file: word }],
    markerFiles: [{ file: word, format: word, count: 2, time: word, unit: 'ms', end: word, label: word }],
    hits: report.hits.map((row) => (row.why === undefined ? row : { ...row, why: word })),
    findings: [
      {
        ...report.findings[0],
        message: word,
        mend: word,
        place: word,
        ...(staysWithin(word) && { file: word }),
        adjuster: word,
      },
    ],
    advice: {
      ...report.advice,
      summary: word,
      settings: [{ adjuster: word, unit: word, installed: 3, proposed: 5 }],
    },
  };
}
