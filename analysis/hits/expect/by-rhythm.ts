/** Whose the voices of a take are: by the track where a channel has one to itself, by rhythm where several share one. */
import type { Strike } from '../explain/strike.ts';
import type { Machine } from '../../machine/machine.ts';
import { meantMs } from '../../machine/target.ts';
import { wrappedStep } from '../../machine/pattern.ts';
import { endlessPattern } from '../../rotation/pattern.ts';
import type { RoughRotation } from '../../rotation/rotation.ts';
import { roughRotationOf } from '../../rotation/of-take.ts';
import type { Take, Track } from '../../take/take.ts';
import type { Expectation } from '../explain/explain.ts';
import { ownVoices } from '../select/alone.ts';
import type { UnknownSound } from '../hits.ts';
import { named, unknownSounds } from './named.ts';
import type { TakeContext } from '../context.ts';
import { labelVoices, nobody } from './label.ts';
import { hearAgain, type TrackStrikes } from '../explain/track.ts';

/** What the tracks heard, and whose each voice is. */
export interface Labelled {
  readonly heard: readonly TrackStrikes[];
  /** For each track, for each of its voices, a channel index, or −1 where it is nobody's. */
  readonly labels: readonly (readonly number[])[];
  /** Sounds to ask a person about. */
  readonly unknown: readonly UnknownSound[];
}

/** Tells whose the voices are, and hears tracks that several channels share again with that knowledge. */
export async function byRhythm(context: TakeContext, heard: readonly TrackStrikes[]): Promise<Labelled> {
  const { take, machine, run } = context;
  const alone = ownVoices(heard, take);
  if (take.tracks.every((track) => track.channels.length === 1)) return { heard, labels: alone, unknown: [] };
  const rotation = roughRotation(heard, alone, take, machine);
  const toldOf = (t: number, rhythmic: readonly number[]) =>
    take.tracks[t].channels.length === 1 ? [...rhythmic] : named(heard[t], take.tracks[t], rhythmic, context);
  const askAbout = (labels: readonly (readonly number[])[]) =>
    heard.flatMap((each, t) =>
      take.tracks[t].channels.length === 1 ? [] : unknownSounds(each, t, labels[t]),
    );
  if (!rotation.found) {
    const labels = alone.map((byTrack, t) => toldOf(t, byTrack));
    return { heard, labels, unknown: askAbout(labels) };
  }
  const all: number[][] = [];
  const again: TrackStrikes[] = [];
  const labels: (readonly number[])[] = [];
  for (const [t, track] of take.tracks.entries()) {
    if (track.channels.length === 1) {
      again.push(heard[t]);
      labels.push(alone[t]);
      all.push(alone[t]);
      continue;
    }
    const told = toldOf(t, labelVoices(heard[t], track, machine, rotation));
    all.push(told);
    const known = heard[t].voices.flatMap((_, v) => (told[v] === nobody ? [] : [v]));
    const kept: TrackStrikes = {
      ...heard[t],
      voices: known.map((v) => heard[t].voices[v]),
      strikes: heard[t].strikes.flatMap((strike) =>
        told[strike.voice] === nobody ? [] : [{ ...strike, voice: known.indexOf(strike.voice) }],
      ),
      rejected: [],
    };
    const own = known.map((v) => told[v]);
    const { due, unheard } = expectations(kept, own, track, machine, rotation);
    again.push(await hearAgain(track, kept, due, unheard, run));
    labels.push(own);
  }
  return { heard: again, labels, unknown: askAbout(all) };
}

/** A strike may be this much of a step from where its pin is due. */
const nearStep = 0.4;

/** Where the pattern expects a track's voices, and where nothing was heard though something was due. */
function expectations(
  heard: TrackStrikes,
  labels: readonly number[],
  track: Track,
  machine: Machine,
  rotation: RoughRotation,
) {
  const { steps } = machine.description.barrel;
  const pattern = endlessPattern(machine, []);
  const targets = new Map(
    machine.pins.map(({ channel, step, targetMs = 0 }) => [`${channel} ${step}`, targetMs]),
  );
  const usualMs = machine.description.channels.map((_, c) => meantMs(machine, c, null));
  /** What is meant of a channel as a whole is in its lateness against the rotation already. */
  const timeOf = (channel: number, position: number) => {
    const step = wrappedStep(position, steps);
    const apartMs = (targets.get(`${channel} ${step}`) ?? usualMs[channel]) - usualMs[channel];
    return rotation.timeAt(position) + rotation.offsetS[channel] + apartMs / 1000;
  };
  const due = (voice: number, timeS: number): Expectation => {
    const position = rotation.positionAt(timeS);
    const near = pattern.nearest(labels[voice], position);
    return Math.abs(position - near) <= nearStep ? timeOf(labels[voice], near) : 'astray';
  };
  const durationS = track.length / track.sampleRate;
  const first = Math.ceil(rotation.positionAt(0));
  const last = Math.floor(rotation.positionAt(durationS));
  const seen = new Set(
    [...heard.moments].map((at) => Math.round(rotation.positionAt(at / track.sampleRate))),
  );
  const channels = [...new Set(labels)];
  const unheard: number[] = [];
  for (let place = first; place <= last; place++)
    for (const channel of channels) {
      const pin = pattern.nearest(channel, place);
      if (seen.has(place) || Math.round(pin) !== place) continue;
      const timeS = timeOf(channel, pin);
      if (timeS > 0 && timeS < durationS) unheard.push(timeS);
    }
  return { due, unheard };
}

/** Voices learnt from fewer strikes than this share of the commonest voice's are too often what was left of others. */
const telling = 0.2;
/** What is 14 dB weaker than what sounds at the same time is mostly what was left of it. */
const shadow = 5;
const simultaneousS = 0.006;

function shadowed(strike: Strike, i: number, all: readonly Strike[]): boolean {
  const covers = (other: Strike) => other.peak > shadow * strike.peak;
  for (let j = i - 1; j >= 0 && strike.timeS - all[j].timeS < simultaneousS; j--)
    if (covers(all[j])) return true;
  for (let j = i + 1; j < all.length && all[j].timeS - strike.timeS < simultaneousS; j++)
    if (covers(all[j])) return true;
  return false;
}

/** How the barrel turned, as far as strikes tell that may each be of several channels. */
function roughRotation(
  heard: readonly TrackStrikes[],
  alone: readonly (readonly number[])[],
  take: Take,
  machine: Machine,
): RoughRotation {
  const strikes = heard.flatMap((track, t) => {
    const { channels } = take.tracks[t];
    const enough = telling * Math.max(0, ...track.voices.map((voice) => voice.count));
    return track.strikes
      .filter((strike) => track.voices[strike.voice].count >= enough)
      .filter((strike) => channels.length > 1 || alone[t][strike.voice] === channels[0])
      .filter((strike, i, all) => !shadowed(strike, i, all))
      .map((strike) => ({ timeS: strike.timeS, channels }));
  });
  return roughRotationOf(take, machine, strikes);
}
