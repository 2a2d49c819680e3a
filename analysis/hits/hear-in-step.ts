/**
 * A take heard with its files in step: clocks found, the hearing done on files laid side by side, and what was heard put
 * back to the first file's clock, on which all later times count.
 */
import { withCodingErrors } from './coding-error.ts';
import { inStep, markersBy, type InStep } from '../clocks/in-step.ts';
import { hear, learnVoices, type LearntVoices } from './hear.ts';
import type { Hearing } from './hits.ts';
import type { SavedVoice } from './learn/saved-voice.ts';
import type { Machine } from '../machine/machine.ts';
import type { Run } from '../ports.ts';
import type { FileClock } from '../take/clock.ts';
import type { Take, Track } from '../take/take.ts';

export interface HeardTake {
  /** Markers and tracks by the first file's clock, with what is known of the others'. */
  readonly take: Take;
  readonly hearing: Hearing;
}

/**
 * What lossy codecs leave unknown of the strikes' times is in the hearing.
 *
 * @throws the signal's reason when the run is stopped
 */
export async function hearInStep(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<HeardTake> {
  const heard = await heardByClocks(take, machine, run, saved);
  const channels = machine.description.channels.length;
  return { ...heard, hearing: withCodingErrors(heard.hearing, heard.take, channels) };
}

async function heardByClocks(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[],
): Promise<HeardTake> {
  const laid = await inStep(take, run);
  const { clocks } = laid;
  if (laid.take === take) {
    const known = clocks.length === 0 ? take : { ...take, clocks };
    return { take: known, hearing: await hear(take, machine, run, saved) };
  }
  const hearing = await hear(laid.take, machine, run, voicesFor(laid.take, saved));
  return { take: onFirstClock(take, clocks), hearing: putBack(hearing, laid) };
}

/** What a take teaches of how its channels sound, as `learnVoices` has it, with the rates that the files say. */
export async function voicesInStep(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<LearntVoices> {
  const laid = await inStep(take, run);
  if (laid.take === take) return learnVoices(take, machine, run, saved);
  const learnt = await learnVoices(laid.take, machine, run, voicesFor(laid.take, saved));
  const asFiled = learnt.saved.map((voice) => {
    const track = laid.take.tracks.findIndex(({ sampleRate }) => sampleRate === voice.sampleRate);
    return { ...voice, sampleRate: take.tracks[track].sampleRate };
  });
  return { ...learnt, saved: asFiled };
}

/** The take whose markers and tracks count by the first file's clock: a track's time 0 is the first file's. */
export function onFirstClock(take: Take, clocks: readonly FileClock[]): Take {
  return {
    ...take,
    markers: markersBy(take.markers, clocks, 0),
    tracks: take.tracks.map((track) => fromFirst(track, clocks)),
    clocks,
  };
}

function fromFirst(track: Track, clocks: readonly FileClock[]): Track {
  const clock = clocks.find(({ file }) => file === track.file);
  if (!clock || (clock.startS === 0 && clock.drift === 0)) return track;
  const { startS, drift } = clock;
  const endS = startS + (track.length * (1 + drift)) / track.sampleRate;
  const at = (sample: number) => Math.round((sample - startS * track.sampleRate) / (1 + drift));
  return {
    ...track,
    length: Math.max(0, Math.round(endS * track.sampleRate)),
    read: (from, to) => track.read(at(from), at(from) + to - from),
  };
}

/** A track whose clock was set right has a rate that no voice was saved at; by a thousandth it is the same. */
function voicesFor({ tracks }: Take, saved: readonly SavedVoice[]): SavedVoice[] {
  const rates = [...new Set(tracks.map(({ sampleRate }) => sampleRate))];
  return saved.flatMap((voice) => {
    const near = rates.filter(
      (rate) => rate !== voice.sampleRate && Math.abs(rate / voice.sampleRate - 1) < 1e-3,
    );
    return [voice, ...near.map((sampleRate) => ({ ...voice, sampleRate }))];
  });
}

function putBack(hearing: Hearing, { fromS, restS }: InStep): Hearing {
  const { hits } = hearing;
  const timeS = hits.timeS.map((time, i) => time + fromS + (hits.track[i] < 0 ? 0 : restS[hits.track[i]]));
  // Less than a sample apart, two tracks' hits may change places.
  const order = [...timeS.keys()].sort((a, b) => timeS[a] - timeS[b] || a - b);
  return {
    ...hearing,
    hits: {
      count: hits.count,
      timeS: Float64Array.from(order, (i) => timeS[i]),
      timeSdS: Float64Array.from(order, (i) => hits.timeSdS[i]),
      track: Int32Array.from(order, (i) => hits.track[i]),
      channel: Int32Array.from(order, (i) => hits.channel[i]),
      levelDb: Float32Array.from(order, (i) => hits.levelDb[i]),
      why: order.map((i) => hits.why[i]),
    },
    dropped: hearing.dropped?.map((one) => ({ ...one, timeS: one.timeS + fromS })),
    unknown: hearing.unknown?.map((sound) => ({ ...sound, timeS: sound.timeS + fromS })),
  };
}
