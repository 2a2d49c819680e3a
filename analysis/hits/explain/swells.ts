/**
 * Hears again the channels that swell. A frame sees a part of a slow rise, each moment another one, so such a channel is
 * heard too late, seldom, or in several pieces. Where the other channels show how the barrel turned, the pattern says when it
 * is due: its sound is then learnt over all its length (learn/swell.ts), every strike laid on it, and its beginning told from
 * all of its rise.
 */
import type { RoughRotation } from '../../rotation/rotation.ts';
import { roughRotationOf } from '../../rotation/of-take.ts';
import type { Track } from '../../take/take.ts';
import type { TakeContext } from '../context.ts';
import { perceivedDelay } from '../instants.ts';
import type { Labelled } from '../expect/by-rhythm.ts';
import { nearestWithin, strokesExpected } from '../expect/expected.ts';
import { nobody } from '../expect/label.ts';
import { faintest, learnSwell, quietS, type LearntSwell } from '../learn/swell.ts';
import { swellBeginning } from '../learn/swell-beginning.ts';
import { voiceFromWaveform, type Voice } from '../learn/voice.ts';
import type { Rejected } from '../select/rejected.ts';
import { momentOfStrikeS, type Strike } from './strike.ts';
import type { TrackStrikes } from './track.ts';

/** A beginning that is known to less than this, s, may be that of a swell; of sharp sounds at 30 dB it is known to some µs. */
const vagueS = 0.0003;
/** And so may be that of a channel of which less than this share was heard and that rises to −10 dB in more than this, s. */
const mostHeard = 0.95;
const slowS = 0.003;
/** A strike heard is one of those due within this, s: channels lie up to 40 ms off, and swells are heard late. */
const heardWithinS = 0.08;
/** What rises to −6 dB within this, s, lies in a frame with room to spare, and is heard well there … */
const quickS = 0.008;
/** … so it is heard anew only where less than this share of its strikes was heard before. */
const hardlyHeard = 0.5;
/** Strikes enough to tell a template from what else sounds. */
const fewest = 6;
/** Least cosine of a strike with the template (noise gives 0.3), and least share of the due strokes that must have such a strike. */
const alike = 0.5;
const mostly = 0.6;

export async function withSwells(labelled: Labelled, context: TakeContext): Promise<Labelled> {
  const { take, machine, run } = context;
  const slow = channelsInDoubt(labelled, context);
  if (slow.size === 0) return labelled;
  const rotation = rotationWithout(slow, labelled, context);
  if (rotation === null) return labelled;
  const heard = [...labelled.heard];
  const labels = [...labelled.labels];
  for (const [t, track] of take.tracks.entries())
    for (const channel of track.channels.filter((c) => slow.has(c))) {
      run.signal?.throwIfAborted();
      const dueS = strokesExpected(track, machine, rotation, () => new Float64Array())
        .filter((stroke) => stroke.channel === channel)
        .map(({ timeS }) => timeS);
      if (dueS.length < fewest) continue;
      const before = heard[t].strikes.filter(({ voice }) => labels[t][voice] === channel);
      const near = Float64Array.from(before, ({ timeS }) => timeS);
      const met = dueS.filter((s) => nearestWithin(near, s, heardWithinS) >= 0).length;
      const found = await again({ heard: heard[t], labels: labels[t], track }, channel, dueS, met);
      if (found === null) continue;
      heard[t] = found.heard;
      labels[t] = found.labels;
    }
  return { ...labelled, heard, labels };
}

/** Channels whose beginning is vague, or of which little was heard. */
function channelsInDoubt({ heard, labels }: Labelled, { take, machine }: TakeContext): Set<number> {
  const channels = machine.description.channels.map((_, channel) => channel);
  const own = channels.map((channel) =>
    heard.flatMap(({ voices, strikes, frame }, t) =>
      take.tracks[t].channels.includes(channel)
        ? voices.flatMap((voice, v) =>
            labels[t][v] === channel
              ? [{ voice, frame, strikes: strikes.filter((s) => s.voice === v).length }]
              : [],
          )
        : [],
    ),
  );
  const struck = own.map((list) => list.reduce((sum, { strikes }) => sum + strikes, 0));
  const pins = channels.map((channel) => machine.pins.filter((pin) => pin.channel === channel).length);
  const turns = Math.max(...channels.map((c) => (pins[c] > 0 ? struck[c] / pins[c] : 0)));
  return new Set(
    channels.filter((c) => {
      if (!take.tracks.some((track) => track.channels.includes(c)) || pins[c] === 0) return false;
      if (own[c].some(({ voice }) => voice.envelope !== null)) return false;
      const due = pins[c] * turns;
      return (
        struck[c] < hardlyHeard * due ||
        own[c].some(
          ({ voice, frame }) =>
            !(voice.onsetSd / frame.sampleRate < vagueS) ||
            (struck[c] < mostHeard * due && perceivedDelay(voice, frame) > slowS),
        )
      );
    }),
  );
}

