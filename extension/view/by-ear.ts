/** Close listening to the chosen stroke: its pin in a loop or its channel from there on, alone, slower, the reference beside it. */
import { evenlyWithEnds } from '../../analysis/numbers/evenly.ts';
import { plural } from '../../analysis/report/reading.ts';
import { type ClipWant, longestClipS } from '../protocol/messages.ts';
import { none } from '../protocol/page-report.ts';
import type { Context } from './context.ts';
import { inARow, letThrough, soundsAlone, type Span, stitched } from './ear-mix.ts';
import { button, make, plain } from './element.ts';
import { Player } from './sound.ts';

/** About one stroke of a pin, s: long enough to hear what its neighbours do. */
const [beforeS, afterS] = [0.2, 0.5];
/** Strokes of a pin in a loop at most: with the reference's they are one request for clips. */
const mostStrokes = 24;
/** Of a channel from the chosen stroke on, s. */
const longestS = 8;

export interface ByEar {
  readonly element: HTMLElement;
  /** Another stroke may be chosen: what is heard is the chosen one or nothing. */
  chosen(): void;
  end(): void;
}

export function byEar(context: Context): ByEar {
  const { model, editor } = context;
  const player = new Player(editor);
  const reference = model.channels.find((channel) => channel.reference)?.id ?? null;
  const said = make('span', { class: 'quiet', role: 'status' });
  /** What is played; null while nothing is. */
  let playing: number | null = null;
  const stop = () => {
    player.stop();
    playing = null;
    say('');
  };
  const element = make(
    'details',
    { class: 'by-ear' },
    make('summary', {}, 'Listen closely'),
    make(
      'fieldset',
      { class: 'choice' },
      make('legend', {}, 'Hear'),
      radio('pin', 'this pin, turn after turn, in a loop'),
      radio('channel', `this channel from here on, ${longestS} s`),
    ),
    make(
      'p',
      { class: 'choice' },
      tick('alone', 'alone: silence where others strike'),
      tick('half', 'half as fast, an octave lower'),
      reference === null ? null : tick('sides', 'the reference left, this channel right'),
    ),
    make(
      'p',
      { class: 'actions' },
      button(
        'Listen',
        () => void listen().catch((error: unknown) => say(`It could not be played: ${String(error)}`)),
        {
          class: 'main',
        },
      ),
      button('Stop', stop, { class: 'plain' }),
      said,
    ),
  );
  return {
    element,
    chosen() {
      if (playing !== null && playing !== context.choice.hit) stop();
    },
    end: () => player.end(),
  };

  function say(words: string): void {
    said.textContent = plain(words);
  }

  function radio(what: 'pin' | 'channel', words: string): HTMLElement {
    const input = make('input', { type: 'radio', name: 'ear', value: what });
    input.checked = editor.state.ear.what === what;
    input.addEventListener('change', () => editor.keep({ ear: { ...editor.state.ear, what } }));
    return make('label', {}, input, ` ${words}`);
  }

  function tick(key: 'alone' | 'half' | 'sides', words: string): HTMLElement {
    const input = make('input', { type: 'checkbox' });
    input.checked = editor.state.ear[key];
    input.addEventListener('change', () =>
      editor.keep({ ear: { ...editor.state.ear, [key]: input.checked } }),
    );
    return make('label', {}, input, ` ${words}`);
  }

  async function listen(): Promise<void> {
    const { hit } = context.choice;
    const channel = hit === null ? null : model.channelOf(hit);
    if (hit === null || channel === null) return say('Choose a stroke of a channel first.');
    const track = model.hits.track[hit];
    if (track === none) return say('This hit is known from a marker alone, so there is no sound to play.');
    player.ready();
    const { what, alone, half, sides } = editor.state.ear;
    const strokes = what === 'pin' ? strokesOfPin(hit, channel) : [hit];
    const spans = strokes.map((stroke): Span => {
      const timeS = model.hits.timeS[stroke];
      const toS = what === 'pin' ? timeS + afterS : timeS - beforeS + longestS;
      return { fromS: Math.max(0, timeS - beforeS), toS };
    });
    const beside = sides && reference !== null && reference !== channel ? reference : null;
    const besideTrack = beside === null ? null : trackOf(beside);
    if (beside !== null && besideTrack === null)
      return say('The reference has no sound of its own in this take.');
    const tracks = [...(besideTrack === null ? [] : [besideTrack]), track];
    const wants = tracks.flatMap((each) => spans.flatMap((span) => wantsOf(each, span)));
    say('Fetching sound…');
    const { clips, why } = await editor.clips(null, wants);
    const sampleRate = clips.find((clip) => clip !== null)?.sampleRate;
    if (sampleRate === undefined) return say(why ?? 'There is no sound at this time.');
    const row = (own: string, ownTrack: number) =>
      inARow(
        spans.map(({ fromS, toS }) => {
          const here = clips.filter(
            (_, i) => wants[i].track === ownTrack && wants[i].fromS >= fromS && wants[i].toS <= toS,
          );
          const samples = stitched(here, sampleRate, fromS, Math.round((toS - fromS) * sampleRate));
          // Two channels of one track are on either side only where each is heard alone.
          const isAlone = alone || ownTrack === (own === channel ? besideTrack : track);
          return isAlone
            ? letThrough(samples, sampleRate, fromS, aloneIn(own, ownTrack, { fromS, toS }))
            : samples;
        }),
        sampleRate,
      );
    const right = row(channel, track);
    const sound = beside === null || besideTrack === null ? [right] : [row(beside, besideTrack), right];
    if (context.choice.hit !== hit) return;
    playing = hit;
    player.start(sound, sampleRate, { loop: what === 'pin', speed: half ? 0.5 : 1 });
    const name = model.nameOf(channel);
    say(
      [
        what === 'pin'
          ? `Playing ${plural(strokes.length, 'stroke')} of this pin in a loop`
          : `Playing ${name} from here on`,
        ...(half ? ['half as fast'] : []),
        ...(beside === null ? [] : [`${model.nameOf(beside)} left, ${name} right`]),
        ...(besideTrack === track
          ? ['both are on one track, so what strikes together is heard on both sides']
          : []),
        ...(why === null ? [] : [why]),
      ].join('; '),
    );
  }

  /** In time order, the chosen one among them; a hit without a pin alone. */
  function strokesOfPin(hit: number, channel: string): readonly number[] {
    const { hits } = model;
    const step = hits.step[hit];
    if (step === none) return [hit];
    const same = [...model.hitsOf(channel)].filter(
      (other) =>
        hits.step[other] === step && hits.track[other] === hits.track[hit] && model.whyOf(other) === null,
    );
    return same.length === 0 ? [hit] : evenlyWithEnds(same, mostStrokes);
  }

  /** The track in which most of a channel's strokes are heard. */
  function trackOf(channel: string): number | null {
    const counts = new Map<number, number>();
    for (const hit of model.hitsOf(channel)) {
      const track = model.hits.track[hit];
      if (track !== none) counts.set(track, (counts.get(track) ?? 0) + 1);
    }
    const most = [...counts].sort(([, a], [, b]) => b - a).at(0);
    return most === undefined ? null : most[0];
  }

  function aloneIn(channel: string, track: number, { fromS, toS }: Span): Span[] {
    const { timeS } = model.hits;
    const near = [...timeS.keys()].filter(
      (i) => model.hits.track[i] === track && timeS[i] > fromS - 1 && timeS[i] < toS + 1,
    );
    const times = (isOwn: boolean) =>
      near.filter((i) => (model.channelOf(i) === channel) === isOwn).map((i) => timeS[i]);
    return soundsAlone(times(true), times(false));
  }
}

function wantsOf(track: number, { fromS, toS }: Span): ClipWant[] {
  // Alike long, and so never longer by a rounding than a clip may be.
  const count = Math.floor((toS - fromS) / longestClipS) + 1;
  const lengthS = (toS - fromS) / count;
  return Array.from({ length: count }, (_, k) => ({
    track,
    fromS: fromS + k * lengthS,
    toS: Math.min(toS, fromS + (k + 1) * lengthS),
  }));
}
