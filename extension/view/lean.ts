/** A lateness as a small bar from the due line: to the right is late, to the left is early, as time runs. */

const width = 64;
const height = 16;
/** The bar reaches so many tolerances either way; more is cut there with an open end. */
const reach = 3;
const svg = 'http://www.w3.org/2000/svg';

export function leanBar(
  meanMs: number | null,
  ci95Ms: number | null,
  toleranceMs: number,
  kind: string,
): SVGSVGElement {
  const picture = document.createElementNS(svg, 'svg');
  const shape = (name: string, attributes: Readonly<Record<string, string | number>>) => {
    const made = document.createElementNS(svg, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, `${value}`);
    picture.append(made);
  };
  picture.setAttribute('viewBox', `0 0 ${width} ${height}`);
  picture.setAttribute('class', `lean ${kind}`);
  picture.setAttribute('aria-hidden', 'true');
  const middle = width / 2;
  const scale = (middle - 3) / reach;
  const at = (ms: number) => middle + Math.max(-reach, Math.min(reach, ms / toleranceMs)) * scale;
  shape('rect', { class: 'room', x: at(-toleranceMs), y: 2, width: 2 * scale, height: height - 4 });
  shape('path', { class: 'due', d: `M${middle},1V${height - 1}` });
  if (meanMs === null) return picture;
  const end = at(meanMs);
  shape('rect', {
    class: 'arm',
    x: Math.min(middle, end),
    y: 6,
    width: Math.max(1, Math.abs(end - middle)),
    height: 4,
  });
  if (ci95Ms !== null) {
    const [from, to] = [at(meanMs - ci95Ms), at(meanMs + ci95Ms)];
    shape('path', { class: 'doubt', d: `M${from},8H${to}M${from},5V11M${to},5V11` });
  }
  if (Math.abs(meanMs) > reach * toleranceMs) {
    const way = Math.sign(meanMs);
    shape('path', { class: 'beyond', d: `M${end - way * 3},3L${end},8L${end - way * 3},13` });
  }
  return picture;
}
