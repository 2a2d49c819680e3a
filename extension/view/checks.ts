/** What each check measured, found or not: its sentences, its plot, its table. Plots are drawn when they come near the screen. */
import type { Context, Part } from './context.ts';
import { make, section } from './element.ts';
import { drawInto, pointsTable, tableOf } from './section-picture.ts';

export function checksPart({ model }: Context): Part {
  const sections = model.head.sections ?? [];
  const element = section('checks', 'What the checks measured');
  if (sections.length === 0) element.append(make('p', {}, 'No check had anything more to say.'));
  const drawn = new Map<Element, () => void>();
  const near = new IntersectionObserver(
    (entries) => {
      for (const { target, isIntersecting } of entries) if (isIntersecting) drawn.get(target)?.();
    },
    { rootMargin: '400px' },
  );
  for (const { title, sentences, table, plot } of sections) {
    const box = make('article', { class: 'check', 'aria-label': title }, make('h3', {}, title));
    box.append(...sentences.map((sentence) => make('p', {}, sentence)));
    if (plot !== undefined) {
      const picture = make('div', { class: 'picture section-picture' });
      box.append(picture);
      drawn.set(picture, () => drawInto(picture, plot, `${title}: ${sentences.join(' ')}`));
      near.observe(picture);
    }
    if (table !== undefined)
      box.append(
        make(
          'details',
          {},
          make('summary', {}, 'In figures'),
          make('div', { class: 'across' }, tableOf(table.columns, table.rows)),
        ),
      );
    else if (plot !== undefined) box.append(pointsTable(plot));
    element.append(box);
  }
  return {
    element,
    redraw() {
      // An observer speaks up again for what is on the screen.
      for (const picture of drawn.keys()) {
        near.unobserve(picture);
        near.observe(picture);
      }
    },
    end: () => near.disconnect(),
  };
}
