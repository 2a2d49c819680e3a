/** The barrel unrolled: every pin where it sits, coloured and shaped by how it strikes, with an arrow where it sits in another hole. */
import { drawBarrel, mostPins } from '../../analysis/report/sheet/barrel-drawing.ts';
import { viewOfReport } from '../../analysis/report/sheet/barrel-view.ts';
import { laidPins } from '../../analysis/report/sheet/laid-pins.ts';
import { themePalette } from '../common/theme-palette.ts';
import type { Context, Part } from './context.ts';
import { make, section } from './element.ts';

/** null where the report does not say what the barrel was, or it has more pins than a drawing can show apart */
export function barrelPart({ model }: Context): Part | null {
  const view = viewOfReport(model.head);
  if (view === null || view.pins.length > mostPins) return null;
  const drawing = drawBarrel(view, laidPins(view, model.head), document, themePalette);
  return { element: section('barrel', 'The barrel unrolled', make('div', { class: 'barrel' }, drawing)) };
}
