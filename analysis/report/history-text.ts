/** A channel's history as a plot, a sentence, and lines for a terminal. Apart from its arithmetic, which the page must not load. */
import type { SectionPlot } from '../results/results.ts';
import type { ChannelHistory } from './history.ts';
import { figures, signed, withInterval } from './reading.ts';
import { fitColumns, wrapped } from './terminal-text.ts';

/**
 * A channel's control chart: lateness without what settings did, each with its interval, the usual and its limits, and the takes
 * that are out of it.
 */
export function historyPlot({ lines, chart }: ChannelHistory): SectionPlot {
  const known = lines.flatMap((line, i) =>
    line.wearMs === null ? [] : [{ ...line, ms: line.wearMs, take: i + 1 }],
  );
  const usual = known.filter(({ signal }) => signal === null);
  const signals = known.filter(({ signal }) => signal !== null);
  const series = (name: string, own: typeof known) => ({
    name,
    points: own.map(({ take, ms }): [number, number] => [take, ms]),
    ci95: own.map(({ ci95Ms }) => ci95Ms),
  });
  return {
    xLabel: 'takes, the oldest first',
    yLabel: 'ms late, changes of settings taken off',
    ...(chart === null
      ? {}
      : {
          rules: [
            { axis: 'y' as const, at: chart.middle, name: 'usual' },
            { axis: 'y' as const, at: chart.upper, name: 'upper limit' },
            { axis: 'y' as const, at: chart.lower, name: 'lower limit' },
          ],
        }),
    series: [series('as usual', usual), ...(signals.length > 0 ? [series('out of the usual', signals)] : [])],
  };
}

/** A channel's history in a sentence. */
export function historyWords({ lines, chart }: ChannelHistory): string {
  if (chart === null) return 'Too few takes for limits.';
  const signals = lines.flatMap(({ take, signal }) =>
    signal === null ? [] : [`${take} ${signalWords[signal]}`],
  );
  const usual = `Usual ${signed(chart.middle)} ms, limits ${signed(chart.lower)} to ${signed(chart.upper)} ms, settings’ changes taken off`;
  return signals.length === 0 ? `${usual}; no take is out of them.` : `${usual}. ${signals.join('; ')}.`;
}

export const signalWords = {
  beyond: 'out of its limits: look for what changed',
  run: 'eight in a row on one side: wear or season',
};

/** What a line of a take has no room for stands below it, under the take's name. */
const below = ' '.repeat(14);

/** As lines for a terminal. */
export function renderHistory(history: readonly ChannelHistory[]): string {
  return history
    .flatMap(({ channel, lines, chart, loudness }) => [
      wrapped(
        chart === null
          ? `${channel} (too few takes for limits)`
          : `${channel}: usual ${signed(chart.middle)} ms, limits ${signed(chart.lower)} to ${signed(chart.upper)} ms, settings’ changes taken off`,
      ),
      ...(loudness === null ? [] : [wrapped(loudness)]),
      ...lines.flatMap(({ take, recorded, latenessMs, ci95Ms, repeatabilityMs, wearMs, changed, signal }) =>
        [
          [
            `  ${(recorded ?? '–').slice(0, 10).padEnd(10)}  ${fitColumns(take, 24)}`,
            `${withInterval(latenessMs, ci95Ms).padStart(15)} ms`,
            `repeats ${figures(repeatabilityMs)}`,
            `without settings ${signed(wearMs)}`,
          ].join('  '),
          ...(changed.length === 0 ? [] : [`changed before it: ${changed.join(', ')}`]),
          ...(signal === null ? [] : [signalWords[signal]]),
        ].map((text, i) => (i === 0 ? text : below + wrapped(text, below))),
      ),
      '',
    ])
    .join('\n')
    .trimEnd();
}
