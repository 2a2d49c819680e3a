/**
 * What templates are given: a report as words and figures, every text safe for Markdown. These names are the
 * interface of people's own templates: names may be added, none is renamed.
 */
import { defaultToleranceMs } from '../machine/tolerance.ts';
import { withMinus } from '../words/minus.ts';
import type { Outcome, Report } from '../results/results.ts';
import { markdownText } from './markdown-text.ts';
import { markerWords } from './marker-words.ts';
import {
  bar,
  channelsOf,
  figures,
  judge,
  judgementWords,
  plural,
  readingsOf,
  signed,
  tempoDecimals,
  verdictOf,
  withInterval,
  type Reading,
} from './reading.ts';

import { workLines } from './work-words.ts';

/** Stands before every instruction to change something on the machine. Titles only: their text is the law's. */
export const safetyLine =
  'Before anything on the machine is changed: stop the drive, isolate it and lock it out, and let moving and raised ' +
  'parts come to rest (29 CFR 1910.147 lockout/tagout; ISO 14118 unexpected start-up; ISO 13854 gaps against ' +
  'crushing). Local codes and licensed electricians come before anything printed here.';

/** The same where a person has read the whole of it a moment ago and needs the room. */
export const safetyBrief =
  'Stop the drive, isolate it and lock it out, and let moving and raised parts come to rest before reaching in.';

/** What `report.md.hbs` and `entry.md.hbs` can ask for. */
export function pageOf(report: Report) {
  const facts = new Map(channelsOf(report).map((channel) => [channel.id, channel]));
  const nameOf = (id: string) => markdownText(facts.get(id)?.name ?? id);
  const { advice, tempo } = report;
  const verdict = verdictOf(report);
  const decimals = tempoDecimals(tempo.bpmCi95);
  return {
    machine: markdownText(report.machine),
    take: markdownText(report.take),
    tune: report.tune === undefined ? null : markdownText(report.tune),
    recorded: report.recorded === null ? null : markdownText(report.recorded),
    date: report.recorded === null ? null : markdownText(report.recorded.slice(0, 10)),
    verdict: { state: verdict.state, sentence: markdownText(verdict.sentence) },
    tempo: {
      bpm: tempo.bpm === null ? null : tempo.bpm.toFixed(decimals),
      bpmCi95: tempo.bpmCi95 === null ? '?' : tempo.bpmCi95.toFixed(decimals),
      secondsPerTurn: tempo.secondsPerTurn === null ? '–' : tempo.secondsPerTurn.toFixed(4),
    },
    furthest: furthestOut(report).map(({ channel, sector, group, judgement }) => ({
      channel: markdownText(channel.id),
      name: markdownText(channel.name),
      sector: markdownText(sector),
      mean: withInterval(group.meanMs, group.ci95Ms),
      judgement: judgementWords[judgement],
    })),
    pinsToMove: report.findings.flatMap(({ kind, channel, step, foundStep }) =>
      kind === 'misplaced-pin' && channel !== undefined && step !== undefined && foundStep !== undefined
        ? [{ channel: markdownText(channel), name: nameOf(channel), from: foundStep, to: step }]
        : [],
    ),
    outcome: report.outcome === undefined ? null : outcomeOf(report.outcome, nameOf),
    safety: safetyLine,
    advice: {
      summary: markdownText(advice.summary),
      proven: advice.proven,
      worstBefore: figures(advice.worstBeforeMs),
      worstAfter: figures(advice.worstAfterMs),
      settings: advice.settings.map(({ adjuster, unit, installed, proposed }) => ({
        adjuster: markdownText(adjuster),
        unit: markdownText(unit),
        installed: withMinus(installed),
        proposed: withMinus(proposed),
        change: `${proposed < installed ? 'take out' : 'add'} ${Math.abs(proposed - installed)}`,
        difference: `${proposed < installed ? '−' : '+'}${Math.abs(proposed - installed)}`,
      })),
      work: workLines(advice).map(markdownText),
      experiment: advice.experiment === undefined ? null : markdownText(advice.experiment.message),
      effects: (advice.effects ?? []).map(({ adjuster, msPerUnit, sdMs, from }) => ({
        adjuster: markdownText(adjuster),
        perUnit: signed(msPerUnit),
        sd: figures(sdMs),
        from: from === 'takes' ? 'earlier takes' : 'geometry',
      })),
      predicted: advice.predicted.map(({ channel, sector, beforeMs, afterMs, ci95Ms, toleranceMs }) => {
        const tolerance = toleranceMs ?? facts.get(channel)?.toleranceMs ?? defaultToleranceMs;
        return {
          channel: markdownText(channel),
          name: nameOf(channel),
          sector: markdownText(sector),
          before: signed(beforeMs),
          after: withInterval(afterMs, ci95Ms),
          bar: bar(afterMs, tolerance),
          judgement: judgementWords[judge(afterMs, ci95Ms, tolerance)],
        };
      }),
    },
    groups: readingsOf(report).map(({ channel, sector, group, judgement }) => ({
      channel: markdownText(channel.id),
      name: markdownText(channel.name),
      sector: markdownText(sector),
      count: group.count,
      mean: withInterval(group.meanMs, group.ci95Ms),
      median: signed(group.medianMs),
      spread: figures(group.sdMs),
      pinScatter: figures(group.pinSdMs),
      repeatability: figures(group.repeatabilityMs),
      tolerance: figures(channel.toleranceMs),
      bar: bar(group.meanMs, channel.toleranceMs),
      judgement: judgementWords[judgement],
      reference: channel.reference,
      meant: channel.meant === undefined ? null : signed(group.targetMs ?? 0),
    })),
    meant: channelsOf(report).flatMap(({ name, meant }) =>
      meant === undefined ? [] : [{ name: markdownText(name), words: meant }],
    ),
    findings: report.findings.map(({ severity, kind, message, mend, file, place }) => ({
      severity,
      kind,
      message: markdownText(message),
      mend: mend === undefined ? null : markdownText(mend),
      where: file === undefined ? null : markdownText([file, place].filter(Boolean).join(', ')),
    })),
    settings: Object.entries(report.settings).map(([adjuster, setting]) => ({
      adjuster: markdownText(adjuster),
      setting: withMinus(setting),
    })),
    tracks: report.tracks.map(({ file, track, sampleRate, noiseDb }, i) => ({
      file: markdownText(file),
      track: track + 1,
      sampleRate,
      noise: noiseDb === null ? '–' : withMinus(`${noiseDb.toFixed(1)} dB`),
      heard: heardOn(report, i).map(({ channel, used, setAside }) => ({
        channel: channel === null ? 'unknown' : markdownText(channel),
        used,
        setAside,
      })),
    })),
    markers: (report.markerFiles ?? []).map((file) => ({
      file: markdownText(file.file),
      read: markdownText(markerWords(file)),
    })),
    strokes: plural(report.hits.filter(({ state }) => state === 'used').length, 'stroke'),
    sections: (report.sections ?? []).map(({ title, sentences, table }) => ({
      title: markdownText(title),
      sentences: sentences.map(markdownText),
      table:
        table === undefined
          ? null
          : {
              columns: table.columns.map(markdownText),
              rows: table.rows.map((row) => row.map(markdownText)),
            },
    })),
    drawn: (report.sections ?? []).flatMap(({ title, plot }) =>
      plot === undefined ? [] : [markdownText(title)],
    ),
    setAside: countBy(report.hits.flatMap(({ why }) => (why === undefined ? [] : [why]))).map(
      ([why, count]) => ({
        why: markdownText(why),
        count,
      }),
    ),
  };
}

