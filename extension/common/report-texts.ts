/** Everything that is written of a report: its JSON, Markdown and picture, and the changelog's entry. */
import { renderEntry } from '../../analysis/report/entry.ts';
import type { ChannelHistory } from '../../analysis/report/history.ts';
import { renderReport } from '../../analysis/report/markdown.ts';
import { drawChecks, drawHistory } from '../../analysis/report/checks-plot.ts';
import { drawReport } from '../../analysis/report/plot.ts';
import { stringifyReport } from '../../analysis/report/report.ts';
import type { Template } from '../../analysis/report/template.ts';
import type { EarlierReport, Report } from '../../analysis/results/results.ts';
import { emptyDocument } from './empty-document.ts';

/** A person's own templates in place of the built-in ones. */
export interface OwnTemplates {
  readonly report?: Template;
  readonly entry?: Template;
}

export interface ReportTexts {
  /** Without its hits: there are many, and they are in `json`. */
  readonly report: EarlierReport;
  /** report.json */
  readonly json: string;
  /** report.md */
  readonly markdown: string;
  /** report.svg */
  readonly picture: string;
  /** checks.svg */
  readonly checksPicture: string;
  /** The changelog's entry. */
  readonly entry: string;
}

/** history.svg */
export function historyPicture(machine: string, history: readonly ChannelHistory[]): string {
  return drawHistory(machine, history, emptyDocument());
}

/**
 * @param folder of the take, as seen from the machine's folder
 * @throws InputProblem where a person's template cannot be used
 */
export function textsOf(report: Report, own: OwnTemplates, folder?: string): ReportTexts {
  const document = emptyDocument();
  const rest: EarlierReport & Partial<Report> = { ...report };
  delete rest.hits;
  return {
    report: rest,
    json: stringifyReport(report),
    markdown: renderReport(report, own.report),
    picture: drawReport(report, document),
    checksPicture: drawChecks(report, document),
    entry: renderEntry(report, own.entry, folder),
  };
}
