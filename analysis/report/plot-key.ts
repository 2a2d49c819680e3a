/** The key of the lateness plot: what each shape says. */
import { colours } from './panel.ts';
import type { Pen } from './svg.ts';

/** Triangles about their own middle. */
const pointsUp = 'M-5.4,4.2H5.4L0,-5.2Z';
const pointsDown = 'M-5.4,-4.2H5.4L0,5.2Z';

/** @returns the key in one line that starts at `left` and stands on `baseline` */
export function drawKey(element: Pen, left: number, baseline: number): Element[] {
  const middle = baseline - 4;
  const triangle = (d: string, look: Record<string, string | number>) => (x: number) => [
    element('path', { d, transform: `translate(${x},${middle})`, ...look }),
  ];
  const circle = (look: Record<string, string | number>) => (x: number) => [
    element('circle', { cx: x, cy: middle, ...look }),
  ];
  const bar = (look: Record<string, string | number>) => (x: number) =>
    element('rect', { x: x - 10, width: 20, ...look });
  const line = bar({ y: middle - 1, height: 2, fill: colours.within });
  const interval = bar({ y: middle - 4, height: 8, fill: colours.within, 'fill-opacity': 0.28 });
  const edges = { stroke: colours.bandEdge, 'stroke-dasharray': '5 3', 'stroke-width': 0.8 };
  const band = bar({ y: middle - 6, height: 12, fill: colours.band, ...edges });
  const entries: readonly (readonly [words: string, half: number, draw: (x: number) => Element[]])[] = [
    ['late', 5, triangle(pointsUp, { fill: colours.late })],
    ['early', 5, triangle(pointsDown, { fill: colours.early })],
    [
      'not decided (hollow)',
      5,
      triangle(pointsUp, { fill: 'white', stroke: colours.late, 'stroke-width': 1.6 }),
    ],
    ['in tolerance', 5, circle({ r: 3.8, fill: colours.within })],
    ['mean and its 95 % interval', 10, (x) => [interval(x), line(x)]],
    ['one stroke', 5, circle({ r: 2, fill: colours.stroke, 'fill-opacity': 0.6 })],
    ['tolerance', 10, (x) => [band(x)]],
  ];
  let x = left;
  return entries.flatMap(([words, half, draw]) => {
    const shapes = draw(x + half);
    const label = element(
      'text',
      { x: x + 2 * half + 6, y: baseline, 'font-size': 11, fill: colours.quiet },
      words,
    );
    // Letters of this size are 5.6 px wide on average.
    x += 2 * half + 6 + words.length * 5.6 + 18;
    return [...shapes, label];
  });
}