/** What became of the last change; `missed` are the groups that came out otherwise than predicted. */
function outcomeOf({ since, line, groups, adjusters }: Outcome, nameOf: (id: string) => string) {
  return {
    since: markdownText(since),
    line: markdownText(line),
    fitted: adjusters.map(({ adjuster, from, to }) => ({
      adjuster: markdownText(adjuster),
      from: withMinus(from),
      to: withMinus(to),
    })),
    missed: groups
      .filter(({ asPredicted }) => !asPredicted)
      .map(({ channel, sector, predictedMs, predictedCi95Ms, measuredMs, measuredCi95Ms }) => ({
        channel: markdownText(channel),
        name: nameOf(channel),
        sector: markdownText(sector),
        predicted: withInterval(predictedMs, predictedCi95Ms),
        measured: withInterval(measuredMs, measuredCi95Ms),
      })),
  };
}

/** So many groups are named where there is no room for all. */
const mostFurthest = 3;

/** Groups outside their tolerance, the furthest first, in units of it. */
function furthestOut(report: Report): Reading[] {
  const excess = ({ group, channel }: Reading) => Math.abs(group.meanMs ?? 0) / channel.toleranceMs;
  return readingsOf(report)
    .filter(({ judgement }) => judgement !== 'within' && judgement !== 'unknown')
    .sort((a, b) => excess(b) - excess(a))
    .slice(0, mostFurthest);
}

export type Page = ReturnType<typeof pageOf>;

/** Hits of each channel on one track; the channel is null where nobody could tell. */
function heardOn(report: Report, track: number) {
  const rows = new Map<string | null, { used: number; setAside: number }>();
  for (const hit of report.hits) {
    if (hit.track !== track) continue;
    const row = rows.get(hit.channel) ?? { used: 0, setAside: 0 };
    if (hit.state === 'used') row.used++;
    else row.setAside++;
    rows.set(hit.channel, row);
  }
  return [...rows].map(([channel, row]) => ({ channel, ...row }));
}

function countBy(values: readonly string[]): [string, number][] {
  const counts = new Map<string, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].sort(([a, m], [b, n]) => n - m || (a < b ? -1 : 1));
}
