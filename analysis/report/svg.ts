/** Making an SVG file: elements, text that may stand in them, the finished bytes. */
import { oneLine } from './markdown-text.ts';
import { cut } from './reading.ts';

export const svgNamespace = 'http://www.w3.org/2000/svg';

/** Makes one element; text goes in as text, never as markup. */
export type Pen = (
  name: string,
  attributes: Readonly<Record<string, string | number>>,
  text?: string,
) => Element;

export function penFor(document: Document): Pen {
  return (name, attributes, text) => {
    const made = document.createElementNS(svgNamespace, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, `${value}`);
    if (text !== undefined) made.textContent = text;
    return made;
  };
}

/** Text as one line of what an SVG file may contain. */
export function clean(text: string): string {
  return oneLine(text).replaceAll('\u00A0', ' ');
}

export function wrap(text: string, width: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(' ')) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + 1 + word.length <= width)
      lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(cut(word, width));
  }
  return lines;
}

/** Puts a finished plot into a picture: its style sheet gone, since it would be the whole file's. */
export function putInto(
  svg: Element,
  plot: Element,
  { x, y, color, fonts }: { x: number; y: number; color: string; fonts: string },
): void {
  plot.querySelector('style')?.remove();
  for (const name of ['class', 'style']) plot.removeAttribute(name);
  plot.setAttribute('x', `${x}`);
  plot.setAttribute('y', `${y}`);
  plot.setAttribute('color', color);
  plot.setAttribute('font-family', fonts);
  svg.append(plot);
}

/** The file's text: a line to each panel's parts, numbers in shapes to a hundredth of a pixel. */
export function serialise(svg: Element): string {
  const text = svg.outerHTML
    .replace(/<[^>]*>/g, (tag) =>
      tag.replace(/-?\d+\.\d{3,}(e-\d+)?/g, (number) => `${Number(Number(number).toFixed(2))}`),
    )
    .replace(/(<(?:svg|g|text|rect|path|desc)[ >])/g, '\n$1')
    .trim();
  return `${text}\n`;
}
