/**
 * What of a track each strike sounds by itself, as hearing learnt it. A gong still rings when the next striker comes: cut
 * where that one begins, its ring would jump to another place, and what lies before an attack would sound like one. So a
 * strike's own sound, tail and bleed, moves as a whole, and only what no voice explains is cut.
 *
 * Tried and left: taking each strike off in its own colour, which moves nothing nearer; leaving uncut what no voice
 * explains, for a tenth of a strike that stays behind is heard as its beginning.
 */
import { bisectLeft } from 'd3-array';
import { strikesHeard } from '../hits/hear.ts';
import type { SavedVoice } from '../hits/learn/saved-voice.ts';
import { learnTails } from '../hits/learn/tails.ts';
import { addVoice, soundsUntil, type Voice } from '../hits/learn/voice.ts';
import type { Frame } from '../hits/signal/clip.ts';
import type { Machine } from '../machine/machine.ts';
import type { Run } from '../ports.ts';
import type { Report } from '../results/results.ts';
import type { Take } from '../take/take.ts';
import { changeOf } from './hear-before.ts';

/** One strike's sound on one track. */
export interface OwnSound {
  readonly voice: Voice;
  readonly frame: Frame;
  /** Sample of the track at which the voice's frame starts. */
  readonly at: number;
  readonly gain: number;
  /** s; where it begins to sound */
  readonly timeS: number;
  /** s; positive is later */
  readonly byS: number;
}

/** The same strike on the same track was timed so well, s. */
const sameS = 0.001;
/** As bleed it comes so much later, s: 5 m of air. Saved voices that the report did not know shift it by less. */
const bleedS = 0.015;

/** Hearing leaves a tail where it does no more harm; what moves is all that can be told of it, so far below the background's power. */
const heardInRing = 1e-3;

/** Each track's strikes that the report names, ascending, with how far its advice moves them. @throws the signal's reason */
export async function ownSounds(
  take: Take,
  machine: Machine,
  report: Report,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<OwnSound[][]> {
  const change = changeOf(report.advice);
  const hits = [...report.hits].sort((a, b) => a.timeS - b.timeS);
  const times = Float64Array.from(hits, (hit) => hit.timeS);
  const { channels } = machine.description;
  const heard = await strikesHeard(take, machine, run, saved);
  const own: OwnSound[][] = [];
  for (const [t, { strikes, voices, frame, sources, background }] of heard.entries()) {
    run.signal?.throwIfAborted();
    const ringing = background
      ? await learnTails({ track: take.tracks[t], voices, background, frame }, [strikes], heardInRing)
      : voices;
    own.push(
      strikes.flatMap(({ voice, timeS, at, gain }): OwnSound[] => {
        const id = channels[sources[voice]]?.id;
        const near = hits.slice(bisectLeft(times, timeS - bleedS), bisectLeft(times, timeS + bleedS));
        // Another channel's may have been struck with it; and a person may have given it another name.
        const hit =
          near.find((one) => one.channel === id) ??
          near.find((one) => one.track === t && Math.abs(one.timeS - timeS) < sameS);
        if (hit === undefined) return [];
        return [{ voice: ringing[voice], frame, at, gain, timeS, byS: change(hit.channel, hit.sector) }];
      }),
    );
  }
  return own;
}

/**
 * Adds sounds to a stretch of their track whose first sample is the track's `offset`.
 *
 * @param times how strongly: −1 takes them off
 * @param moved each where its hit is sent, not where it is
 */
export function addSounds(
  samples: Float64Array,
  offset: number,
  sounds: readonly OwnSound[],
  times: number,
  moved: boolean,
): void {
  for (const { voice, frame, at, gain, byS } of sounds) {
    const from = at + (moved ? byS * frame.sampleRate : 0) - offset;
    if (from < samples.length && from + soundsUntil(voice) > 0)
      addVoice(samples, voice, frame, from, times * gain);
  }
}
