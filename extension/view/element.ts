/**
 * view/: the report page. page.ts receives the report and lays out the sections, each a file of its own; take-model.ts
 * is what they all look things up in. Elements are made here only, and text goes in as text only: names, labels and
 * notes come from strangers.
 */
import { oneLine } from '../../analysis/report/markdown-text.ts';

type Content = Node | string | null;

/**
 * @param attributes `class`, `aria-…`, `data-…` and the like; true sets an empty one, false and null leave it out
 */
export function make<K extends keyof HTMLElementTagNameMap>(
  name: K,
  attributes: Readonly<Record<string, string | number | boolean | null>> = {},
  ...contents: readonly Content[]
): HTMLElementTagNameMap[K] {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes))
    if (value !== null && value !== false)
      made.setAttribute(
        key,
        value === true ? '' : spokenAttribute.test(key) ? plain(`${value}`) : `${value}`,
      );
  made.append(...contents.filter((content) => content !== null).map(inert));
  return made;
}

/** Attributes that people read or hear; others are for the page itself and stay as they are. */
const spokenAttribute = /^(aria-|title$|placeholder$)/;

/** Text turners and control characters would let a name rewrite what stands beside it. */
export function plain(text: string): string {
  // oneLine also trims, and the spaces between words and elements matter here.
  const line = oneLine(text);
  return `${/^\s/.test(text) ? ' ' : ''}${line}${line !== '' && /\s$/.test(text) ? ' ' : ''}`;
}

function inert(content: Node | string): Node | string {
  return typeof content === 'string' ? plain(content) : content;
}

export function button(
  label: string,
  onClick: () => void,
  attributes: Readonly<Record<string, string | number | boolean | null>> = {},
): HTMLButtonElement {
  const made = make('button', { type: 'button', ...attributes }, label);
  made.addEventListener('click', onClick);
  return made;
}

/** Small shapes for late, early and in tolerance; the word always stands beside them or in a label. */
export function mark(kind: string): HTMLSpanElement {
  const shapes: Readonly<Record<string, string>> = {
    late: '▲',
    'maybe-late': '△',
    early: '▼',
    'maybe-early': '▽',
    'maybe-either': '◇',
    within: '●',
    unknown: '–',
  };
  return make('span', { class: `mark ${kind}`, 'aria-hidden': 'true' }, shapes[kind] ?? '●');
}

export function section(id: string, title: string, ...contents: readonly Content[]): HTMLElement {
  return make(
    'section',
    { id, 'aria-labelledby': `${id}-title` },
    make('h2', { id: `${id}-title`, tabindex: -1 }, title),
    ...contents,
  );
}
