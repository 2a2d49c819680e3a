/**
 * Hearing the advice before the machine is taken apart: some seconds of the take from the chosen stroke on, as they are and
 * with every hit where it is predicted. The sound is asked for in clips and made here.
 */
import { changeOf, movedPart, piecesOf, reachOf } from '../../analysis/report/hear-before.ts';
import { type ClipWant, longestClipS, mostClips } from '../protocol/messages.ts';
import type { Context } from './context.ts';
import { stitched } from './ear-mix.ts';
import { button, make } from './element.ts';
import { Player } from './sound.ts';

/** Long enough for a few beats, short enough to hear both one after the other. */
const longestS = 8;
/** Heard before the first hit, so that its start is not cut. */
const leadS = 0.3;

export interface HearButtons {
  readonly element: HTMLElement;
  /** Ends their sound. */
  end(): void;
}

export function hearButtons(context: Context): HearButtons {
  const { model, editor } = context;
  const player = new Player(editor);
  const said = make('span', { class: 'quiet', role: 'status' });
  const tracks = model.head.tracks;
  const element = make('p', { class: 'actions hear' });
  if (tracks.length === 0) return { element, end: () => undefined };
  element.append(
    button('Hear it as it is', () => void play(false), { class: 'plain' }),
    button('Hear it as advised', () => void play(true), { class: 'plain' }),
  );
  if (model.message.mayChange)
    element.append(
      button('Write both as WAVE files', () => editor.send({ kind: 'hear', run: editor.run }), {
        class: 'plain',
      }),
    );
  element.append(said);
  return { element, end: () => player.end() };

  async function play(moved: boolean): Promise<void> {
    said.textContent = '';
    player.ready();
    const { hits } = model;
    const { hit } = context.choice;
    const startS = Math.max(0, (hit === null ? (hits.timeS[0] ?? 0) : hits.timeS[hit]) - leadS);
    const perTrack = Math.floor(mostClips / tracks.length);
    if (perTrack === 0) {
      said.textContent = 'There are too many tracks to hear at once; write both as WAVE files.';
      return;
    }
    const change = changeOf(context.adviceNow ?? model.head.advice);
    const cut = tracks.map((_, t) =>
      piecesOf(
        [...hits.timeS.keys()]
          .filter((i) => hits.track[i] === t)
          .map((i) => ({ timeS: hits.timeS[i], byS: change(model.channelOf(i), model.sectorOf(i)) })),
      ),
    );
    const reachS = Math.max(...cut.map((pieces, t) => reachOf(pieces, tracks[t].sampleRate))) + 0.001;
    const lengthS = Math.min(longestS, perTrack * longestClipS - 2 * reachS);
    const [fromS, toS] = [Math.max(0, startS - reachS), startS + lengthS + reachS];
    const parts = Math.ceil((toS - fromS) / longestClipS);
    const wants = tracks.flatMap((_, track) =>
      Array.from({ length: parts }, (_, k): ClipWant => {
        const from = fromS + k * longestClipS;
        return { track, fromS: from, toS: Math.min(toS, from + longestClipS) };
      }),
    );
    const { clips, why } = await editor.clips(null, wants);
    const sampleRate = clips.find((clip) => clip !== null)?.sampleRate;
    if (sampleRate === undefined) {
      said.textContent = why ?? 'There is no sound at this time.';
      return;
    }
    if (clips.some((clip) => clip !== null && clip.sampleRate !== sampleRate)) {
      said.textContent = 'The tracks were recorded at different rates and cannot be heard together.';
      return;
    }
    const from = Math.round(startS * sampleRate);
    const mix = { before: new Float32Array(Math.round(lengthS * sampleRate)), after: new Float32Array(0) };
    mix.after = new Float32Array(mix.before.length);
    tracks.forEach((_, t) => {
      const offset = Math.round(fromS * sampleRate);
      const length = Math.ceil((toS - fromS) * sampleRate) + 1;
      const own = clips.slice(t * parts, (t + 1) * parts);
      const samples = stitched(own, sampleRate, offset / sampleRate, length);
      const after = movedPart(cut[t], sampleRate, samples, offset, [from, from + mix.after.length]);
      for (let i = 0; i < mix.after.length; i++) {
        mix.before[i] += samples[from - offset + i];
        mix.after[i] += after[i];
      }
    });
    // One gain for both, so that they compare.
    let peak = 1e-9;
    for (const value of [mix.before, mix.after]) for (const x of value) peak = Math.max(peak, Math.abs(x));
    const gain = 0.9 / peak;
    player.start([(moved ? mix.after : mix.before).map((x) => gain * x)], sampleRate);
    said.textContent = moved ? 'Playing as advised' : 'Playing as it is';
  }
}
