/** The barrel unrolled as markup, from the machine and, where a take was analysed, from how it found the pins. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { drawBarrel, mostPins } from '../../analysis/report/sheet/barrel-drawing.ts';
import { viewOfMachine } from '../../analysis/report/sheet/barrel-view.ts';
import { laidPins } from '../../analysis/report/sheet/laid-pins.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import { emptyDocument } from './empty-document.ts';
import { themePalette } from './theme-palette.ts';

/**
 * @param tune   whose pins; undefined of a machine with one pattern
 * @param report of a take of that tune; null shows the pattern alone
 * @returns an svg element's markup; null where there are more pins than a drawing can show apart
 */
export function barrelText(
  machine: Machine,
  tune: string | undefined,
  report: EarlierReport | null,
): string | null {
  const view = viewOfMachine(machine, tune);
  if (view.pins.length > mostPins) return null;
  return drawBarrel(view, laidPins(view, report), emptyDocument(), themePalette).outerHTML;
}
