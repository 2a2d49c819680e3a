/** take.jsonc with a question for every sound that nobody could name: "labels": { "12.34 s": "" }. */
import { applyEdits, modify, parse } from 'jsonc-parser';
import { labelledTime } from '../../analysis/hits/expect/named.ts';
import type { Report } from '../../analysis/results/results.ts';

/** Two instants so near are one question, s. */
const sameS = 0.05;
const layout = { formattingOptions: { insertSpaces: true, tabSize: 2 } };

/**
 * @param text take.jsonc as it is, null where there is none
 * @returns the same with the questions that are not asked yet, comments and layout kept; null where there is none to ask
 */
export function withLabelStub(text: string | null, report: Pick<Report, 'findings'>): string | null {
  const asked = Object.keys((parse(text ?? '{}') as { labels?: Record<string, string> }).labels ?? {});
  const times = asked.map(labelledTime).filter((timeS) => !Number.isNaN(timeS));
  let written = text ?? '{\n}\n';
  let questions = 0;
  for (const { kind, place } of report.findings) {
    const timeS = labelledTime(place ?? '');
    if (kind !== 'unknown-sound' || Number.isNaN(timeS)) continue;
    if (times.some((other) => Math.abs(other - timeS) <= sameS)) continue;
    written = applyEdits(written, modify(written, ['labels', place!], '', layout));
    times.push(timeS);
    questions++;
  }
  return questions === 0 ? null : written;
}
