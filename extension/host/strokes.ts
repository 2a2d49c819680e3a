/** "Open Strokes as CSV": a document of its own, to be saved where it is wanted; in the take it would be read as markers. */
import * as vscode from 'vscode';
import { strokesCsv } from '../../analysis/report/strokes-csv.ts';
import { wholeReport } from './report-files.ts';
import { pickTake, type Clicked } from './targets.ts';
import type { Workshop } from './workshop.ts';

/** @returns the document; null where no analysed take was chosen */
export async function openStrokes(shop: Workshop, clicked: Clicked): Promise<vscode.TextDocument | null> {
  const take = await pickTake(shop, clicked, ({ report }) => report !== null);
  const report = take && (await wholeReport(take.folder));
  if (!report) return null;
  const content = strokesCsv(report);
  const document = await vscode.workspace.openTextDocument({ language: 'csv', content });
  await vscode.window.showTextDocument(document);
  return document;
}
