/** A plot made fit for this page's policy and for those who hear it. */

import { plain } from './element.ts';

/**
 * @param plot what Observable Plot drew; it brings a style sheet of its own, which the policy refuses, and style/plots.css
 *             says the little of it that is needed
 */
export function placed(plot: SVGSVGElement | HTMLElement, words: string): SVGSVGElement | HTMLElement {
  plot.querySelector('style')?.remove();
  plot.setAttribute('role', 'img');
  plot.setAttribute('aria-label', plain(words));
  plot.classList.add('plot');
  return plot;
}