/** How the barrel turned, by the channels that are surely heard; null where they do not tell. */
function rotationWithout(
  slow: ReadonlySet<number>,
  { heard, labels }: Labelled,
  { take, machine }: TakeContext,
): RoughRotation | null {
  const moments = heard.flatMap(({ strikes }, t) =>
    strikes.flatMap(({ timeS, voice }) => {
      const channel = labels[t][voice];
      return channel === nobody || slow.has(channel) ? [] : [{ timeS, channels: [channel] }];
    }),
  );
  const rotation = roughRotationOf(take, machine, moments);
  return rotation.found && rotation.settledBy !== 'unsettled' ? rotation : null;
}

interface Again {
  readonly heard: TrackStrikes;
  readonly labels: readonly number[];
}

/**
 * @param heardBefore how many of the strokes that are due were heard already
 * @returns null where nothing swells there, or nothing is heard of it
 */
async function again(
  { heard, labels, track }: Again & { readonly track: Track },
  channel: number,
  dueS: readonly number[],
  heardBefore: number,
): Promise<Again | null> {
  const { background, frame } = heard;
  if (background === null) return null;
  const { sampleRate } = frame;
  const others = heard.strikes.filter(
    ({ voice }) =>
      labels[voice] !== channel && labels[voice] !== nobody && heard.voices[voice].envelope === null,
  );
  const scene = { track, frame, background, voices: heard.voices };
  const swell = await learnSwell(
    scene,
    others,
    dueS.map((timeS) => Math.round(timeS * sampleRate)),
  );
  if (swell === null) return null;
  const sounding = swell.strikes.filter(({ like }) => like >= alike).length;
  if (sounding < mostly * dueS.length) return null;
  const begins = swellBeginning(swell.wave, Math.round(quietS * sampleRate), sampleRate);
  if (begins.rise < quickS * sampleRate && heardBefore >= hardlyHeard * sounding) return null;
  const voice = voiceOf(swell, begins, background, frame);
  const index = heard.voices.length;
  const strikes = swell.strikes
    .filter(({ like, gain }) => like >= alike && gain >= faintest)
    .map(({ at, gain, sd, like }): Strike => ({
      timeS: (at + begins.at) / sampleRate,
      timeSdS: sd / sampleRate,
      voice: index,
      at: at + begins.at - voice.onset,
      gain,
      peak: gain * voice.peak,
      like,
    }));
  return {
    heard: {
      ...heard,
      voices: [...heard.voices, voice],
      sources: heard.sources && [...heard.sources, channel],
      strikes: [...heard.strikes.filter(({ voice: v }) => labels[v] !== channel), ...strikes].sort(
        (a, b) => a.timeS - b.timeS || a.voice - b.voice,
      ),
      rejected: [...heard.rejected, ...withinRise(heard, strikes, begins.toPeak / sampleRate)],
    },
    labels: [...labels.map((label) => (label === channel ? nobody : label)), channel],
  };
}

/** The swell as a voice: what a frame holds of it from its beginning on. */
function voiceOf(
  { wave, strikes }: LearntSwell,
  begins: { readonly at: number; readonly sd: number },
  background: NonNullable<TrackStrikes['background']>,
  frame: TrackStrikes['frame'],
): Voice {
  const from = Math.round(begins.at) - frame.pre;
  const waveform = Float64Array.from({ length: frame.n }, (_, i) => wave[from + i] ?? 0);
  const voice = voiceFromWaveform(waveform, background, frame, {
    onset: begins.at - from,
    onsetSd: begins.sd,
    count: strikes.length,
    spread: () => 0,
  });
  return { ...voice, peak: wave.reduce((top, x) => Math.max(top, Math.abs(x)), 0) };
}

/** The moments at which a strike that goes on rising was noticed: they are its own. */
function withinRise({ moments, frame }: TrackStrikes, strikes: readonly Strike[], riseS: number): Rejected[] {
  return [...moments].flatMap((at): Rejected[] => {
    const timeS = at / frame.sampleRate;
    const strike = strikes.find(
      (one) => timeS > one.timeS + momentOfStrikeS && timeS < one.timeS + riseS + momentOfStrikeS,
    );
    return strike ? [{ strike: { ...strike, timeS }, why: 'same strike' }] : [];
  });
}
