/** A report as the editor sends it, for pages that need no editor behind them. */
import type { Report } from '../../analysis/results/results.ts';
import type { AdviceMessage, ReportMessage } from '../../extension/protocol/messages.ts';
import { tempoCourseOf } from '../../extension/host/report-tempo.ts';
import { packReport } from '../../extension/protocol/page-report.ts';

export function messageOf(report: Report, details: Partial<ReportMessage> = {}): ReportMessage {
  return {
    kind: 'report',
    run: 1,
    take: 'take:one',
    ...packReport(report),
    corrections: [],
    tempoCourse: tempoCourseOf(report),
    mayChange: true,
    patternInText: true,
    newest: null,
    told: null,
    ...details,
  };
}

/** What to change now, as the editor sends it after the report. */
export function adviceMessageOf({ advice }: Report, details: Partial<AdviceMessage> = {}): AdviceMessage {
  return { kind: 'advice', run: 1, advice, openings: [], record: [], ...details };
}
