/** Settings that a person says were really fitted, and what can be wrong with one as typed. */
import type { Adjuster } from '../../analysis/machine/schema.ts';

/** Adjuster id → setting that was really fitted. */
export type Fitted = Readonly<Record<string, number>>;

/** What is wrong with a setting as typed, with its mend; null where nothing is. */
export function faultOfSetting(
  adjuster: Pick<Adjuster, 'id' | 'unit' | 'installed' | 'min' | 'max'>,
  text: string,
): readonly [what: string, mend: string] | null {
  const { id, unit, installed, min, max } = adjuster;
  if (!/^[+-]?\d{1,15}$/.test(text.trim()))
    return [
      `"${text}" is no whole number of ${unit}`,
      `write one from ${min} to ${max}, such as ${installed}`,
    ];
  const setting = Number(text);
  if (setting < min || setting > max)
    return [
      `${setting} is outside ${min} to ${max}`,
      `correct the number, or the range of ${id} in machine.jsonc`,
    ];
  return null;
}
