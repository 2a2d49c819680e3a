/** Tempo over the take. */
import * as Plot from '@observablehq/plot';
import { tempoWithInterval } from '../../analysis/report/reading.ts';
import type { TempoPoint } from '../protocol/messages.ts';
import type { Context, Part } from './context.ts';
import { make, section } from './element.ts';
import { placed } from './picture.ts';
import { clock } from './stroke-words.ts';

export function tempoPart({ model }: Context): Part {
  const { tempo } = model.head;
  const course = model.message.tempoCourse;
  const reference = model.channels.find((channel) => channel.reference);
  const picture = make('div', { class: 'picture' });
  const element = section('tempo', 'Tempo over the take');
  if (course.length < 2) {
    element.append(make('p', {}, 'There are too few strikes of the reference to show how the tempo went.'));
    return { element };
  }
  const bpms = course.map(({ bpm }) => bpm);
  const [least, most] = [Math.min(...bpms), Math.max(...bpms)];
  const words = `From ${least.toFixed(3)} to ${most.toFixed(3)} beats a minute over ${course.length} stretches of the take`;
  const rows = course.map(({ timeS, bpm, bpmCi95 }) =>
    make(
      'tr',
      {},
      make('th', { scope: 'row' }, clock(timeS)),
      make('td', { class: 'number' }, tempoWithInterval(bpm, bpmCi95)),
    ),
  );
  element.append(
    make(
      'p',
      { class: 'quiet' },
      `${words}, each with its 95 % interval, from the strikes of ${reference?.name ?? 'the reference'}.`,
    ),
    picture,
    make(
      'details',
      {},
      make('summary', {}, 'The same as a table'),
      make(
        'table',
        {},
        make(
          'thead',
          {},
          make(
            'tr',
            {},
            make('th', { scope: 'col' }, 'About'),
            make('th', { scope: 'col' }, 'Beats a minute'),
          ),
        ),
        make('tbody', {}, ...rows),
      ),
    ),
  );
  return { element, redraw: draw };

  function draw(): void {
    const width = Math.max(320, Math.min(1000, picture.clientWidth));
    const plot = Plot.plot({
      width,
      height: 190,
      marginLeft: 62,
      marginTop: 10,
      marginBottom: 26,
      style: { background: 'none', color: 'var(--ink)', fontFamily: 'inherit' },
      x: { domain: [0, model.endS], axis: null },
      y: { nice: true, axis: null },
      marks: [
        Plot.areaY(course, {
          x: 'timeS',
          y1: ({ bpm, bpmCi95 }: TempoPoint) => bpm - bpmCi95,
          y2: ({ bpm, bpmCi95 }: TempoPoint) => bpm + bpmCi95,
          fill: 'var(--ink)',
          fillOpacity: 0.13,
          curve: 'step',
        }),
        tempo.bpm === null
          ? null
          : Plot.ruleY([tempo.bpm], { stroke: 'var(--quiet)', strokeDasharray: '2 4' }),
        Plot.lineY(course, { x: 'timeS', y: 'bpm', stroke: 'var(--ink)', strokeWidth: 1.6, curve: 'step' }),
        Plot.axisX({
          ticks: 8,
          tickSize: 3,
          label: null,
          tickFormat: (s: number) => clock(s).replace('.000', ''),
          color: 'var(--quiet)',
        }),
        Plot.axisY({ ticks: 5, tickSize: 3, label: null, color: 'var(--quiet)' }),
      ],
    });
    picture.replaceChildren(placed(plot, `${words}; the table below says the same.`));
  }
}
