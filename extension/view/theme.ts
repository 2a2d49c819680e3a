/** The editor's colours for what is drawn on a canvas; shapes in SVG and text take them from the style sheet by themselves. */

const names = ['ink', 'quiet', 'rule', 'late', 'early', 'accent', 'band', 'ground'] as const;
export type Colours = Readonly<Record<(typeof names)[number], string>>;

export function coloursNow(): Colours {
  const style = getComputedStyle(document.body);
  return Object.fromEntries(names.map((name) => [name, resolved(style, `--${name}`)])) as Colours;
}

/** A canvas knows no `var()` inside a colour; the browser resolves it on an element. */
function resolved(style: CSSStyleDeclaration, name: string): string {
  return style.getPropertyValue(name).trim() || 'currentcolor';
}

/** Calls back after the editor changed its theme. */
export function onThemeChange(redraw: () => void): void {
  let asked = false;
  const observer = new MutationObserver(() => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      redraw();
    });
  });
  // The editor writes its colours on the root's style and the theme's kind on the body's class.
  observer.observe(document.documentElement, { attributes: true, attributeFilter: ['style', 'class'] });
  observer.observe(document.body, { attributes: true, attributeFilter: ['class', 'data-vscode-theme-id'] });
}

/** A canvas of so many CSS pixels, sharp on the screen at hand. */
export function sized(
  canvas: HTMLCanvasElement,
  width: number,
  height: number,
): CanvasRenderingContext2D | null {
  const ratio = window.devicePixelRatio || 1;
  canvas.width = Math.max(1, Math.round(width * ratio));
  canvas.height = Math.max(1, Math.round(height * ratio));
  canvas.style.width = `${width}px`;
  canvas.style.height = `${height}px`;
  const context = canvas.getContext('2d');
  context?.scale(ratio, ratio);
  return context;
}
