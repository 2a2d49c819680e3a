/** The page: receives reports, lays out their parts, keeps what a person has chosen. */
import './no-generated-code.ts';
import type { Advice } from '../../analysis/results/results.ts';
import { type AdviceMessage, type ReportMessage, type ToPage, readToPage } from '../protocol/messages.ts';
import { advicePart, changesOf } from './advice.ts';
import { type AtMachine, atMachine } from './at-machine.ts';
import { barrelPart } from './barrel.ts';
import { chosenStrokePart } from './chosen-stroke.ts';
import type { Choice, Context, Part } from './context.ts';
import { droppedPart } from './dropped.ts';
import { Editor } from './editor.ts';
import { button, make, plain } from './element.ts';
import { findingsPart } from './findings.ts';
import { headingPart } from './heading.ts';
import { hearButtons } from './hear.ts';
import { checksPart } from './checks.ts';
import { historyPart } from './history.ts';
import { listPart } from './list.ts';
import { type EarlierMeans, mapPart, meansOf } from './map.ts';
import { outcomePart } from './outcome.ts';
import { panelsPart } from './panels.ts';
import { modelOf } from './take-model.ts';
import { tempoPart } from './tempo.ts';
import { onThemeChange } from './theme.ts';
import { fittedOf, type Said, saidOf } from './work-said.ts';

const page = document.getElementById('page')!;
const editor = new Editor();
const spoken = make('div', { class: 'unseen', 'aria-live': 'polite', role: 'status' });
const strip = make('div', { class: 'strip', hidden: true });
const body = make('main', {});
let parts: readonly Part[] = [];
let way: AtMachine | null = null;
/** What the editor is writing down now: until it has answered, nothing is sent twice. */
let noting: readonly Said[] | null = null;
let earlier: { readonly take: string; readonly means: EarlierMeans } | null = null;

const stageWords: Readonly<Record<string, string>> = {
  reading: 'Reading the files',
  hearing: 'Listening',
  laying: 'Laying hits on the barrel',
  checking: 'Checking',
  advising: 'Working out advice',
  reporting: 'Writing the report',
  rewriting: 'Writing the take as it is and as advised',
};

window.addEventListener('message', ({ data }) => {
  const message = readToPage(data);
  if (message !== null) receive(message);
});
window.addEventListener('resize', inNextFrame(redraw));
document.addEventListener(
  'scroll',
  // Where the report was left stays known while the work is gone through.
  inNextFrame(() => body.hidden || editor.keep({ scroll: window.scrollY })),
  { passive: true },
);
onThemeChange(redraw);
editor.send({ kind: 'ready' });

function receive(message: ToPage): void {
  switch (message.kind) {
    case 'report':
      return show(message);
    case 'advice':
      return showAdvice(message);
    case 'clips':
    case 'pin':
    case 'history':
      return editor.answer(message);
    case 'progress':
      return showProgress(message.stage, message.fraction);
    case 'notice':
      return say(message.message, 'notice');
    case 'problem':
      endNoting();
      return say(message.message, 'problem');
    case 'noted':
      return showNoted(message.done, message.message);
    case 'at-machine':
      return way?.open();
  }
}

/** What to change now takes the place of what the report said on its day. */
let showAdvice: (message: AdviceMessage) => void = () => undefined;
/** What was said of the work is another now. */
let showSaid: () => void = () => undefined;

/** The editor has answered: what was said may be sent again. */
function endNoting(): void {
  if (noting === null) return;
  noting = null;
  showSaid();
}

function showNoted(done: boolean, words: string | null): void {
  const noted = noting ?? [];
  endNoting();
  if (!done) return say('Nothing was written.', 'notice');
  const left = editor.state.said.filter(
    (each) => each.what !== 'skipped' && !noted.some((one) => saidOf([one], each) === each.what),
  );
  editor.keep({ said: left, atMachine: null });
  showSaid();
  if (words !== null) say(words, 'notice');
}

