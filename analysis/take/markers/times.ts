/** A time as people and programs write it: seconds, m:s, h:m:s, with point or comma, bare or with "s" or "ms". */

const clock = /^(?:(\d{1,4}):)?(\d{1,4}):(\d{1,2}(?:[.,]\d*)?)$/;
const number = /^([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[+-]?\d{1,3})?)\s*(s|sec|seconds|ms|smp|samples)?$/i;

export type Unit = 's' | 'ms' | 'samples';

export interface WrittenTime {
  readonly value: number;
  /** null where the text is a bare number */
  readonly unit: Unit | null;
}

/** @returns null where the text is no time */
export function parseTime(text: string): WrittenTime | null {
  const trimmed = text.trim();
  const parts = clock.exec(trimmed);
  if (parts) {
    const [, hours = '0', minutes, seconds] = parts;
    const rest = decimal(seconds);
    if (rest >= 60 || (parts[1] !== undefined && Number(minutes) >= 60)) return null;
    return { value: Number(hours) * 3600 + Number(minutes) * 60 + rest, unit: 's' };
  }
  const found = number.exec(trimmed);
  if (!found) return null;
  const value = decimal(found[1]);
  if (!Number.isFinite(value)) return null;
  const unit = found[2]?.toLowerCase();
  if (unit === undefined) return { value, unit: null };
  return {
    value,
    unit: unit === 'ms' ? 'ms' : unit.startsWith('sm') || unit.startsWith('sam') ? 'samples' : 's',
  };
}

function decimal(text: string): number {
  return Number(text.replace(',', '.'));
}
