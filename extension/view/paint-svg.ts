/**
 * An SVG drawing as pixels. The page's policy lets no picture load, and a browser turns SVG into pixels only as a loaded one:
 * so its shapes are painted one by one, where and how the browser has laid them out.
 */

/**
 * @param svg   in the document and laid out, with a viewBox or a size; made of rect, line, path, circle and text
 * @param scale pixels of the canvas a pixel of the drawing
 * @returns null where the browser gives no canvas
 */
export function paintSvg(svg: SVGSVGElement, scale: number): HTMLCanvasElement | null {
  const { width, height } = svg.getBoundingClientRect();
  const canvas = document.createElement('canvas');
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  const context = canvas.getContext('2d');
  const { left, top } = svg.getBoundingClientRect();
  if (context === null) return null;
  for (const shape of svg.querySelectorAll<SVGGraphicsElement>('rect, line, path, circle, text')) {
    const at = shape.getScreenCTM();
    if (at === null) continue;
    context.setTransform(
      at.a * scale,
      at.b * scale,
      at.c * scale,
      at.d * scale,
      (at.e - left) * scale,
      (at.f - top) * scale,
    );
    if (shape instanceof SVGTextElement) paintText(context, shape, svg);
    else paintShape(context, shape, svg);
  }
  return canvas;
}

function paintShape(context: CanvasRenderingContext2D, shape: SVGGraphicsElement, svg: SVGSVGElement): void {
  const path = pathOf(shape);
  const { fill, stroke } = inkOf(context, shape, svg);
  if (fill !== null && !(shape instanceof SVGLineElement)) {
    context.globalAlpha = fill;
    context.fill(path);
  }
  if (stroke !== null) {
    context.globalAlpha = stroke;
    context.stroke(path);
  }
}

function pathOf(shape: SVGGraphicsElement): Path2D {
  if (shape instanceof SVGPathElement) return new Path2D(shape.getAttribute('d') ?? '');
  const path = new Path2D();
  if (shape instanceof SVGRectElement) {
    const { x, y, width, height } = shape;
    path.rect(x.baseVal.value, y.baseVal.value, width.baseVal.value, height.baseVal.value);
  } else if (shape instanceof SVGCircleElement)
    path.arc(shape.cx.baseVal.value, shape.cy.baseVal.value, shape.r.baseVal.value, 0, 2 * Math.PI);
  else if (shape instanceof SVGLineElement) {
    path.moveTo(shape.x1.baseVal.value, shape.y1.baseVal.value);
    path.lineTo(shape.x2.baseVal.value, shape.y2.baseVal.value);
  }
  return path;
}

/** Each run of letters with one style from where the browser has put its first one. */
function paintText(context: CanvasRenderingContext2D, text: SVGTextElement, svg: SVGSVGElement): void {
  const runs = document.createTreeWalker(text, NodeFilter.SHOW_TEXT);
  let first = 0;
  for (let run = runs.nextNode(); run !== null; run = runs.nextNode()) {
    const letters = run.textContent ?? '';
    if (letters === '' || first >= text.getNumberOfChars()) continue;
    const owner = run.parentElement as Element as SVGElement;
    const { x, y } = text.getStartPositionOfChar(first);
    first += letters.length;
    const { fontStyle, fontWeight, fontSize, fontFamily } = getComputedStyle(owner);
    const { fill, stroke } = inkOf(context, owner, svg);
    context.font = `${fontStyle} ${fontWeight} ${fontSize} ${fontFamily}`;
    if (stroke !== null) {
      context.globalAlpha = stroke;
      context.strokeText(letters, x, y);
    }
    if (fill !== null) {
      context.globalAlpha = fill;
      context.fillText(letters, x, y);
    }
  }
}

/** Sets colours and line; opacities, or null where there is nothing to paint. */
function inkOf(
  context: CanvasRenderingContext2D,
  element: SVGElement,
  svg: SVGSVGElement,
): { fill: number | null; stroke: number | null } {
  const style = getComputedStyle(element);
  let opacity = 1;
  for (let each: Element | null = element; each !== null && each !== svg; each = each.parentElement)
    opacity *= Number(getComputedStyle(each).opacity);
  const width = parseFloat(style.strokeWidth);
  context.fillStyle = style.fill;
  context.strokeStyle = style.stroke;
  context.lineWidth = width;
  context.lineCap = style.strokeLinecap as CanvasLineCap;
  context.lineJoin = style.strokeLinejoin as CanvasLineJoin;
  context.setLineDash(
    style.strokeDasharray === 'none' ? [] : style.strokeDasharray.split(/[ ,]+/).map(parseFloat),
  );
  return {
    fill: style.fill === 'none' ? null : opacity * Number(style.fillOpacity),
    stroke: style.stroke === 'none' || width === 0 ? null : opacity * Number(style.strokeOpacity),
  };
}
