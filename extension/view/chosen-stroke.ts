/** The chosen stroke: what it is, its pin, its sound, its waveform beside others, and a person’s word. */
import { figures, signed, withInterval } from '../../analysis/report/reading.ts';
import { none } from '../protocol/page-report.ts';
import { byEar } from './by-ear.ts';
import type { Context, Part } from './context.ts';
import { correctionForm } from './correction.ts';
import { button, make } from './element.ts';
import { Player } from './sound.ts';
import { clock, latenessFigure, latenessWords, strokeWords, turnWords } from './stroke-words.ts';
import { Traces } from './traces.ts';

export function chosenStrokePart(context: Context): Part & { play(): void } {
  const { model, editor } = context;
  const player = new Player(editor);
  const traces = new Traces(context);
  const ear = byEar(context);
  const about = make('div', { class: 'about' });
  const element = make(
    'div',
    { class: 'chosen-stroke', role: 'region', 'aria-label': 'The chosen stroke' },
    about,
    ear.element,
    traces.element,
  );
  element.hidden = true;

  return {
    element,
    chosen() {
      const { channel, hit } = context.choice;
      element.hidden = channel === null && hit === null;
      about.replaceChildren(...(hit === null ? [] : describe(hit)));
      ear.chosen();
      ear.element.hidden = hit === null || model.head.tracks.length === 0;
      traces.element.hidden = channel === null;
      if (hit !== null) context.announce(strokeWords(model, hit));
      // Laid out first, or there is no width to draw in.
      requestAnimationFrame(() => void traces.show());
    },
    redraw: () => traces.draw(),
    end() {
      player.end();
      ear.end();
    },
    play,
  };

  function describe(hit: number): HTMLElement[] {
    const { hits } = model;
    const step = hits.step[hit];
    const channel = model.channelOf(hit);
    const pin = model.head.pins.find((row) => row.channel === channel && row.step === step);
    const why = model.whyOf(hit);
    const track = model.head.tracks.at(hits.track[hit] === none ? model.head.tracks.length : hits.track[hit]);
    const sd = hits.timeSdS[hit];
    const facts: readonly (readonly [string, string] | null)[] = [
      ['Lateness', `${latenessFigure(hits.latenessMs[hit])} ms`],
      ['At', clock(hits.timeS[hit])],
      ['Known to', Number.isFinite(sd) ? `${(sd * 1e6).toFixed(sd < 1e-5 ? 1 : 0)} µs (one sd)` : '–'],
      ['Sector', model.sectorOf(hit) ?? '–'],
      ['Turn', turnWords(hits.turn[hit])],
      ['Pin', step === none ? 'none here' : `step ${step}`],
      pin === undefined
        ? null
        : ['Pin’s mean', `${withInterval(pin.meanMs, pin.ci95Ms)} ms over ${pin.count}`],
      pin === undefined
        ? null
        : ['Pin’s repeatability', pin.repeatabilityMs === null ? '–' : `${figures(pin.repeatabilityMs)} ms`],
      ['Recorded in', track === undefined ? 'markers alone' : `${track.file}, track ${track.track + 1}`],
      why === null ? null : ['Set aside', why],
    ];
    const heading = make('h4', {}, `${model.nameOf(channel)}, ${latenessWords(hits.latenessMs[hit])}`);
    const list = make('dl', {});
    for (const fact of facts)
      if (fact !== null) list.append(make('div', {}, make('dt', {}, fact[0]), make('dd', {}, fact[1])));
    const actions = make(
      'p',
      { class: 'actions' },
      button('Play', play, { class: 'main', title: 'Play this stroke' }),
    );
    if (step !== none && channel !== null) {
      actions.append(...pinButtons(hit, channel, step));
      if (model.message.patternInText)
        actions.append(
          button('Show in pattern.csv', () => editor.send({ kind: 'show-pin', channel, step }), {
            class: 'plain',
          }),
        );
    }
    const parts: HTMLElement[] = [heading, list, actions];
    if (model.message.mayChange) {
      const fold = make(
        'details',
        { class: 'correct' },
        make('summary', {}, 'This hit is wrong…'),
        correctionForm(context, hit),
      );
      parts.push(fold);
    }
    return parts;
  }

  /** The same pin a turn before and after. */
  function pinButtons(hit: number, channel: string, step: number): HTMLElement[] {
    const same = model.hitsOf(channel).filter((other) => model.hits.step[other] === step);
    const place = same.indexOf(hit);
    const to = (label: string, other: number | undefined) => {
      const made = button(
        label,
        () => other !== undefined && context.choose({ channel, hit: other }, 'keys'),
        {
          class: 'plain',
          title:
            other === undefined
              ? 'no other stroke of this pin'
              : `${signed(model.hits.latenessMs[other])} ms`,
        },
      );
      made.disabled = other === undefined;
      return made;
    };
    return [to('Same pin, turn before', same[place - 1]), to('Turn after', same[place + 1])];
  }

  function play(): void {
    const { hit } = context.choice;
    if (hit === null) return;
    player
      .play(null, model.hits.track[hit], model.hits.timeS[hit])
      .catch((error: unknown) => `The sound could not be played: ${String(error)}`)
      .then((why) => why !== null && context.announce(why))
      .catch(() => undefined);
  }
}