function show(message: ReportMessage): void {
  editor.begin(message.run);
  let adviceNow: Advice | null = null;
  let openings: AdviceMessage['openings'] = [];
  let record: AdviceMessage['record'] = [];
  for (const part of parts) part.end?.();
  const model = modelOf(message);
  const first = parts.length === 0;
  const sameTake = earlier?.take === message.take;
  if (editor.state.take !== '' && editor.state.take !== message.take)
    editor.keep({ channel: null, timeS: null, listedChannel: null, courses: false, scroll: 0 });
  editor.keep({ take: message.take });

  let choice: Choice = { channel: null, hit: null };
  const context: Context = {
    model,
    get adviceNow() {
      return adviceNow;
    },
    get openings() {
      return openings;
    },
    get record() {
      return record;
    },
    editor,
    mayNote: () => message.mayChange && message.newest === null && adviceNow !== null,
    note() {
      const { said } = editor.state;
      const changes = changesOf(adviceNow!);
      const fitted = fittedOf(said, changes);
      if (noting !== null || fitted.adjusters.length + fitted.others.length === 0) return;
      noting = said.filter((each) => changes.some((change) => saidOf([each], change) !== null));
      editor.send({ kind: 'accept', run: editor.run, ...fitted });
    },
    get choice() {
      return choice;
    },
    choose(next, from) {
      choice = next;
      editor.keep({ channel: next.channel, timeS: next.hit === null ? null : model.hits.timeS[next.hit] });
      for (const part of parts) part.chosen?.(from);
    },
    announce(words) {
      spoken.textContent = plain(words);
    },
  };
  const chosenStroke = chosenStrokePart(context);
  const hear = hearButtons(context);
  let failed = false;
  const ownWay = (way = atMachine(context, (isOpen) => {
    body.hidden = isOpen;
    document.body.classList.toggle('at-machine-open', isOpen);
    // What was told of an earlier deed does not stand above the line on safety.
    if (isOpen && strip.dataset.kind === 'notice') strip.hidden = true;
    if (isOpen) return;
    remakeAdvice();
    redraw();
    window.scrollTo(0, editor.state.scroll);
  }));
  const lead = () => ownWay.open();
  let advice = advicePart(context, hear, lead);
  const remakeAdvice = () => {
    const before = advice;
    advice = advicePart(context, hear, lead, failed);
    before.element.replaceWith(advice.element);
    parts = parts.map((part) => (part === before ? advice : part));
  };
  showAdvice = (now) => {
    if (now.run !== message.run) return;
    ({ advice: adviceNow, openings, record } = now);
    failed = adviceNow === null;
    showSaid();
  };
  showSaid = () => {
    remakeAdvice();
    ownWay.show(failed);
    if (!body.hidden) advice.redraw?.();
  };
  const outcome = outcomePart(context);
  const dropped = droppedPart(context);
  const barrel = barrelPart(context);
  const laid = [
    headingPart(context),
    ...(outcome === null ? [] : [outcome]),
    advice,
    mapPart(context, sameTake ? earlier!.means : null),
    findingsPart(context),
    ...(barrel === null ? [] : [barrel]),
    panelsPart(context, chosenStroke.element),
    tempoPart(context),
    checksPart(context),
    historyPart(context),
    listPart(context, chosenStroke.element),
    ...(dropped === null ? [] : [dropped]),
  ];
  parts = [...laid, chosenStroke, hear];
  earlier = { take: message.take, means: meansOf(model.readings) };
  const scroll = first || body.hidden ? editor.state.scroll : window.scrollY;
  // What a person was told of their own deed is read after it, and the deed itself brings up a newer report.
  if (strip.dataset.kind !== 'notice' || !sameTake) strip.hidden = true;
  body.replaceChildren(...laid.map(({ element }) => element));
  page.replaceChildren(strip, body, ownWay.element, spoken);
  ownWay.show(false);
  redraw();
  const hit = hitAt(model.hits.timeS, editor.state.timeS);
  if (hit !== null || editor.state.channel !== null) {
    const channel = hit === null ? editor.state.channel : model.channelOf(hit);
    if (channel === null || model.channels.some(({ id }) => id === channel))
      context.choose({ channel, hit }, 'keys');
  }
  if (!body.hidden) window.scrollTo(0, scroll);
  page.dataset.run = `${message.run}`;

  page.onkeydown = (event) => {
    const on = event.target as HTMLElement;
    const chooses = on.getAttribute('role') === 'slider' || on.getAttribute('role') === 'grid';
    if (chooses && (event.key === 'Enter' || event.key === ' ')) {
      event.preventDefault();
      chosenStroke.play();
    }
  };
}

/** The hit at a time, as near as an analysis made anew may have moved it. */
function hitAt(timeS: Float64Array, at: number | null): number | null {
  if (at === null) return null;
  let best: number | null = null;
  for (let i = 0; i < timeS.length; i++)
    if (
      Math.abs(timeS[i] - at) < 2e-3 &&
      (best === null || Math.abs(timeS[i] - at) < Math.abs(timeS[best] - at))
    )
      best = i;
  return best;
}

function redraw(): void {
  if (body.hidden) return;
  for (const part of parts) part.redraw?.();
}

function showProgress(stage: string | null, fraction: number): void {
  document.body.classList.toggle('busy', stage !== null);
  if (stage === null) {
    if (strip.dataset.kind === 'progress') strip.hidden = true;
    return;
  }
  const words = stageWords[stage] ?? stage;
  if (strip.dataset.kind !== 'progress' || strip.hidden) {
    strip.dataset.kind = 'progress';
    strip.replaceChildren(
      make('span', { role: 'status' }, words),
      make('progress', { max: 1, 'aria-label': 'Analysis' }),
      button('Stop', () => editor.send({ kind: 'stop' }), { class: 'plain small' }),
    );
    strip.hidden = false;
  }
  const [label, bar] = strip.children as unknown as [HTMLElement, HTMLProgressElement];
  if (label.textContent !== words) label.textContent = words;
  bar.value = fraction;
  if (!page.contains(strip)) page.prepend(strip);
}

function say(words: string, kind: 'notice' | 'problem'): void {
  for (const blocked of document.querySelectorAll<HTMLButtonElement>('form button[disabled]'))
    blocked.disabled = false;
  strip.dataset.kind = kind;
  strip.replaceChildren(
    make('span', { role: kind === 'problem' ? 'alert' : 'status' }, words),
    button('Close', () => (strip.hidden = true), { class: 'plain small' }),
  );
  strip.hidden = false;
  page.querySelector('.waiting')?.remove();
  if (!page.contains(strip)) page.prepend(strip);
}

/** Once a frame at most. */
function inNextFrame(act: () => void): () => void {
  let asked = false;
  return () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      act();
    });
  };
}
