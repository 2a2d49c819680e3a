/** A report as the editor sends it, for pages that need no editor behind them. */
import type { Report } from '../../analysis/results/results.ts';
import type { ReportMessage } from '../../extension/protocol/messages.ts';
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
