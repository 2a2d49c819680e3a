/** The table of an entry of work in CALIBRATION.md, read back: what people see there is the record. */
import { markdownText } from './markdown-text.ts';

export const fittedHead = '| adjuster | unit | before | fitted | proposed |';

export interface FittedInLog {
  readonly setting: number;
  /** Id of the entry that says so. */
  readonly entry: string;
}

/**
 * @param body an entry's text
 * @param ids  adjusters of the machine
 * @returns adjuster → setting that was fitted; of several rows of one adjuster the last
 */
export function fittedSettings(body: string, ids: readonly string[]): ReadonlyMap<string, number> {
  const byCell = new Map(ids.map((id) => [markdownText(id), id]));
  const settings = new Map<string, number>();
  let inTable = false;
  for (const line of body.split(/\r\n|\r|\n/)) {
    if (line.trim() === fittedHead) inTable = true;
    else if (!line.startsWith('|')) inTable = false;
    if (!inTable) continue;
    const cells = line.split('|').map((cell) => cell.trim());
    const id = byCell.get(cells[1]);
    const text = (cells[4] ?? '').replace('\u2212', '-');
    if (id !== undefined && /^-?\d+$/.test(text)) settings.set(id, Number(text));
  }
  return settings;
}
