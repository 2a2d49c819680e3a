/**
 * Channels against sectors, one cell a group: the whole machine at a glance, and the table that says the same as the
 * plots to those who hear the page.
 */
import {
  type Reading,
  judgementWords,
  meantNote,
  signed,
  withInterval,
} from '../../analysis/report/reading.ts';
import type { Context, Part } from './context.ts';
import { make, mark, section } from './element.ts';
import { leanBar } from './lean.ts';

/** Means of the report shown before this one, to show what an analysis changed. */
export type EarlierMeans = ReadonlyMap<string, number | null>;

export function meansOf(readings: readonly Reading[]): EarlierMeans {
  return new Map(readings.map((reading) => [keyOf(reading), reading.group.meanMs]));
}

function keyOf({ channel, sector }: Reading): string {
  return JSON.stringify([channel.id, sector]);
}

/** A change smaller than the figures shown is none. */
const shownChangeMs = 0.005;

export function mapPart(context: Context, earlier: EarlierMeans | null): Part {
  const { model } = context;
  const byPlace = new Map(model.readings.map((reading) => [keyOf(reading), reading]));
  const table = make('table', { class: 'map', 'aria-describedby': 'map-key' });
  table
    .createTHead()
    .append(
      make(
        'tr',
        {},
        make('th', { scope: 'col' }, 'Channel'),
        ...model.sectors.map((sector) => make('th', { scope: 'col' }, sector)),
      ),
    );
  const body = table.createTBody();
  const cells: HTMLButtonElement[][] = [];
  for (const channel of model.channels) {
    const row = make('tr', {});
    const name = make(
      'th',
      { scope: 'row' },
      channel.name,
      channel.reference ? make('span', { class: 'tag' }, 'reference') : null,
      channel.meant === undefined ? null : make('span', { class: 'tag' }, channel.meant),
    );
    row.append(name);
    const line: HTMLButtonElement[] = [];
    for (const sector of model.sectors) {
      const reading = byPlace.get(JSON.stringify([channel.id, sector]));
      if (reading === undefined) {
        row.append(make('td', { class: 'empty' }, make('span', { class: 'unseen' }, 'no pins')));
        continue;
      }
      const cell = cellOf(reading, earlier);
      cell.addEventListener('click', () => choose(reading));
      line.push(cell);
      row.append(make('td', {}, cell));
    }
    if (line.length > 0) cells.push(line);
    body.append(row);
  }
  arrowsMove(cells);
  const key = make(
    'p',
    { class: 'quiet', id: 'map-key' },
    'Mean lateness in ms. Bars lean right for late, left for early, from the line where the stroke was due; the pale field is the tolerance, the thin line the 95 % interval. ',
    meantNote(model.channels) === '' ? null : `${meantNote(model.channels)} `,
    ...(
      [
        ['late', 'late'],
        ['early', 'early'],
        ['maybe-late', 'not decided'],
        ['maybe-either', 'too unsure to say'],
        ['within', 'in tolerance'],
      ] as const
    ).map(([kind, words]) => make('span', { class: 'key' }, mark(kind), ` ${words}`)),
  );
  const box = make('div', { class: 'across', tabindex: -1 }, table);
  const element = section('map', 'Channels and sectors', changesLine(model.readings, earlier), key, box);
  return { element, chosen: showChosen };

  function choose({ channel, sector }: Reading): void {
    // The stroke nearest to the group's mean stands for it.
    const mean = byPlace.get(JSON.stringify([channel.id, sector]))?.group.meanMs ?? 0;
    const own = [...model.hitsOf(channel.id)].filter(
      (hit) => model.sectorOf(hit) === sector && model.whyOf(hit) === null,
    );
    const distance = (hit: number) => Math.abs(model.hits.latenessMs[hit] - mean);
    const hit = own.reduce<number | null>((a, b) => (a === null || distance(b) < distance(a) ? b : a), null);
    context.choose({ channel: channel.id, hit }, 'map');
  }

  function showChosen(): void {
    const { channel, hit } = context.choice;
    const key = hit === null ? '' : JSON.stringify([channel, model.sectorOf(hit)]);
    for (const cell of cells.flat()) cell.classList.toggle('chosen', cell.dataset.key === key);
  }
}

function cellOf(reading: Reading, earlier: EarlierMeans | null): HTMLButtonElement {
  const { channel, sector, group, judgement } = reading;
  const was = earlier?.get(keyOf(reading));
  const changed = isChanged(was, group.meanMs);
  const words = [
    `${channel.name}, sector ${sector}: `,
    group.meanMs === null ? '' : `${withInterval(group.meanMs, group.ci95Ms)} ms, `,
    judgementWords[judgement].toLowerCase(),
    `, ${group.count} strokes`,
    changed ? `, was ${signed(was ?? null)}` : '',
  ].join('');
  const cell = make(
    'button',
    {
      type: 'button',
      class: `cell ${judgement}`,
      'aria-label': words,
      title: words,
      'data-key': keyOf(reading),
    },
    leanBar(group.meanMs, group.ci95Ms, channel.toleranceMs, judgement),
    make('span', { class: 'figure' }, mark(judgement), ` ${signed(group.meanMs)}`),
  );
  if (changed) cell.append(make('span', { class: 'was' }, `was ${signed(was ?? null)}`));
  return cell;
}

function isChanged(was: number | null | undefined, now: number | null): boolean {
  if (was === undefined) return false;
  return was === null || now === null ? was !== now : Math.abs(was - now) >= shownChangeMs;
}

function changesLine(readings: readonly Reading[], earlier: EarlierMeans | null): HTMLElement | null {
  if (earlier === null) return null;
  const changed = readings.filter((reading) => isChanged(earlier.get(keyOf(reading)), reading.group.meanMs));
  const words =
    changed.length === 0
      ? 'Analysed again: no mean has changed.'
      : `Analysed again: ${changed.length} of ${readings.length} means have changed; each says what it was.`;
  return make('p', { class: 'changes', role: 'status' }, words);
}

/** One stop for the tab key; arrows go from cell to cell. */
function arrowsMove(cells: readonly (readonly HTMLButtonElement[])[]): void {
  cells.flat().forEach((cell, i) => (cell.tabIndex = i === 0 ? 0 : -1));
  cells.forEach((line, row) => {
    line.forEach((cell, column) => {
      cell.addEventListener('keydown', (event) => {
        const next = {
          ArrowRight: line[column + 1],
          ArrowLeft: line[column - 1],
          ArrowDown: cells[row + 1]?.[Math.min(column, cells[row + 1].length - 1)],
          ArrowUp: cells[row - 1]?.[Math.min(column, cells[row - 1].length - 1)],
          Home: line[0],
          End: line.at(-1),
        }[event.key];
        if (next === undefined) return;
        event.preventDefault();
        cells.flat().forEach((other) => (other.tabIndex = other === next ? 0 : -1));
        next.focus();
      });
    });
  });
}
