/** The barrel's colours as the page's style sheet names them: the editor's theme. */
import type { BarrelColours } from '../../analysis/report/sheet/barrel-drawing.ts';

export const themePalette: BarrelColours = {
  ink: 'var(--ink)',
  quiet: 'var(--quiet)',
  rule: 'var(--rule)',
  within: 'var(--within)',
  late: 'var(--late)',
  early: 'var(--early)',
  ground: 'var(--ground)',
};
