/** Points of a plot as the report keeps them: few enough to draw, with the digits that can be seen. */

/** A plot is some hundred pixels wide: more points would fall on each other. */
const most = 600;
/** An hour in milliseconds has seven; no plot shows more. */
const digits = 7;

export type Point = [number, number];

/**
 * @param points in the order in which a line would join them
 * @returns all of them; where they are too many, the lowest and the highest of every stretch, in their order
 */
export function thinned(points: readonly Point[]): Point[] {
  const kept = points.length <= most ? points : envelope(points);
  return kept.map(([x, y]) => [rounded(x), rounded(y)]);
}

function envelope(points: readonly Point[]): Point[] {
  const stretches = most / 2;
  return Array.from({ length: stretches }, (_, k) => {
    const own = points.slice(
      Math.floor((k * points.length) / stretches),
      Math.floor(((k + 1) * points.length) / stretches),
    );
    const [low, high] = own.reduce(
      ([least, greatest], point, i) => [
        point[1] < own[least][1] ? i : least,
        point[1] > own[greatest][1] ? i : greatest,
      ],
      [0, 0],
    );
    return [...new Set([Math.min(low, high), Math.max(low, high)])].map((i) => own[i]);
  }).flat();
}

function rounded(value: number): number {
  return Number(value.toPrecision(digits));
}

/** A plot of one series has no key: its axis names it. */
export function axisLabel(label: string, series: readonly { readonly name: string }[]): string {
  return series.length === 1 ? `${label}: ${series[0].name}` : label;
}
