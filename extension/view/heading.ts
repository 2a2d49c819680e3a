/** The verdict, before everything else: what is the matter with this take in one sentence. */
import { plural, tempoWithInterval, verdictOf } from '../../analysis/report/reading.ts';
import type { Context, Part } from './context.ts';
import { button, make } from './element.ts';
import { pngOf } from './save-picture.ts';
import { asReport } from './take-model.ts';

const stateWords = {
  'in-tolerance': 'In tolerance',
  'out-of-tolerance': 'Out of tolerance',
  unsure: 'Not decided',
  'not-measured': 'Not measured',
} as const;

const places = [
  ['outcome', 'Did it work?'],
  ['advice', 'What to change'],
  ['map', 'Channels and sectors'],
  ['findings', 'Findings'],
  ['channels', 'Every stroke'],
  ['tempo', 'Tempo'],
  ['checks', 'Checks'],
  ['history', 'Over the takes'],
  ['list', 'List of strokes'],
] as const;

export function headingPart(context: Context): Part {
  const { model, editor } = context;
  const { head, hits, message } = model;
  const verdict = verdictOf(asReport(head));
  const { bpm, bpmCi95, secondsPerTurn } = head.tempo;
  const facts = [
    head.recorded === null ? 'date not known' : head.recorded.replace('T', ' '),
    bpm === null ? 'tempo not known' : `${tempoWithInterval(bpm, bpmCi95)} beats a minute`,
    ...(secondsPerTurn === null ? [] : [`${secondsPerTurn.toFixed(3)} s a turn`]),
    plural(hits.timeS.length, 'hit'),
  ];
  const sentence = verdict.sentence.replace(/^(Out of tolerance|In tolerance|Not decided): /, '');
  const element = make(
    'header',
    { class: 'heading' },
    make(
      'p',
      { class: 'which' },
      make('strong', {}, head.machine),
      ' · ',
      head.take,
      head.tune === undefined ? '' : ` (${head.tune})`,
    ),
    make(
      'h1',
      { class: `verdict ${verdict.state}` },
      make('span', { class: 'plate' }, stateWords[verdict.state]),
      ' ',
      make('span', {}, sentence.charAt(0).toUpperCase() + sentence.slice(1)),
    ),
    make(
      'ul',
      { class: 'facts', 'aria-label': 'About this take' },
      ...facts.map((fact) => make('li', {}, fact)),
    ),
  );
  const picture = button('Save picture', () => void save(), {
    class: 'plain',
    title: 'Machine, take, verdict, every channel and what to change, as one PNG',
  });
  if (message.mayChange)
    element.append(
      make(
        'p',
        { class: 'analyse' },
        picture,
        button('Analyse again', () => editor.send({ kind: 'analyse' }), { class: 'plain' }),
      ),
    );
  else
    element.append(
      make('p', { class: 'quiet' }, 'This workspace is not trusted: the page shows, and changes nothing.'),
    );
  const nav = make('nav', { 'aria-label': 'Parts of the report' });
  for (const [id, words] of places)
    if (id !== 'outcome' || head.outcome !== undefined)
      nav.append(button(words, () => goTo(id), { class: 'place' }));
  element.append(nav);
  return { element };

  async function save(): Promise<void> {
    picture.disabled = true;
    try {
      const png = await pngOf(model, context.adviceNow ?? head.advice);
      if (png === null) picture.textContent = 'No picture could be made here';
      else editor.send({ kind: 'save-picture', run: editor.run, png });
    } finally {
      picture.disabled = false;
    }
  }
}

/** Addresses with a mark do not move a webview; this does, and takes the reader along. */
function goTo(id: string): void {
  document.getElementById(id)?.scrollIntoView({ block: 'start' });
  document.getElementById(`${id}-title`)?.focus({ preventScroll: true });
}
